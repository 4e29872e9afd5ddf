"""Collecting, for one request, what the pure views need: the board and what the database adds."""

from flask import request

from hangroom.errors import StoreError
from hangroom.store.batches import batch_ids
from hangroom.store.deliveries import carried_on
from hangroom.store.history import last_seen_at, newest_readings, sensors_read
from hangroom.store.notices import channels
from hangroom.store.proofs import proofs, proved
from hangroom_web.first_minutes import Known, Step, steps
from hangroom_web.site import live_board, records, site
from hangroom_web.status import Status, StripLine, banner_of, status_of
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


def banner() -> StripLine | None:
    """Return what every page says on top at this moment; None for nothing."""
    here, board = site(), live_board()
    if board is not None:
        return banner_of(here, board)
    try:
        with records() as db:
            return banner_of(here, None, last_seen_at=last_seen_at(db))
    except StoreError:
        return banner_of(here, None)


def first_steps() -> list[Step]:
    """Return what is left to do in a new house; empty once all of it is done."""
    tables, board = site().settings.room, live_board()
    try:
        with records() as db:
            ways = channels(db)
            known = Known(
                read=sensors_read(db),
                proved=proved(proofs(db)),
                begun=bool(batch_ids(db)),
                channels=bool(ways),
                delivered=any(carried_on(db, way.name).last_delivered_at for way in ways),
            )
    except StoreError:
        known = Known()  # the status carries it as a trouble
    return steps(tables, board, known)
