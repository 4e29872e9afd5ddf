"""Humidifier and exhaust fan: each gives doses at its own edge of the band, with a gap between.

The humidifier starts near the low edge of the band and aims a little above the setpoint, the
exhaust fan starts near the high edge and aims a little below. In the neutral zone between, both
are off and the room is left alone.
"""

from dataclasses import dataclass

from hangroom.control.dosing import DoseMemory, learned, settled, watched
from hangroom.control.trust import Air
from hangroom.control.wish import Wish, blind_off, off, on, safe_off
from hangroom.terms import Because, HumidityTarget, RelayRules

# Shares of the half-band, from the setpoint. Judged by simulation, no published figures: a leaky
# closet needs a third fewer doses when they begin near the low edge, and stays in the band; and a
# dose's effect is seen at its noisiest, so that aiming at the setpoint itself falls short of it.
HUMIDIFY_FROM_SHARE = -0.9
HUMIDIFY_TO_SHARE = 0.5
AIR_FROM_SHARE = 0.8
AIR_TO_SHARE = -0.6

# Where a relay has no longest run of its own, a dose still ends.
LONGEST_DOSE_S = 1800.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Doser:
    """What one dosing relay goes by at this tick: its rules, its dose, how long it stayed put."""

    rules: RelayRules
    dose: DoseMemory
    closed: bool
    stayed_s: float
    uptime_s: float
    settle_s: float

    def after_a_look(self, seen_pct: float, aim_pct: float, *, raises: bool) -> DoseMemory:
        """Return the dose with what it has done so far, judged once it has settled."""
        dose = watched(self.dose, seen_pct=seen_pct, raises=raises)
        if self.closed or not settled(dose, uptime_s=self.uptime_s, settle_s=self.settle_s):
            return dose
        return learned(
            dose,
            aim_pct=aim_pct,
            shortest_s=self.rules.min_on_s,
            longest_s=self.rules.max_run_s or LONGEST_DOSE_S,
        )


def humidifier_wish(
    air: Air | Because, target: HumidityTarget, doser: Doser
) -> tuple[Wish, DoseMemory]:
    """Return what the humidifier should do; without trusted air, or above the hard limit, off."""
    if isinstance(air, Because):
        return blind_off(air), doser.dose
    seen_pct = air.humidity_pct
    start_pct = target.setpoint_pct + HUMIDIFY_FROM_SHARE * target.band_pct
    aim_pct = target.setpoint_pct + HUMIDIFY_TO_SHARE * target.band_pct
    dose = doser.after_a_look(seen_pct, aim_pct, raises=True)
    if seen_pct >= target.high_limit_pct:
        limit_pct = target.high_limit_pct
        return safe_off("humidity-hard-limit", seen_pct=seen_pct, limit_pct=limit_pct), dose
    if doser.closed and doser.stayed_s < dose.pulse_s:
        return on("humidifying", left_s=dose.pulse_s - doser.stayed_s), dose
    if doser.closed:
        return off("dose-given", ran_s=doser.stayed_s), dose
    if seen_pct > start_pct:
        return off("moist-enough", seen_pct=seen_pct, limit_pct=start_pct), dose
    return _unless_settling("too-dry", seen_pct, start_pct, dose, doser), dose


def exhaust_wish(
    air: Air | Because, target: HumidityTarget, doser: Doser
) -> tuple[Wish, DoseMemory]:
    """Return what the exhaust fan should do; without trusted air, or below the low limit, off."""
    if isinstance(air, Because):
        return blind_off(air), doser.dose
    seen_pct = air.humidity_pct
    start_pct = target.setpoint_pct + AIR_FROM_SHARE * target.band_pct
    aim_pct = target.setpoint_pct + AIR_TO_SHARE * target.band_pct
    dose = doser.after_a_look(seen_pct, aim_pct, raises=False)
    if seen_pct <= target.low_limit_pct:
        limit_pct = target.low_limit_pct
        return safe_off("humidity-low-limit", seen_pct=seen_pct, limit_pct=limit_pct), dose
    if doser.closed and doser.stayed_s < dose.pulse_s:
        return on("airing", left_s=dose.pulse_s - doser.stayed_s), dose
    if doser.closed:
        return off("dose-given", ran_s=doser.stayed_s), dose
    if seen_pct < start_pct:
        return off("dry-enough", seen_pct=seen_pct, limit_pct=start_pct), dose
    return _unless_settling("too-humid", seen_pct, start_pct, dose, doser), dose


def _unless_settling(
    code: str, seen_pct: float, start_pct: float, dose: DoseMemory, doser: Doser
) -> Wish:
    if dose.ended_uptime_s is not None:
        left_s = doser.settle_s - (doser.uptime_s - dose.ended_uptime_s)
        if left_s > 0:
            return off("settling", left_s=left_s)
    return on(code, seen_pct=seen_pct, limit_pct=start_pct)
