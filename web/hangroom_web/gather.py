"""Collecting, for one request, what the pure views need: the board and what the database adds."""

from flask import request

from hangroom.errors import StoreError
from hangroom.store.history import last_seen_at, newest_readings
from hangroom_web.site import live_board, records, site
from hangroom_web.status import Status, status_of
from hangroom_web.wishes import asked_for


def room_status() -> Status:
    """Return what may be shown of all rooms now, with or without a database.

    The address may name a wish (`asked`): then it is told what became of that one.
    """
    here, board = site(), live_board()
    try:
        with records() as db:
            told = asked_for(db, request.args.get("asked"))
            return status_of(
                here,
                board,
                last_seen_at=last_seen_at(db),
                kept=newest_readings(db) if board is None else None,
                asked=dict([told]) if told else None,
            )
    except StoreError as fault:
        return status_of(here, board, records_fault=str(fault))
