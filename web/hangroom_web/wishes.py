"""Asking the daemon for something, and saying what became of it."""

import secrets
from collections.abc import Callable, Mapping
from datetime import timedelta

from flask import request
from sqlite_utils import Database

from hangroom.store.live import read_board
from hangroom.store.requests import Kind, Outcome, Request, Word, ask, request_by_number
from hangroom_web.site import records, site
from hangroom_web.words import _

# The daemon looks every two seconds and shows what came of it two seconds later: most wishes are
# answered, and their effect is there to be seen, before the next page is.
WAIT_S = 5.0
LOOK_EVERY_S = 0.2

# How long the answer to a wish stays on the page.
ANSWER_SHOWN_FOR = timedelta(minutes=10)

# More digits than any wish has, and few enough for the database.
LONGEST_NUMBER = 15


def wish(kind: Kind, room: str, body: Mapping[str, Word], *, asked_by: str) -> int:
    """Store the wish of this request's form, wait a moment for what comes of it, return its number.

    The form's `key` makes it one wish however often it is sent.
    """
    clock = site().clock
    with records() as db:
        number = ask(
            db,
            key=request.form.get("key") or secrets.token_hex(16),
            kind=kind,
            room=room,
            body=body,
            asked_by=asked_by,
            now=site().now(),
        )
        given_up_s = clock.uptime_s() + WAIT_S

        def wait_while(waits: Callable[[], bool]) -> None:
            while waits() and clock.uptime_s() < given_up_s:
                clock.wait_until(clock.uptime_s() + LOOK_EVERY_S)

        wait_while(lambda: _outcome(db, number) is None)
        if _outcome(db, number) is Outcome.APPLIED:
            before_s = _board_uptime_s()
            wait_while(lambda: _board_uptime_s() == before_s)
    return number


def asked_for(db: Database, number: str | None) -> tuple[str, str] | None:
    """Return the room of a wish by its number from the address, and what became of it.

    None for no number, and for a wish that nobody waits for any more.
    """
    if number is None or not (number.isascii() and number.isdecimal()):
        return None
    told = request_by_number(db, int(number[:LONGEST_NUMBER]))
    if told is None or site().now() - told.asked_at > ANSWER_SHOWN_FOR:
        return None
    return told.room, what_became_of(told)


def what_became_of(told: Request) -> str:
    """Say what the daemon made of a wish, or that it has not answered."""
    match told.outcome:
        case Outcome.APPLIED:
            return _("Done. {answer}").format(answer=told.answer)
        case Outcome.REFUSED:
            return _("Refused. {answer}").format(answer=told.answer)
        case None if site().now() < told.expires_at:
            return _("Waiting for the controller. Look again in a moment.")
        case None:
            return _("The controller did not answer. Nothing was changed.")


def _outcome(db: Database, number: int) -> Outcome | None:
    told = request_by_number(db, number)
    return told.outcome if told else None


def _board_uptime_s() -> float | None:
    board = read_board(site().settings.live_folder())
    return board.uptime_s if board else None
