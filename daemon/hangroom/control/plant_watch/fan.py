"""The exhaust fan: whether its runs take water out of the room.

How much they take depends on how dry it is outside. Where that is measured, it is reckoned with;
where not, only a sudden end of what runs did a short while ago counts, since weather turns slowly.
"""

from dataclasses import replace

from hangroom.control.alarms.delays import Raw, Side, whether
from hangroom.control.plant_watch.door import Door
from hangroom.control.plant_watch.effect import (
    FAILURES,
    LONGEST_LOOK_S,
    UNLEARNED_PCT,
    Effect,
    Run,
    after_a_run,
)
from hangroom.control.plant_watch.runs import Runs, Works, followed
from hangroom.control.plant_watch.trace import KEPT_S, between
from hangroom.control.plant_watch.view import View
from hangroom.terms import RelayKind

# Wet sticks give back at once what the fan took.
AIRING = Works(relay=RelayKind.EXHAUST_FAN, against=RelayKind.HUMIDIFIER, spread_s=(15.0, 50.0))
# Where the air outside holds no less water than this below the room's, a fan dries next to nothing.
LEAST_DIFFERENCE_G_PER_M3 = 0.5
# A longer run does no more in proportion, as the room nears the air outside.
PROPORTIONAL_S = 90.0
# Before a run has worked a fan is taken to change the air so often: one that does it less would
# be too small to be an exhaust fan. Our judgement.
LEAST_CHANGES_PER_S = 5.0 / 3600.0
WEATHER_TURNS_S = 3.0 * 3600.0
# A fan that runs on and on, as while casings dry, holds the air where it is: if water rises by so
# much in so long it no longer does, and if it falls by as much it does again.
LONG_RUN_S = 600.0
LONG_RUN_PCT = 5.0


def looked_at(runs: Runs, view: View, door: Door, *, flooded: bool) -> Runs:
    """Return what is known after one more look; `flooded`: the humidifier does not stop."""
    if flooded:
        return runs if runs.run is None else replace(runs, run=None)

    def judge(effect: Effect, run: Run, rise_g_per_m3: float) -> Effect:
        return _judged(effect, run, -rise_g_per_m3, view)

    runs = followed(runs, view, door, AIRING, judge)
    effect = _after_a_long_run(runs.effect, view, door)
    return runs if effect is runs.effect else replace(runs, effect=effect)


def ineffective(runs: Runs) -> Raw:
    """Return the raw condition of an exhaust fan whose runs do nothing."""
    effect = runs.effect
    if effect.moved_pct is None or effect.expected_pct is None:
        return Raw(Side.UNKNOWN)
    return Raw(
        whether(holds=effect.failures >= FAILURES),
        {"moved_pct": effect.moved_pct, "expected_pct": effect.expected_pct},
    )


def airing_dries(runs: Runs, view: View) -> bool | None:
    """Whether the air that the fan lets in is drier than that of the room; None: not known."""
    difference = _difference_g_per_m3(view, view.now[-1].vapour_g_per_m3)
    if difference is not None:
        return difference > LEAST_DIFFERENCE_G_PER_M3
    lately = view.uptime_s - runs.effect.worked_uptime_s < WEATHER_TURNS_S
    return True if lately else None


def _difference_g_per_m3(view: View, inside_g_per_m3: float) -> float | None:
    outside = view.outside_g_per_m3
    return None if outside is None else inside_g_per_m3 - outside


def _judged(effect: Effect, run: Run, fall_g_per_m3: float, view: View) -> Effect:
    difference = _difference_g_per_m3(view, run.before_g_per_m3)
    # A coil takes out more water than the fan, and at its own times.
    misled = difference is None and RelayKind.COOLING in view.switches
    if misled or (run.goes_on and effect.failures == 0):
        return effect
    stale = view.uptime_s - effect.worked_uptime_s >= WEATHER_TURNS_S and effect.failures == 0
    if difference is None and stale:
        effect = Effect()
    on_s = min(run.on_s(view.uptime_s), PROPORTIONAL_S)
    one_pct = view.one_pct_g_per_m3
    per_s = _expected_g_per_m3_per_s(effect, difference)
    after = after_a_run(
        effect,
        moved_pct=fall_g_per_m3 / one_pct,
        expected_pct=UNLEARNED_PCT if per_s is None else per_s * on_s / one_pct,
        on_s=on_s,
        one_pct_g_per_m3=one_pct,
        uptime_s=view.uptime_s,
        difference_g_per_m3=difference,
    )
    # It may have met wetter air just as well.
    blameless = per_s is None and after.failures > effect.failures
    return effect if blameless else after


def _expected_g_per_m3_per_s(effect: Effect, difference_g_per_m3: float | None) -> float | None:
    """Return what a second of running should take out of a cubic metre, None: nobody can say."""
    now, then, gain = difference_g_per_m3, effect.difference_g_per_m3, effect.gain_g_per_m3_per_s
    if gain is not None and now is not None and then is not None:
        return gain * now / max(then, LEAST_DIFFERENCE_G_PER_M3)
    return gain if now is None else LEAST_CHANGES_PER_S * now


def _after_a_long_run(effect: Effect, view: View, door: Door) -> Effect:
    switch = view.switches[RelayKind.EXHAUST_FAN]
    newest = view.now[-1]
    if (
        not switch.closed
        or RelayKind.COOLING in view.switches
        or view.uptime_s - switch.closed_uptime_s < LONG_RUN_S + LONGEST_LOOK_S
        or view.off_for_s(RelayKind.HUMIDIFIER) < LONG_RUN_S + LONGEST_LOOK_S
        or door.is_open
    ):
        return effect
    earlier = between(view.trace, newest.uptime_s - KEPT_S, newest.uptime_s - LONG_RUN_S)
    if not earlier:
        return effect
    fall_pct = (earlier[-1].vapour_g_per_m3 - newest.vapour_g_per_m3) / view.one_pct_g_per_m3
    fails = effect.failures >= FAILURES
    if fall_pct < -LONG_RUN_PCT and not fails:
        return replace(effect, failures=FAILURES, moved_pct=fall_pct, expected_pct=0.0)
    if fall_pct > LONG_RUN_PCT and fails:
        return replace(
            effect,
            failures=0,
            worked_uptime_s=view.uptime_s,
            moved_pct=fall_pct,
            expected_pct=0.0,
        )
    return effect
