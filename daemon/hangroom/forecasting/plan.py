"""The air to come where a group hangs: as its room keeps it by now, else as it is wanted.

In the sensor's own frame: what a room really holds beside its setpoint is what its sensor shows
once it has settled, so the measured mean goes before the setpoint. The first half day after a room
is filled, a stage begun or a setpoint moved says nothing about later (a fresh load makes a hump of
humidity) and stays out of that mean.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from statistics import fmean

from hangroom.forecasting.air import STRETCH_S
from hangroom.product.forecast import AirPlanned, AirSeen
from hangroom.stage_table import FOLLOWS_HUMIDITY, FOLLOWS_TEMPERATURE
from hangroom.store.room_plans import Course
from hangroom.terms import RoomPlan, Stage, StagePlan

# Our judgement, from simulated rooms: the hump of a fresh load is over by then.
SETTLES_WITHIN_H = 12.0
# A day, so that warm afternoons and cold nights count alike.
LOOKED_BACK_H = 24.0
# Fewer hours of settled air than these are no mean to go by.
LEAST_SETTLED_H = 3.0
# Where nothing is wanted of the air, the newest hours stand for it, settled or not.
NEWEST_H = 6.0
MOST_STAGES = 5


def planned(
    plan: RoomPlan,
    course: Course,
    seen: Sequence[AirSeen],
    *,
    hung_at: datetime,
    came_h: float,
    now_h: float,
    steps: Sequence[tuple[datetime, float]] = (),
) -> tuple[AirPlanned, ...]:
    """Return the air to come, in hours since hanging; nothing where nobody can know it.

    `seen`: the air measured in this room since the group came there, which was at `came_h`.
    `steps`: the humidity plan that the room follows while it hangs: from when, and which setpoint.
    """
    changed_h = _after_h(course.changed_at or hung_at, hung_at)
    held = _held(seen, since_h=max(came_h, changed_h), now_h=now_h)
    newest = _mean(seen, from_h=now_h - NEWEST_H)
    targets = StagePlan(humidity=plan.humidity, temperature=plan.temperature)
    wanted = _Air.wanted(plan.stage, targets)
    now = _Air.of(held).or_else(wanted).or_else(_Air.of(newest))
    found = [(now_h, now)]
    if plan.stage is Stage.HANG and now.humidity_pct is not None:
        # What the room keeps beside its setpoint now, it will keep beside the next one.
        beside_pct = now.humidity_pct - (wanted.humidity_pct or now.humidity_pct)
        found += [
            (from_h, _Air(now.temperature_c, setpoint_pct + beside_pct))
            for moment, setpoint_pct in steps
            if (from_h := _after_h(moment, hung_at)) > now_h
            and (course.ends_at is None or moment < course.ends_at)
        ]
    for from_h, stage, targets in _to_come(plan, course, hung_at=hung_at):
        found.append((max(from_h, now_h), _Air.wanted(stage, targets).or_else(now)))
    return tuple(
        AirPlanned(from_h=from_h, temperature_c=air.temperature_c, humidity_pct=air.humidity_pct)
        for from_h, air in found
        if air.temperature_c is not None and air.humidity_pct is not None
    )


@dataclass(frozen=True, slots=True)
class _Air:
    """Air of which either part may be unknown."""

    temperature_c: float | None
    humidity_pct: float | None

    @classmethod
    def of(cls, seen: AirSeen | None) -> "_Air":
        return cls(seen.temperature_c, seen.humidity_pct) if seen else cls(None, None)

    @classmethod
    def wanted(cls, stage: Stage, targets: StagePlan) -> "_Air":
        """Return what a stage asks for, as far as it follows a setpoint."""
        humidity = targets.humidity if stage in FOLLOWS_HUMIDITY else None
        temperature = targets.temperature if stage in FOLLOWS_TEMPERATURE else None
        return cls(
            temperature.setpoint_c if temperature else None,
            humidity.setpoint_pct if humidity else None,
        )

    def or_else(self, other: "_Air") -> "_Air":
        """Return this air with the other's parts where its own are unknown."""
        return _Air(
            other.temperature_c if self.temperature_c is None else self.temperature_c,
            other.humidity_pct if self.humidity_pct is None else self.humidity_pct,
        )


def _to_come(
    plan: RoomPlan, course: Course, *, hung_at: datetime
) -> Iterator[tuple[float, Stage, StagePlan]]:
    ends_at, stage = course.ends_at, course.then
    for _ in range(MOST_STAGES):
        if ends_at is None or stage is None or stage not in plan.stages:
            return
        targets = plan.stages[stage]
        yield _after_h(ends_at, hung_at), stage, targets
        if targets.for_s is None:
            return
        ends_at, stage = ends_at + timedelta(seconds=targets.for_s), targets.then or Stage.HANG


def _held(seen: Sequence[AirSeen], *, since_h: float, now_h: float) -> AirSeen | None:
    """Return the air that the room keeps, None where it has not settled."""
    from_h = max(since_h + SETTLES_WITHIN_H, now_h - LOOKED_BACK_H)
    settled = [air for air in seen if air.at_h >= from_h]
    if len(settled) * STRETCH_S < LEAST_SETTLED_H * 3600.0:
        return None
    return _mean(settled, from_h=from_h)


def _mean(seen: Sequence[AirSeen], *, from_h: float) -> AirSeen | None:
    late = [air for air in seen if air.at_h >= from_h]
    if not late:
        return None
    return AirSeen(
        at_h=late[-1].at_h,
        temperature_c=fmean(air.temperature_c for air in late),
        humidity_pct=fmean(air.humidity_pct for air in late),
    )


def _after_h(moment: datetime, hung_at: datetime) -> float:
    return (moment - hung_at) / timedelta(hours=1)
