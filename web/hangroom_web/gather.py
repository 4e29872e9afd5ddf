"""Collecting, for one request, what the pure views need: the board and what the database adds."""

from datetime import timedelta

from sqlite_utils import Database

from hangroom.errors import StoreError
from hangroom.store.history import last_seen_at, newest_readings
from hangroom.store.requests import Kind, Outcome, Request, newest_request
from hangroom_web.site import Site, live_board, records, site
from hangroom_web.status import Status, status_of
from hangroom_web.words import _

# How long the answer to a wish stays on the page.
ANSWER_SHOWN_FOR = timedelta(minutes=10)


def room_status() -> Status:
    """Return what may be shown of all rooms now, with or without a database."""
    here, board = site(), live_board()
    try:
        with records() as db:
            return status_of(
                here,
                board,
                last_seen_at=last_seen_at(db),
                kept=newest_readings(db) if board is None else None,
                asked=_asked(db, here),
            )
    except StoreError as fault:
        return status_of(here, board, records_fault=str(fault))


def _asked(db: Database, here: Site) -> dict[str, str]:
    wishes = {room: newest_request(db, room, Kind.HUMIDITY_SETPOINT) for room in here.settings.room}
    return {
        room: _what_became_of(wish, here)
        for room, wish in wishes.items()
        if wish is not None and here.now() - wish.asked_at < ANSWER_SHOWN_FOR
    }


def _what_became_of(wish: Request, here: Site) -> str:
    wanted = _("You asked for {value:g} %").format(value=wish.body.get("value", float("nan")))
    match wish.outcome:
        case Outcome.APPLIED:
            return _("{wanted}: done. {answer}").format(wanted=wanted, answer=wish.answer)
        case Outcome.REFUSED:
            return _("{wanted}: refused. {answer}").format(wanted=wanted, answer=wish.answer)
        case None if here.now() < wish.expires_at:
            return _("{wanted}: waiting for the controller.").format(wanted=wanted)
        case None:
            return _("{wanted}: the controller did not answer. Nothing was changed.").format(
                wanted=wanted
            )
