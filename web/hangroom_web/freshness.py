"""Whether what the board says may be shown as live. Pure: ages in, a verdict out.

Everything is judged on the machine's monotonic clock, which daemon and page share as long as
both run in the same boot. Whatever cannot be judged counts as old.
"""

from enum import StrEnum

from hangroom.store.live import LiveBoard, LiveSensor

# The daemon is given up after this many ticks without a new board, but never sooner than
# FEWEST_SILENT_S: one slow write to a busy card must not make the page cry wolf. With a page that
# asks every 10 s, and sooner when the board grows old, a killed daemon shows within 15 s.
MOST_SILENT_TICKS = 3
FEWEST_SILENT_S = 6.0

# A board older than this many ticks makes the page ask again early.
SUSPICIOUS_TICKS = 1.5
ASK_EVERY_S = 10.0

# A reading is live up to two of its sensor's intervals, late up to three, stale beyond.
LIVE_INTERVALS = 2.0
LATE_INTERVALS = 3.0


class Freshness(StrEnum):
    """How far a reading may be trusted to be of now."""

    LIVE = "live"
    LATE = "late"
    STALE = "stale"
    DOUBTED = "doubted"
    NONE = "none"

    @property
    def shows_digits(self) -> bool:
        """Whether its digits may stand on the page; otherwise a dash takes their place."""
        return self in {Freshness.LIVE, Freshness.LATE}


def board_age_s(board: LiveBoard | None, *, boot_id: str, uptime_s: float) -> float | None:
    """Return how old the board is in s, or None where its clock is not this machine's clock now.

    A board from the future is of an earlier boot whatever its id says.
    """
    if board is None or board.boot_id != boot_id or board.uptime_s > uptime_s:
        return None
    return uptime_s - board.uptime_s


def is_alive(board: LiveBoard | None, *, boot_id: str, uptime_s: float) -> bool:
    """Return whether the daemon has reported lately enough to be taken as running."""
    age_s = board_age_s(board, boot_id=boot_id, uptime_s=uptime_s)
    return board is not None and age_s is not None and age_s <= _most_silent_s(board)


def ask_again_s(board: LiveBoard | None, *, boot_id: str, uptime_s: float) -> float:
    """Return in how many seconds a page should ask again.

    Sooner where the board grows old, so that the verdict on the daemon is not put off by a
    whole polling interval.
    """
    age_s = board_age_s(board, boot_id=boot_id, uptime_s=uptime_s)
    if board is None or age_s is None or age_s <= SUSPICIOUS_TICKS * board.tick_s:
        return ASK_EVERY_S
    left_s = _most_silent_s(board) - age_s
    return ASK_EVERY_S if left_s < 0 else min(ASK_EVERY_S, left_s + 0.5)


def reading_freshness(sensor: LiveSensor, *, alive: bool, uptime_s: float) -> Freshness:
    """Return how far one sensor's newest reading may be shown, given whether the daemon lives."""
    if sensor.reading is None:
        return Freshness.NONE
    age_s = uptime_s - sensor.reading.taken_uptime_s
    if not alive or not 0 <= age_s <= LATE_INTERVALS * sensor.read_every_s:
        return Freshness.STALE
    if sensor.distrusted is not None:
        return Freshness.DOUBTED
    return Freshness.LIVE if age_s <= LIVE_INTERVALS * sensor.read_every_s else Freshness.LATE


def _most_silent_s(board: LiveBoard) -> float:
    return max(MOST_SILENT_TICKS * board.tick_s, FEWEST_SILENT_S)
