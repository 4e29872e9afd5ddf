"""What somebody is told away from the page: plain data for rules, store and page alike.

A notice is made once from one fact, kept, and then carried to every channel that wants it.
"""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from math import inf


class Urgency(StrEnum):
    """How soon somebody must act; as with alarms. Only `HIGH` rings at night and past the limit."""

    HIGH = "high"
    MEDIUM = "medium"
    LOW = "low"


# The most urgent first.
RANK = {Urgency.HIGH: 0, Urgency.MEDIUM: 1, Urgency.LOW: 2}


class Kind(StrEnum):
    """What a notice is about."""

    ALARM = "alarm"
    OVER = "over"  # an alarm that was told has returned to normal
    SILENT = "silent"  # the controller does not report
    BACK = "back"  # it reports again
    TARGET = "target-tonight"
    OVER_DRY = "over-dry-ahead"
    TOO_FAST = "drying-too-fast"
    REMINDER = "reminder"
    SUMMARY = "summary"
    BACKUP = "backup-failed"
    ALIVE = "alive"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamp:
    """A moment on both clocks; `boot_id` names the run of the machine that `uptime_s` counts in."""

    boot_id: str
    uptime_s: float
    at: datetime

    def since_s(self, then: "Stamp") -> float:
        """Return how many seconds lie between `then` and this moment.

        By the monotonic clock within one run of the machine. Across runs by the wall clock; where
        that says less than nothing it was moved, and `then` counts as long past.
        """
        if then.boot_id == self.boot_id:
            return max(0.0, self.uptime_s - then.uptime_s)
        apart_s = (self.at - then.at).total_seconds()
        return apart_s if apart_s >= 0.0 else inf


@dataclass(frozen=True, slots=True, kw_only=True)
class Notice:
    """One thing to tell.

    `key`: the same for the same fact, however often it is looked at. `reaches`: a channel that
    wants only what is at least this urgent gets it too, because it got what this one ends or
    proves. `about`: what the log calls the alarm, as 'room closet/humidity-high', '' for none.
    """

    key: str
    kind: Kind
    urgency: Urgency
    title: str
    text: str
    made_at: datetime
    reaches: Urgency
    about: str = ""


def about(scope: str, alarm: str) -> str:
    """Return what notices call an alarm of a room, the service, a batch or a group."""
    return f"{scope}/{alarm}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Channel:
    """A way to tell somebody, without its address, which is a secret.

    `scheme`: the kind of service, as 'mailtos'. `least`: the least urgent that it wants.
    `fault`: why nothing can be sent on it, '' for nothing known.
    """

    name: str
    scheme: str
    least: Urgency
    fault: str = ""

    def wants(self, notice: Notice) -> bool:
        """Whether a notice is carried to it."""
        return RANK[notice.reaches] <= RANK[self.least]
