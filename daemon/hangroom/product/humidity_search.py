"""Finding the humidity that brings a room's groups to their targets when they are wanted.

One figure is sought, the base at which the room is held; where that would dry a surface too fast
the day's floor stands in its place, so that a plan comes down in steps, one a day at most. In
moister air no group is ready earlier, so halving finds the base. For several groups in one room the
sum of the squares of what each misses is made least.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from math import hypot

from hangroom.product.forecast import AirPlanned, Forecast
from hangroom.product.humidity_plan import GroupWanted, HumidityStep, SetpointLimits
from hangroom.product.planned_air import air_under

DAY_H = 24.0
# Setpoints are kept in hundredths: near the end of its drying, a tenth moves a group by hours.
DECIMALS = 2
FINE_ENOUGH_PCT = 0.01
# Near enough to the moment wanted, far below what a forecast can tell.
NEAR_ENOUGH_H = 0.2
# A floor less than this below the last one is not worth another setpoint.
LEAST_STEP_PCT = 1.0
# How far below the single stick's floors those of all may lie, and the rounding of the bound.
MOST_BELOW_PCT = 10.0
SLACK_RATIO = 0.0005
# A group that most likely never arrives counts as this late.
NEVER_H = 2000.0
GOLDEN_RATIO = (5.0**0.5 - 1.0) / 2.0

# Forecasts a group in some air to come.
Ask = Callable[[GroupWanted, tuple[AirPlanned, ...]], Forecast]


@dataclass(slots=True)
class Tried:
    """One group, and its forecasts under the steps that were tried so far."""

    wanted: GroupWanted
    as_it_is: Forecast
    ask: Ask
    known: dict[tuple[HumidityStep, ...], Forecast] = field(default_factory=dict)

    def under(self, steps: tuple[HumidityStep, ...]) -> Forecast:
        """Return the forecast under some steps."""
        if steps not in self.known:
            plan = air_under(self.wanted.question, steps)
            self.known[steps] = self.ask(self.wanted, plan)
        return self.known[steps]

    def ready_h(self, steps: tuple[HumidityStep, ...]) -> float:
        """Return when it is most likely ready under some steps, hours since it was hung."""
        ready_h = self.under(steps).p50_h
        return NEVER_H if ready_h is None else ready_h

    def keeps(self, steps: tuple[HumidityStep, ...], least_ratio: float) -> bool:
        """Return whether its surface stays as moist as asked, or as it is already."""
        bound_ratio = min(least_ratio, self.as_it_is.surface_to_core_ratio) - SLACK_RATIO
        return self.under(steps).least_surface_to_core_ratio >= bound_ratio


@dataclass(frozen=True, slots=True)
class Search:
    """Groups that are not there yet, the room's limits and each day's floor, %RH."""

    groups: Sequence[Tried]
    limits: SetpointLimits
    floors: tuple[float, ...]

    def steps(self, base_pct: float) -> tuple[HumidityStep, ...]:
        """Return the setpoints of a base: it, or the day's floor where that is moister."""
        found: list[HumidityStep] = []
        for day, floor_pct in enumerate(self.floors):
            humidity_pct = self._allowed_pct(max(base_pct, floor_pct))
            if not found or humidity_pct != found[-1].humidity_pct:
                found.append(HumidityStep(after_h=day * DAY_H, humidity_pct=humidity_pct))
        return tuple(found)

    @property
    def held_by_surface(self) -> bool:
        """Return whether the surface asks for moister air than the room's driest."""
        return max(self.floors) > self.limits.lowest_pct

    def best_pct(self) -> float:
        """Return the base that brings the groups nearest to when they are wanted."""
        timed = [one for one in self.groups if one.wanted.wanted_h is not None]
        alone = sorted(self.alone_pct(one) for one in timed)
        if not alone:
            return self.limits.lowest_pct
        return self._golden_pct(timed, alone[0], alone[-1])

    def alone_pct(self, one: Tried) -> float:
        """Return the base that one group would want if the room were its own."""
        driest_pct, moistest_pct = self.limits.lowest_pct, self.limits.highest_pct
        wanted_h = one.wanted.wanted_h
        if wanted_h is None or one.ready_h(self.steps(driest_pct)) >= wanted_h:
            return driest_pct
        if one.ready_h(self.steps(moistest_pct)) <= wanted_h:
            return moistest_pct
        while moistest_pct - driest_pct > FINE_ENOUGH_PCT:
            middle_pct = (driest_pct + moistest_pct) / 2.0
            late_h = one.ready_h(self.steps(middle_pct)) - wanted_h
            if abs(late_h) <= NEAR_ENOUGH_H:
                return middle_pct
            driest_pct, moistest_pct = (
                (driest_pct, middle_pct) if late_h > 0.0 else (middle_pct, moistest_pct)
            )
        return (driest_pct + moistest_pct) / 2.0

    def _golden_pct(self, timed: Sequence[Tried], low_pct: float, high_pct: float) -> float:
        """Narrow the base by the golden section to where the squared misses are least.

        Between what the groups would want alone each miss only grows or only shrinks.
        """

        def missed_h(base_pct: float) -> float:
            steps = self.steps(base_pct)
            return hypot(*(one.ready_h(steps) - (one.wanted.wanted_h or 0.0) for one in timed))

        while high_pct - low_pct > FINE_ENOUGH_PCT:
            reach_pct = GOLDEN_RATIO * (high_pct - low_pct)
            if missed_h(high_pct - reach_pct) <= missed_h(low_pct + reach_pct):
                high_pct = low_pct + reach_pct
            else:
                low_pct = high_pct - reach_pct
        return (low_pct + high_pct) / 2.0

    def _allowed_pct(self, humidity_pct: float) -> float:
        lowest_pct, highest_pct = self.limits.lowest_pct, self.limits.highest_pct
        return min(max(round(humidity_pct, DECIMALS), lowest_pct), highest_pct)


def search_within(
    groups: Sequence[Tried],
    limits: SetpointLimits,
    floors: Sequence[tuple[float, ...]],
    least_ratio: float,
) -> Search:
    """Return the search in which every group's surface stays moist enough, as far as can be.

    `floors`: each group's, reckoned on one usual stick; all are moved alike until they hold for
    every way the drying may go.
    """
    steepest = _in_steps([max(day) for day in zip(*floors, strict=True)])

    def moved(by_pct: float) -> Search:
        return Search(groups, limits, tuple(floor_pct + by_pct for floor_pct in steepest))

    def keeps(by_pct: float) -> bool:
        search = moved(by_pct)
        steps = search.steps(limits.lowest_pct)
        return all(one.keeps(steps, least_ratio) for one in groups)

    too_dry_pct, moist_pct = -MOST_BELOW_PCT, limits.highest_pct - min(steepest)
    if keeps(too_dry_pct):
        return moved(too_dry_pct)
    while moist_pct - too_dry_pct > 5.0 * FINE_ENOUGH_PCT:
        middle_pct = (too_dry_pct + moist_pct) / 2.0
        if keeps(middle_pct):
            moist_pct = middle_pct
        else:
            too_dry_pct = middle_pct
    return moved(moist_pct)


def _in_steps(floors: Sequence[float]) -> tuple[float, ...]:
    """Return floors that change only where it is worth a setpoint, and never lie below theirs."""
    stepped = [floors[0]]
    for floor_pct in floors[1:]:
        worth_it = floor_pct > stepped[-1] or floor_pct <= stepped[-1] - LEAST_STEP_PCT
        stepped.append(floor_pct if worth_it else stepped[-1])
    return tuple(stepped)
