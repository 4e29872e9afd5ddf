"""What runs for a while and outlasts a restart: when it began, on both clocks.

The monotonic time tells how much of it is over, whatever the wall clock does meanwhile. It means
nothing after a boot; then the wall times tell, as far as they are known to be right.
"""

from dataclasses import dataclass
from datetime import datetime

from sqlite_utils import Database

from hangroom.store.moments import to_ms

TABLES = ("stage_run", "override")


@dataclass(frozen=True, slots=True, kw_only=True)
class Instant:
    """One moment on both clocks: wall time (aware, UTC) and seconds of the boot of that name."""

    now: datetime
    uptime_s: float
    boot_id: str


def began_columns(since_uptime_s: float, at: Instant) -> tuple[str, int, int]:
    """Return boot_id, since_uptime_ms and since_ms of what began at a moment of this boot."""
    return (
        at.boot_id,
        round(1000 * since_uptime_s),
        to_ms(at.now) - round(1000 * (at.uptime_s - since_uptime_s)),
    )


def count_in_this_boot(db: Database, at: Instant) -> None:
    """Let what began in an earlier boot count on, with the time between as far as it is known.

    A wall clock that stands before the last note of that boot tells nothing about the time
    between, so only what was certainly lived through counts then.
    """
    last = db.execute(
        "select last_ms from run where boot_id <> ? order by id desc limit 1", (at.boot_id,)
    ).fetchone()
    now_ms = to_ms(at.now)
    given = {
        "boot": at.boot_id,
        "uptime_ms": round(1000 * at.uptime_s),
        "seen_ms": max(now_ms, last[0]) if last else now_ms,
    }
    for table in TABLES:
        db.execute(
            f"update {table} set boot_id = :boot,"  # noqa: S608 - the names are this file's own
            " since_uptime_ms = :uptime_ms - max(0, :seen_ms - since_ms) where boot_id <> :boot",
            given,
        )
    follow_the_wall_clock(db, at)


def follow_the_wall_clock(db: Database, at: Instant) -> None:
    """Let the wall times agree with a clock that was set, so that a later boot counts from them."""
    for table in TABLES:
        db.execute(
            f"update {table} set since_ms = since_uptime_ms + ?",  # noqa: S608 - the same
            (to_ms(at.now) - round(1000 * at.uptime_s),),
        )
