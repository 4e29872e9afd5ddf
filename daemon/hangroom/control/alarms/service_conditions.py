"""From what the loop knows of itself to the raw conditions of the service's own alarms."""

from dataclasses import dataclass

from hangroom.alarm_table.row import AlarmId
from hangroom.control.alarms.bank import Conditions
from hangroom.control.alarms.delays import Raw, Side, above, below, whether

# A failed write stands for what comes until the next try, which is a minute later.
FLUSH_FAILURE_COUNTS_S = 120.0

# With less than either there is little time left before nothing can be written. Our judgement: a
# room writes some 10 MB a day.
LEAST_FREE_BYTES = 200_000_000
LEAST_FREE_PCT = 5.0

# Wall against monotonic clock, from one look to the next. Our judgement.
CLOCK_JUMP_S = 30.0


@dataclass(frozen=True, slots=True)
class DiskSpace:
    """How much of a disk is free to this program, and how large it is."""

    free_bytes: int
    size_bytes: int

    @property
    def free_pct(self) -> float:
        """The share that is free, %."""
        return 100.0 * self.free_bytes / max(1, self.size_bytes)


def service_conditions(
    *,
    flush_failure_age_s: float | None,
    disk: DiskSpace | None,
    clock_jump_s: float | None,
    restart_gap_s: float | None,
) -> Conditions:
    """Return the raw conditions of the service itself at one look.

    `flush_failure_age_s`: how long ago notes could not be written, None where the last try went
    well. `disk`: the one the notes lie on, None where it cannot be asked. `clock_jump_s`: how far
    the wall clock moved since the last look. `restart_gap_s`: at the first look of a program how
    long nothing was recorded, None at every other.
    """
    jump_s, gap_s = clock_jump_s or 0.0, restart_gap_s
    return Conditions(
        raw={
            AlarmId.LOG_FULL: _log_full(flush_failure_age_s, disk),
            AlarmId.CLOCK_JUMP: Raw(above(abs(jump_s), limit=CLOCK_JUMP_S), {"jump_s": jump_s}),
            AlarmId.DAEMON_RESTARTED: Raw(
                whether(holds=gap_s is not None), {} if gap_s is None else {"gap_s": gap_s}
            ),
        }
    )


def _log_full(failed_s: float | None, disk: DiskSpace | None) -> Raw:
    space = {} if disk is None else {"free_pct": disk.free_pct}
    if failed_s is not None and below(failed_s, limit=FLUSH_FAILURE_COUNTS_S) is Side.BEYOND:
        return Raw(Side.BEYOND, space, why="not-written")
    if disk and (disk.free_bytes < LEAST_FREE_BYTES or disk.free_pct < LEAST_FREE_PCT):
        return Raw(Side.BEYOND, space, why="little-space")
    return Raw(Side.WITHIN, space)
