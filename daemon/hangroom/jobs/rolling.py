"""Rolling up readings for the pictures of weeks: often what is new, once a night all of it."""

from datetime import datetime
from pathlib import Path

from hangroom.store.database import connect
from hangroom.store.rollups import roll_up


def roll_up_readings(path: Path, *, now: datetime, everything: bool = False) -> int:
    """Roll up the quarters of an hour that are over, and return how many were rolled.

    `everything`: also look through the whole record for what came late.
    """
    db = connect(path)
    try:
        return roll_up(db, now=now, everything=everything)
    finally:
        db.close()
