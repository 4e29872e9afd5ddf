"""A humidifier that does not stop: the air gets wetter by itself, as only mist can make it.

Three ways to tell. Vapour rises faster than it ever does by itself; or the air comes most of the
way to saturation within two minutes; or, in a large room, it stays near saturation however much is
aired with air that is measured to be drier.
"""

from statistics import fmean

from hangroom.control.alarms.delays import Raw, Side, whether
from hangroom.control.plant_watch.door import Door
from hangroom.control.plant_watch.effect import Effect
from hangroom.control.plant_watch.trace import between
from hangroom.control.plant_watch.view import View
from hangroom.terms import RelayKind

SATURATED_PCT = 100.0
# 3 % a minute, seen over 2 min, beyond all that was reached in the minutes before.
RISES_PCT = 6.0
RISES_WITHIN_S = 120.0
# Where it is known what doses do, this share of what a humidifier would do in that time; but never
# less than the second, and never more than this share of the way to saturation.
OF_ITS_MIST_RATIO = 0.25
LEAST_RISE_PCT = 3.0
OF_THE_WAY_RATIO = 0.5
# Mist cools the air, so that humidity rises more than vapour, which must rise by this much. Where
# something else cools, vapour alone tells.
WETTER_PCT = 1.0
# Air that loses so much humidity by itself meets no mist. It loses less vapour than that: it warms
# again as the mist is gone. Beyond the noise of a sensor whose last digits move.
FALLS_PCT, FALLS_VAPOUR_PCT = 1.0, 0.5
FALLS_WITHIN_S, FALLS_FROM_S = 45.0, 75.0
# Most of the way to saturation, where there is at least so much of it.
LEAST_WAY_PCT = 10.0
SATURATES_RATIO = 0.75
PINNED_PCT = 95.0
PINNED_FOR_S = 600.0
FAN_RECENTLY_S = 180.0
LEAST_DIFFERENCE_G_PER_M3 = 0.5
# For so long a dose still comes up, and is still part of the rise; and it may do so many times
# what doses usually do.
DOSE_SHOWS_S, DOSE_SPREADS_S = 60.0, 180.0
DOSE_MAY_RATIO = 1.5
# Other things that make the air wetter for a while: a fan's run, the door, ice on the coil.
FAN_FADES_S = 25.0
DOOR_SHOWS_S = 300.0
COIL_GIVES_BACK_S = 300.0


def stuck_above_pct(
    above_pct: float | None,
    view: View,
    door: Door,
    *,
    doses: Effect,
    airing_dries: bool | None,
) -> float | None:
    """Return above which humidity the air went by itself, None where it did not, is back or falls.

    `above_pct`: the same at the last look. `doses`: what the humidifier's doses usually do.
    `airing_dries`: whether the exhaust fan lets in drier air, None where that is not known.
    """
    if above_pct is not None:
        is_back = max(s.humidity_pct for s in view.now) <= above_pct
        return None if is_back or _falls(view) else above_pct
    if (
        view.off_for_s(RelayKind.HUMIDIFIER) < DOSE_SHOWS_S
        or door.is_open
        or view.uptime_s - door.shut_since_uptime_s < DOOR_SHOWS_S
        or COIL_GIVES_BACK_S > view.off_for_s(RelayKind.COOLING) > 0.0
    ):
        return None
    target = view.humidity
    wanted_pct = target.setpoint_pct + target.band_pct if target else PINNED_PCT
    if min(s.humidity_pct for s in view.now) <= wanted_pct:
        return None
    dosed = _dosed_g_per_m3(doses, view)
    stuck = (
        _pinned(view)
        or (dosed is not None and _saturates(view, dosed))
        or (dosed is not None and _rises(view, dosed, doses, airing_dries=airing_dries))
    )
    return wanted_pct if stuck else None


def stuck_on(above_pct: float | None, view: View) -> Raw:
    """Return the raw condition of a humidifier that does not stop."""
    known = above_pct is not None or bool(view.before())
    return Raw(
        whether(holds=above_pct is not None) if known else Side.UNKNOWN,
        {"seen_pct": view.now[-1].humidity_pct},
    )


def _dosed_g_per_m3(doses: Effect, view: View) -> float | None:
    """Return how much the last dose may be lifting the air, g/m3; None where nobody can say."""
    if view.off_for_s(RelayKind.HUMIDIFIER) >= DOSE_SPREADS_S:
        return 0.0
    gain = doses.gain_g_per_m3_per_s
    ran_s = view.switches[RelayKind.HUMIDIFIER].ran_s
    return None if gain is None else DOSE_MAY_RATIO * gain * ran_s


def _rises(view: View, dosed_g_per_m3: float, doses: Effect, *, airing_dries: bool | None) -> bool:
    within_s = RISES_WITHIN_S
    fan_off_s = view.off_for_s(RelayKind.EXHAUST_FAN)
    if fan_off_s < within_s and not airing_dries:
        # The fan may have drawn in wetter air, but no longer does so.
        within_s = fan_off_s - FAN_FADES_S
    before = view.before(within_s)
    if within_s < RISES_WITHIN_S / 2.0 or not before:
        return False
    one_pct = view.one_pct_g_per_m3
    highest_pct = max(s.humidity_pct for s in before)
    limit_pct = RISES_PCT * within_s / RISES_WITHIN_S
    if doses.gain_g_per_m3_per_s is not None:
        limit_pct = OF_ITS_MIST_RATIO * doses.gain_g_per_m3_per_s * within_s / one_pct
        limit_pct = min(limit_pct, OF_THE_WAY_RATIO * (SATURATED_PCT - highest_pct))
    limit_pct = max(LEAST_RISE_PCT, limit_pct)
    if view.off_for_s(RelayKind.HUMIDIFIER) - within_s < DOSE_SHOWS_S:
        limit_pct += dosed_g_per_m3 / one_pct
    highest_g_per_m3 = max(s.vapour_g_per_m3 for s in before)
    vapour_pct = (min(s.vapour_g_per_m3 for s in view.now) - highest_g_per_m3) / one_pct
    if RelayKind.COOLING in view.switches:
        return vapour_pct >= limit_pct
    rise_pct = max(vapour_pct, min(s.humidity_pct for s in view.now) - highest_pct)
    return vapour_pct >= WETTER_PCT and rise_pct >= limit_pct


def _falls(view: View) -> bool:
    newest_s = view.now[-1].uptime_s
    before = between(view.trace, newest_s - FALLS_FROM_S, newest_s - FALLS_WITHIN_S)
    if not before or view.off_for_s(RelayKind.EXHAUST_FAN) < FALLS_FROM_S:
        return False
    fall_pct = fmean(s.humidity_pct for s in before) - fmean(s.humidity_pct for s in view.now)
    fall_g_per_m3 = fmean(s.vapour_g_per_m3 for s in before) - fmean(
        s.vapour_g_per_m3 for s in view.now
    )
    return fall_pct >= FALLS_PCT and fall_g_per_m3 >= FALLS_VAPOUR_PCT * view.one_pct_g_per_m3


def _saturates(view: View, dosed_g_per_m3: float) -> bool:
    before = view.before(RISES_WITHIN_S)
    if not before:
        return False
    one_pct = view.one_pct_g_per_m3
    highest = max(before, key=lambda s: s.vapour_g_per_m3)
    rise = min(s.vapour_g_per_m3 for s in view.now) - highest.vapour_g_per_m3
    # In humidity, not in vapour: mist cools the air, which then saturates with less.
    explained_pct = min(SATURATED_PCT, highest.humidity_pct + dosed_g_per_m3 / one_pct)
    way_pct = SATURATED_PCT - explained_pct
    limit_pct = explained_pct + SATURATES_RATIO * way_pct
    if way_pct < LEAST_WAY_PCT:
        return False
    return rise >= LEAST_RISE_PCT * one_pct and min(s.humidity_pct for s in view.now) >= limit_pct


def _pinned(view: View) -> bool:
    newest_s = view.now[-1].uptime_s
    outside = view.outside_g_per_m3
    return (
        outside is not None
        and outside < view.now[-1].vapour_g_per_m3 - LEAST_DIFFERENCE_G_PER_M3
        and view.off_for_s(RelayKind.HUMIDIFIER) >= PINNED_FOR_S
        and view.off_for_s(RelayKind.EXHAUST_FAN) < FAN_RECENTLY_S
        and view.trace.samples[0].uptime_s <= newest_s - PINNED_FOR_S
        and all(
            s.humidity_pct >= PINNED_PCT
            for s in between(view.trace, newest_s - PINNED_FOR_S, newest_s)
        )
    )
