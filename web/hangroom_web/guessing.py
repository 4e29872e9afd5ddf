"""Looking at a passphrase or a code that was typed: slowly, and not too often."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import cast

from flask import current_app, request, session

from hangroom_web.access import Access, access, edition
from hangroom_web.site import site
from hangroom_web.throttle import Throttle
from hangroom_web.words import _

NOT_IT = _("That is not the passphrase. Nothing was changed.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Guess:
    """What became of a passphrase that was typed: let in by `held`, or what to say and answer."""

    held: Access | None = None
    fault: str = ""
    code: int = 403
    wait_s: int = 0


def guessed(typed: str) -> Guess:
    """Check what was typed, slowly and not too often."""
    held = access(site().settings.store.folder)
    return checked(lambda: held.admits(typed), held, NOT_IT)


def checked(admits: Callable[[], bool], held: Access, not_it: str) -> Guess:
    """Do the same for whatever `admits`; `not_it` says what is wrong where it does not."""
    throttle = cast("Throttle", current_app.extensions["throttle"])
    throttle.forget_if_new(edition(site().settings.store.folder))
    address, known = request.remote_addr or "", str(session.get("known", ""))
    wait_s = throttle.try_after_s(address, uptime_s=site().clock.uptime_s(), known=known)
    if wait_s > 0:
        seconds = math.ceil(wait_s)
        return Guess(fault=say_wait(seconds), code=429, wait_s=seconds)
    if not admits():
        return Guess(fault=not_it)
    throttle.succeeded(address, known=known)
    return Guess(held=held)


def say_wait(seconds: int) -> str:
    """Return how long the next try has to wait."""
    return _("Too many tries. Wait {seconds} s, then try again.").format(seconds=seconds)
