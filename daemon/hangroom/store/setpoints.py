"""Setpoints asked for on the page, one per room and stage: the daemon's table.

Everything here is done in the caller's transaction.
"""

from datetime import datetime

from sqlite_utils import Database

from hangroom.store.moments import to_ms
from hangroom.terms import Stage


def keep_setpoint(
    db: Database, *, room: str, stage: Stage, what: str, value: float, set_by: str, now: datetime
) -> None:
    """Store a setpoint that has passed its checks."""
    db.execute(
        "insert or replace into setpoint values (?, ?, ?, ?, ?, ?)",
        (room, str(stage), what, value, to_ms(now), set_by),
    )


def setpoints(db: Database) -> dict[tuple[str, Stage, str], float]:
    """Return every stored setpoint by (room, stage, what)."""
    rows = db.execute("select room, stage, what, value from setpoint")
    return {(room, Stage(stage), what): value for room, stage, what, value in rows}
