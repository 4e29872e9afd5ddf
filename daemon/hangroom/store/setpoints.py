"""Setpoints asked for on the page: the daemon's table, on the disk before they take effect."""

from datetime import datetime

from sqlite_utils import Database

from hangroom.store.database import durably
from hangroom.store.moments import to_ms


def keep_setpoint(
    db: Database, *, room: str, what: str, value: float, set_by: str, now: datetime
) -> None:
    """Store a setpoint that has passed its checks."""
    with durably(db):
        db.execute(
            "insert or replace into setpoint values (?, ?, ?, ?, ?)",
            (room, what, value, to_ms(now), set_by),
        )


def setpoints(db: Database) -> dict[tuple[str, str], float]:
    """Return every stored setpoint by (room, what)."""
    rows = db.execute("select room, what, value from setpoint")
    return {(room, what): value for room, what, value in rows}
