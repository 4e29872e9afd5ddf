"""From a batch's record to the raw conditions of the alarms on a batch left alone."""

from dataclasses import dataclass

from hangroom.alarm_table.row import HOUR_S, AlarmId
from hangroom.control.alarms.bank import Conditions
from hangroom.control.alarms.delays import Raw, above, below

# One look a day, and two hours' grace. Our judgement.
LONGEST_WITHOUT_A_LOOK_S = 26 * HOUR_S


@dataclass(frozen=True, slots=True, kw_only=True)
class HangingGroup:
    """A group on the rail: its yield at the newest weigh-in, and its target, % of green weight."""

    letter: str
    yield_pct: float | None
    target_yield_pct: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HangingBatch:
    """A batch on the rail: how long nobody has looked at it, and those of its groups that hang."""

    number: int
    unseen_s: float
    groups: tuple[HangingGroup, ...]


def batch_conditions(batch: HangingBatch) -> Conditions:
    """Return whether a batch was left without a look."""
    unseen_s = batch.unseen_s
    side = above(unseen_s, limit=LONGEST_WITHOUT_A_LOOK_S)
    return Conditions(raw={AlarmId.INSPECTION_MISSED: Raw(side, {"unseen_s": unseen_s})})


def group_conditions(group: HangingGroup) -> Conditions:
    """Return whether a group is past its target; one that was never weighed is unknown."""
    seen_pct, limit_pct = group.yield_pct, group.target_yield_pct
    figures = {} if seen_pct is None else {"seen_pct": seen_pct, "limit_pct": limit_pct}
    side = below(seen_pct, limit=limit_pct)
    return Conditions(raw={AlarmId.BATCH_PAST_TARGET: Raw(side, figures)})
