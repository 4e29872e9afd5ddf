"""Following a relay's runs from their beginning to where they can be judged.

A run is left unjudged where something else may have moved the air meanwhile.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace

from hangroom.control.plant_watch.door import Door
from hangroom.control.plant_watch.effect import (
    LONGEST_LOOK_S,
    Effect,
    Run,
    after_switching,
    begun,
    is_due,
    rise_g_per_m3,
)
from hangroom.control.plant_watch.view import BEFORE_TO_S, Switch, View
from hangroom.terms import RelayKind

# How long the water of an earlier run still moves, and how long heat still moves water.
WATER_FADES_S = 60.0
HEAT_FADES_S = 30.0
HEAT = (RelayKind.COOLING, RelayKind.HEATER)
# Air that moved faster than that before a run was moved by something, such as a door just opened.
TIMES_THE_DRIFT = 3.0
# After a long run, a rest must last this long for the air to come back.
LONG_REST_S = 600.0

Judge = Callable[[Effect, Run, float], Effect]
"""What was known, a run that can be judged, and how far vapour rose by it (g/m3): what is known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Works:
    """How a relay's load works on the air: which one moves it back, and when a run shows.

    `spread_s`: from and to how long after its end.
    """

    relay: RelayKind
    against: RelayKind
    spread_s: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Runs:
    """What is known of a relay's runs, and the one under way or just over."""

    effect: Effect = field(default_factory=Effect)
    run: Run | None = None


def followed(known: Runs, view: View, door: Door, works: Works, judge: Judge) -> Runs:
    """Return what is known of a relay's runs after one more look."""
    switch, now_s = view.switches[works.relay], view.uptime_s
    run, effect = known.run, known.effect
    if run is not None and is_due(
        run, closed=switch.closed, spread_by_s=works.spread_s[1], uptime_s=now_s
    ):
        if _undisturbed(run, view, door, works.against):
            rise = rise_g_per_m3(run, view.trace, spread_s=works.spread_s, uptime_s=now_s)
            effect = effect if rise is None else judge(effect, run, rise)
        shown = effect is not known.effect and effect.failures <= known.effect.failures
        over = run.ended_uptime_s is not None or shown
        run = None if over else replace(run, looks=run.looks + 1)
    if switch.changed_uptime_s == now_s:
        if run is not None:
            again = run.looks > 0 and not switch.closed
            run = None if again else after_switching(run, closed=switch.closed, uptime_s=now_s)
        elif switch.closed:
            run = begun(view.trace, goes_on=_goes_on(switch), uptime_s=now_s)
    same = run is known.run and effect is known.effect
    return known if same else Runs(effect=effect, run=run)


def _goes_on(switch: Switch) -> bool:
    """Whether a run that begins only undoes what little a short rest after a long run has done."""
    rest_s = switch.closed_uptime_s - switch.opened_uptime_s
    return switch.ran_s > LONGEST_LOOK_S and rest_s < LONG_REST_S


def _undisturbed(run: Run, view: View, door: Door, against: RelayKind) -> bool:
    """Whether only that run can have moved the air."""
    lasted_s = view.uptime_s - run.began_uptime_s
    return (
        not door.is_open
        and view.uptime_s - door.shut_since_uptime_s > lasted_s + BEFORE_TO_S
        and abs(run.trend_g_per_m3_per_s) <= TIMES_THE_DRIFT * door.drift_g_per_m3_per_s
        and view.off_for_s(against) > lasted_s + WATER_FADES_S
        and all(view.unchanged_for_s(kind) > lasted_s + HEAT_FADES_S for kind in HEAT)
    )
