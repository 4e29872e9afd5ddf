"""A plan of a room's humidity that brings its groups to their targets in time: plain data.

Steps count in hours from the moment of planning, since groups in one room were hung at different
times; a group's own moments count from when it was hung, as in its forecast.
"""

from dataclasses import dataclass

from hangroom.product.forecast import Forecast, Question, Remark


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupWanted:
    """A group and when it is wanted ready, in hours since it was hung.

    `wanted_h` None: as soon as it can be while it dries gently. `asked` False: nobody wants
    anything of it, it only shares the room. `group`: as it is called in a sentence, for example
    'group A'.
    """

    group: str
    question: Question
    wanted_h: float | None = None
    asked: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class SetpointLimits:
    """Between which humidities a room's setpoint may lie, ends included."""

    lowest_pct: float
    highest_pct: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HumidityStep:
    """A humidity wanted from some hours after planning on, until the next of these."""

    after_h: float
    humidity_pct: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupPlanned:
    """What a plan does to one group: its forecast as the room is wanted now, and under the plan."""

    group: str
    wanted_h: float | None
    asked: bool
    as_it_is: Forecast
    planned: Forecast

    @property
    def miss_h(self) -> float | None:
        """How much later than wanted it is most likely ready, h; None where nothing was wanted."""
        if self.wanted_h is None or self.planned.p50_h is None:
            return None
        return self.planned.p50_h - self.wanted_h


@dataclass(frozen=True, slots=True, kw_only=True)
class HumidityPlan:
    """Setpoints by time, what they do to each group, and in `remarks` what they cost.

    No steps: there is nothing to plan, and a remark says why.
    """

    steps: tuple[HumidityStep, ...]
    groups: tuple[GroupPlanned, ...]
    remarks: tuple[Remark, ...]
