"""What a sensor read over a salt of known humidity: the daemon's table; every check is kept.

Everything here is done in the caller's transaction.
"""

from dataclasses import dataclass
from datetime import datetime

from sqlite_utils import Database

from hangroom.store.moments import from_ms, to_ms


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptCheck:
    """One check: the salt in the jar, what the sensor read, how warm it was, when and by whom."""

    salt: str
    read_pct: float
    temperature_c: float
    checked_at: datetime
    checked_by: str


def keep_salt_check(db: Database, *, room: str, sensor: str, check: KeptCheck) -> None:
    """Store a check that has passed its own checks."""
    db.execute(
        "insert into salt_check"
        " (room, sensor, salt, read_pct, temperature_c, checked_ms, checked_by)"
        " values (?, ?, ?, ?, ?, ?, ?)",
        (
            room,
            sensor,
            check.salt,
            check.read_pct,
            check.temperature_c,
            to_ms(check.checked_at),
            check.checked_by,
        ),
    )


def forget_salt_checks(db: Database, *, room: str, sensor: str, now: datetime) -> None:
    """Let a sensor's checks count no longer, as when it was exchanged; they stay in the record."""
    db.execute(
        "update salt_check set forgotten_ms = ?"
        " where room = ? and sensor = ? and forgotten_ms is null",
        (to_ms(now), room, sensor),
    )


def salt_checks(db: Database) -> dict[tuple[str, str], tuple[KeptCheck, ...]]:
    """Return the checks that count by (room, sensor), oldest first."""
    found: dict[tuple[str, str], tuple[KeptCheck, ...]] = {}
    for room, sensor, salt, read_pct, temperature_c, checked_ms, by in db.execute(
        "select room, sensor, salt, read_pct, temperature_c, checked_ms, checked_by"
        " from salt_check where forgotten_ms is null order by id"
    ):
        check = KeptCheck(
            salt=salt,
            read_pct=read_pct,
            temperature_c=temperature_c,
            checked_at=from_ms(checked_ms),
            checked_by=by,
        )
        found[room, sensor] = (*found.get((room, sensor), ()), check)
    return found


def newest_check_at(db: Database) -> dict[tuple[str, str], datetime]:
    """Return when each sensor that has a check that counts was checked last."""
    rows = db.execute(
        "select room, sensor, max(checked_ms) from salt_check where forgotten_ms is null"
        " group by room, sensor"
    )
    return {(room, sensor): from_ms(checked_ms) for room, sensor, checked_ms in rows}
