"""The door: the air changes towards the air outside, faster than by leaks, and no relay did it.

It counts as open until the air has come most of the way back. An exhaust fan that does not stop
looks the same from inside; the alarm's row says so.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import inf
from statistics import fmean

from hangroom.control.alarms.delays import Raw, Side, whether
from hangroom.control.plant_watch.trace import Sample, between
from hangroom.control.plant_watch.view import BEFORE_TO_S, View
from hangroom.terms import RelayKind

# Less than this beyond all of the minutes before is no door. Judged by simulation: several times
# a room sensor's noise, and less than half of what a minute of an open door does.
LEAST_JUMP_PCT = 3.0
LEAST_JUMP_C = 1.0
# A room that leaks much drifts as fast; its jumps must exceed its usual drift so many times.
TIMES_THE_DRIFT = 3.0
# Before it is learned: 1 %RH a minute or so.
FIRST_DRIFT_G_PER_M3_PER_S = 0.002
DRIFT_LEARNING_RATIO = 0.01
DRIFT_OVER_S = 45.0
# For so long after it ran a relay may be the cause.
FAN_SHOWS_S = 60.0
WATER_SHOWS_S = 180.0
HEAT_SHOWS_S = 300.0
# The fan may do so many times what it usually does.
FAN_MAY_RATIO = 1.5
# Vapour that comes in by the door brings warmth with it; mist cools, and nears saturation.
WARMS_C = 0.3
MIST_PCT = 95.0
# So much of the way back means that it is shut; where a dose may lift the air for the moment, it
# must last.
BACK_RATIO = 0.6
DOSE_FADES_S = 100.0
BACK_FOR_S = 300.0
MOVE_WATER = (RelayKind.HUMIDIFIER, RelayKind.EXHAUST_FAN, RelayKind.COOLING)


@dataclass(frozen=True, slots=True)
class Jump:
    """One quantity that jumped: where it was before, and the farthest it went."""

    before: float
    farthest: float

    def gone_on(self, now: float) -> "Jump":
        """Return the jump, which may have gone further."""
        further = now > self.farthest if self.farthest > self.before else now < self.farthest
        return replace(self, farthest=now) if further else self

    def back_ratio(self, now: float) -> float:
        """How much of the way back it has come: 0 none, 1 all of it."""
        return (now - self.farthest) / (self.before - self.farthest)


@dataclass(frozen=True, slots=True, kw_only=True)
class Door:
    """What is believed of the door.

    `vapour`, `temperature`: what jumped, in g/m3 and degC; neither while it is shut.
    `drift_g_per_m3_per_s`: how fast vapour usually drifts by itself, either way.
    """

    vapour: Jump | None = None
    temperature: Jump | None = None
    shut_since_uptime_s: float = -inf
    drift_g_per_m3_per_s: float = FIRST_DRIFT_G_PER_M3_PER_S

    @property
    def is_open(self) -> bool:
        """Whether it seems to stand open."""
        return self.vapour is not None or self.temperature is not None


def looked_at(door: Door, view: View, *, fan_gain_g_per_m3_per_s: float | None) -> Door:
    """Return what is believed of the door after one more sample.

    `fan_gain_g_per_m3_per_s`: what the exhaust fan takes out of a cubic metre, None: not known.
    """
    if door.is_open:
        return _still_open(door, view)
    before = view.before()
    aired_to = _aired_to_g_per_m3(view, fan_gain_g_per_m3_per_s)
    if not before or aired_to is None:
        return door
    vapour = _vapour_jump(door, view, before, aired_to)
    temperature = _temperature_jump(view, before)
    if vapour or temperature:
        return replace(door, vapour=vapour, temperature=temperature)
    return _drifted(door, view)


def stands_open(door: Door, view: View) -> Raw:
    """Return the raw condition of a door that stands open."""
    known = door.is_open or bool(view.before())
    return Raw(whether(holds=door.is_open) if known else Side.UNKNOWN)


def _still_open(door: Door, view: View) -> Door:
    vapour, temperature = door.vapour, door.temperature
    back_ratio = 0.0
    if vapour:
        now = [s.vapour_g_per_m3 for s in view.now]
        vapour = vapour.gone_on(fmean(now))
        dosed = view.off_for_s(RelayKind.HUMIDIFIER) < DOSE_FADES_S
        newest_s = view.now[-1].uptime_s
        lasting = between(view.trace, newest_s - BACK_FOR_S, newest_s) if dosed else view.now
        back_ratio = min(vapour.back_ratio(s.vapour_g_per_m3) for s in lasting)
    if temperature:
        now = [s.temperature_c for s in view.now]
        temperature = temperature.gone_on(fmean(now))
        back_ratio = max(back_ratio, min(map(temperature.back_ratio, now)))
    if back_ratio >= BACK_RATIO:
        return Door(
            shut_since_uptime_s=view.uptime_s, drift_g_per_m3_per_s=door.drift_g_per_m3_per_s
        )
    return replace(door, vapour=vapour, temperature=temperature)


def _aired_to_g_per_m3(view: View, fan_gain_g_per_m3_per_s: float | None) -> float | None:
    """Return how far down the last run of the exhaust fan may have dried the air; None: any far."""
    off_s = view.off_for_s(RelayKind.EXHAUST_FAN)
    if off_s >= FAN_SHOWS_S + BEFORE_TO_S:
        return inf
    if off_s < FAN_SHOWS_S or fan_gain_g_per_m3_per_s is None:
        return None
    switch = view.switches[RelayKind.EXHAUST_FAN]
    earlier = between(view.trace, -inf, switch.closed_uptime_s)
    if not earlier:
        return None
    aired = FAN_MAY_RATIO * fan_gain_g_per_m3_per_s * switch.ran_s
    return earlier[-1].vapour_g_per_m3 - aired


def _vapour_jump(
    door: Door, view: View, before: Sequence[Sample], aired_to_g_per_m3: float
) -> Jump | None:
    drift = door.drift_g_per_m3_per_s * BEFORE_TO_S
    limit = max(LEAST_JUMP_PCT * view.one_pct_g_per_m3, TIMES_THE_DRIFT * drift)
    now = [s.vapour_g_per_m3 for s in view.now]
    earlier = [s.vapour_g_per_m3 for s in before]
    outside = view.outside_g_per_m3
    if max(now) < min(*earlier, aired_to_g_per_m3) - limit:
        by_the_coil = view.off_for_s(RelayKind.COOLING) < HEAT_SHOWS_S
        inwards = outside is not None and outside >= max(now)
        return None if by_the_coil or inwards else Jump(earlier[-1], fmean(now))
    if min(now) > max(earlier) + limit and view.off_for_s(RelayKind.HUMIDIFIER) > WATER_SHOWS_S:
        if outside is None:
            warmth_c = fmean([s.temperature_c for s in view.now]) - before[-1].temperature_c
            mist = max(s.humidity_pct for s in view.now) >= MIST_PCT
            from_outside = warmth_c >= WARMS_C and not mist
        else:
            from_outside = outside > min(now)
        return Jump(earlier[-1], fmean(now)) if from_outside else None
    return None


def _temperature_jump(view: View, before: Sequence[Sample]) -> Jump | None:
    if view.unchanged_for_s(RelayKind.HEATER) < HEAT_SHOWS_S:
        return None
    now = [s.temperature_c for s in view.now]
    earlier = [s.temperature_c for s in before]
    outside_c = view.outside.temperature_c if view.outside else None
    if min(now) > max(earlier) + LEAST_JUMP_C:
        inwards = outside_c is not None and outside_c <= min(now)
        return None if inwards else Jump(earlier[-1], fmean(now))
    if max(now) < min(earlier) - LEAST_JUMP_C:
        cooled = view.off_for_s(RelayKind.COOLING) < HEAT_SHOWS_S
        # Mist cools the air as it evaporates, commanded or not.
        wetter = view.now[-1].vapour_g_per_m3 > max(s.vapour_g_per_m3 for s in before)
        inwards = outside_c is not None and outside_c >= max(now)
        return None if cooled or wetter or inwards else Jump(earlier[-1], fmean(now))
    return None


def _drifted(door: Door, view: View) -> Door:
    """Learn how fast the air drifts by itself."""
    if min(map(view.unchanged_for_s, MOVE_WATER)) < DOSE_FADES_S:
        return door
    newest = view.now[-1]
    earlier = between(view.trace, newest.uptime_s - DRIFT_OVER_S, newest.uptime_s)[0]
    passed_s = newest.uptime_s - earlier.uptime_s
    if passed_s == 0.0:
        return door
    moved = abs(newest.vapour_g_per_m3 - earlier.vapour_g_per_m3)
    drift = door.drift_g_per_m3_per_s
    drift += DRIFT_LEARNING_RATIO * (moved / passed_s - drift)
    return replace(door, drift_g_per_m3_per_s=drift)
