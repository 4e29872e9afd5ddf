"""What was foretold of a group, as far as it may be shown at this moment. Pure.

Where the daemon has stored no forecast, a straight line through the last two looks stands in, and
is called that. A forecast that has grown old is shown with its moment, never as if it were now.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from hangroom.product.doneness import Estimate
from hangroom.product.expected import OLD_AFTER, Range, group_range, moved_ratio, stick_range
from hangroom.store.batches import Group
from hangroom.store.forecasts import Failure, KeptForecast, Known
from hangroom_web.rail import group_estimate, newest_look_at

# As typed, to the hundredth of a percent; a target that was moved since makes a forecast void.
SAME_TARGET_RATIO = 1e-4


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """Where a group's mean yield lies at a moment, %: 10, 50 and 90 of 100 below."""

    at: datetime
    low_pct: float
    middle_pct: float
    high_pct: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Foretold:
    """A group's newest forecast, the one of an earlier day, and what became of the newest try.

    `line`: the straight line, which counts where `kept` is None. `overtaken`: something was weighed
    since it was made, so the next one is on its way.
    """

    kept: KeptForecast | None = None
    earlier: KeptForecast | None = None
    failed: Failure | None = None
    line: Estimate | None = None
    now: datetime
    overtaken: bool = False

    @property
    def age(self) -> timedelta:
        """How long ago the forecast was made; none where there is none."""
        return timedelta() if self.kept is None else max(timedelta(), self.now - self.kept.made_at)

    @property
    def old(self) -> bool:
        """Whether it is no more what holds now."""
        return self.age > OLD_AFTER

    @property
    def arrived(self) -> bool:
        """Whether the target is behind, as far as anybody knows."""
        if self.kept is None:
            return self.line is not None and self.line.arrived
        told = self.kept.forecast
        moved = 0.0 if self.old else moved_ratio(told, now_h=self._now_h)
        return told.yield_ratio + moved <= told.target_yield_ratio

    def moment(self, at_h: float) -> datetime:
        """Return the moment that lies so many hours after hanging."""
        if self.kept is None:
            raise ValueError("without a forecast no hour counts from anything")
        return self.kept.hung_at + timedelta(hours=at_h)

    def group_now(self) -> Range | None:
        """Return the group's mean yield, now or, where it is old, when it was made; or None."""
        if self.kept is None:
            return None
        told = self.kept.forecast
        return group_range(told, now_h=told.now_h if self.old else self._now_h)

    def stick_now(self, tag: str) -> Range | None:
        """Return a stick's yield now, weighed today or not; None where the forecast is old."""
        if self.kept is None or self.old:
            return None
        return stick_range(self.kept.forecast, tag, now_h=self._now_h)

    def band(self) -> Sequence[Band]:
        """Return the curve of the group's mean yield, in order of time."""
        if self.kept is None:
            return ()
        return [
            Band(
                at=self.moment(point.at_h),
                low_pct=100.0 * point.low_ratio,
                middle_pct=100.0 * point.middle_ratio,
                high_pct=100.0 * point.high_ratio,
            )
            for point in self.kept.forecast.curve
        ]

    @property
    def _now_h(self) -> float:
        if self.kept is None:
            raise ValueError("without a forecast no hour counts from anything")
        return (self.now - self.kept.hung_at) / timedelta(hours=1)


def foretold(
    group: Group,
    known: Known,
    earlier: KeptForecast | None,
    *,
    zone: ZoneInfo,
    now: datetime,
) -> Foretold:
    """Return what holds of a group; a forecast towards another target than today's is none."""
    kept = known.kept
    if kept is not None and not _same_target(kept, group):
        kept = None
    looked_at = newest_look_at(group)
    return Foretold(
        kept=kept,
        earlier=earlier if earlier is not None and _same_target(earlier, group) else None,
        failed=known.failed,
        line=group_estimate(group, zone),
        now=now,
        overtaken=kept is not None and looked_at is not None and looked_at > kept.made_at,
    )


def only_a_line(group: Group, *, zone: ZoneInfo, now: datetime) -> Foretold:
    """Return what holds of a group of which no forecast is known."""
    return Foretold(line=group_estimate(group, zone), now=now)


def _same_target(kept: KeptForecast, group: Group) -> bool:
    apart_ratio = kept.forecast.target_yield_ratio - group.target_yield_pct / 100.0
    return abs(apart_ratio) < SAME_TARGET_RATIO
