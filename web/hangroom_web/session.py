"""What a browser may do by its session: look, act, and act on what needs the passphrase fresh."""

from flask import session

from hangroom.errors import StoreError
from hangroom_web.access import access
from hangroom_web.bearer import bears_token
from hangroom_web.site import site
from hangroom_web.words import _

# What changes the rooms or who may, asks for the passphrase again after so long.
ASK_AGAIN_AFTER_S = 15 * 60.0


def logged_in() -> bool:
    """Return whether this browser has given the present passphrase.

    A request that carries an API token acts by that token alone, whatever cookies come with it.
    """
    if bears_token():
        return False
    try:
        held = access(site().settings.store.folder)
    except StoreError:
        return False
    return held.passphrase_hash is not None and session.get("mark") == held.mark


def recently_given() -> bool:
    """Return whether it gave the passphrase within the last quarter of an hour, of this boot."""
    boot_id, given_s = session.get("given", ("", 0.0))
    return (
        boot_id == site().boot_id
        and 0.0 <= site().clock.uptime_s() - given_s < ASK_AGAIN_AFTER_S
        and logged_in()
    )


def may_look() -> bool:
    """Return whether this browser may see what the household keeps."""
    return site().settings.web.looking == "open" or logged_in()


def who() -> str:
    """Return who acts in this browser: the name given at log-in, or the page where none was."""
    return str(session.get("who") or _("the page"))
