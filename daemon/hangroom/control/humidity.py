"""Humidifier and exhaust fan: each gives doses at its own edge of the band, with a gap between.

The humidifier starts at the low edge of the band, the exhaust fan near the high one; both aim short
of the far side. In the neutral zone between, both are off and the room is left alone. In a cooled
room, where each run of the compressor swings humidity by more than the band, the mean over its
cycle is judged, and only the hard limits go by what is seen at the moment.
"""

from dataclasses import dataclass
from functools import cache
from math import inf

from hangroom.control.cycle_mean import CYCLE_S, CycleMean
from hangroom.control.dosing import (
    UNPROVED_WAY_PCT,
    DoseMemory,
    Manner,
    learned,
    looked,
    settled,
    unseen,
)
from hangroom.control.sensors.voting import Air
from hangroom.control.wish import Wish, blind_off, off, on, safe_off
from hangroom.terms import Because, HumidityTarget, RelayKind, RelayRules

# Shares of the half-band, from the setpoint. Judged by simulation, no published figures: begun at
# the very edge, doses are fewest; and a dose's peak in the air is higher than what the sensor sees
# of it, so that aiming farther leaves the band.
HUMIDIFY_FROM_SHARE = -1.0
HUMIDIFY_TO_SHARE = 0.1
AIR_FROM_SHARE = 0.95
AIR_TO_SHARE = -0.6

# What is seen is about so old, by the lags of air, sensor and smoothing; a room that comes back
# fast by itself is met so much earlier.
SEEN_LATE_S = 30.0

# The loop looks every two seconds, and a dose ends at the look nearest to its end.
HALF_A_LOOK_S = 1.0

# Where a relay has no longest run of its own, a dose still ends.
LONGEST_DOSE_S = 1800.0

# After so many doses in a row without effect the tank is empty, the disc scaled or the relay stuck:
# then only one is tried every so often.
MOST_WITHOUT_EFFECT = 3
TRY_EVERY_S = 1800.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Doser:
    """What one dosing relay goes by at this tick.

    `stayed_s`: how long it has kept its position. `mean`: in a cooled room the humidity over the
    compressor's cycle, None elsewhere. `anew`: whether the air was measured anew.
    """

    rules: RelayRules
    manner: Manner
    dose: DoseMemory
    closed: bool
    stayed_s: float
    uptime_s: float
    mean: CycleMean | None
    anew: bool

    @property
    def longest_s(self) -> float:
        """The longest a dose can be."""
        return self.rules.max_run_s or LONGEST_DOSE_S

    def judged_pct(self, seen_pct: float) -> float | None:
        """Return the humidity the band is held against, None where it is not known yet."""
        return seen_pct if self.mean is None else self.mean.humidity_pct

    def after_a_look(self, seen_pct: float) -> DoseMemory:
        """Return the dose with what it has done so far, judged once it has settled."""
        dose, judged_pct = self.dose, self.judged_pct(seen_pct)
        if judged_pct is None:
            return unseen(dose)
        if not self.anew and dose.level_pct is not None:
            return dose
        dose = looked(dose, self.manner, seen_pct=judged_pct, uptime_s=self.uptime_s)
        if self.closed or not settled(dose, self.manner, uptime_s=self.uptime_s):
            return dose
        return learned(dose, self.manner, longest_s=self.longest_s)

    def left_s(self, dose: DoseMemory, seen_pct: float, aim_pct: float) -> float:
        """Return how long it is to the look at which the dose under way ends; 0 or less: this one.

        What was given and cannot be seen yet counts as done. Until any of it can be seen the way is
        measured from where the dose began, or from farther off where a door has opened since.
        """
        longest_left_s = self.longest_s - self.stayed_s - HALF_A_LOOK_S
        if dose.proved_s_per_pct is None:
            whole_s = dose.s_per_pct * UNPROVED_WAY_PCT
            return min(longest_left_s, whole_s - self.stayed_s - HALF_A_LOOK_S)
        judged_pct = self.judged_pct(seen_pct)
        way_pct = self.manner.toward_pct(seen_pct if judged_pct is None else judged_pct, aim_pct)
        if way_pct > 0 and self.stayed_s < self.manner.unseen_s and dose.from_pct is not None:
            way_pct = max(way_pct, self.manner.toward_pct(dose.from_pct, aim_pct))
        unseen_s = min(self.stayed_s, self.manner.unseen_s)
        return min(longest_left_s, dose.s_per_pct * way_pct - unseen_s - HALF_A_LOOK_S)


@cache
def manner_of(relay: RelayKind, *, settle_s: float, cooled: bool) -> Manner:
    """Return the manner of a dosing relay; in a cooled room a dose settles over a whole cycle."""
    raises = relay is RelayKind.HUMIDIFIER
    if not cooled:
        return Manner(raises=raises, settle_s=settle_s)
    whole_s = max(settle_s, CYCLE_S)
    return Manner(raises=raises, settle_s=whole_s, unseen_s=inf, shown_s=whole_s, smooths=False)


def usual_dose_s(
    relay: RelayKind, dose: DoseMemory, target: HumidityTarget, rules: RelayRules
) -> float:
    """Return how long a dose from the edge of the band to its aim would be, by what was learned."""
    shares = (
        (HUMIDIFY_FROM_SHARE, HUMIDIFY_TO_SHARE)
        if relay is RelayKind.HUMIDIFIER
        else (AIR_TO_SHARE, AIR_FROM_SHARE)
    )
    way_pct = (shares[1] - shares[0]) * target.band_pct
    wanted_s = dose.s_per_pct * (UNPROVED_WAY_PCT if dose.proved_s_per_pct is None else way_pct)
    return min(rules.max_run_s or LONGEST_DOSE_S, max(rules.min_on_s, wanted_s))


def dosed_by_pct(relay: RelayKind, air: Air) -> float:
    """Return the humidity a dosing relay goes by: for water the moistest sensor, else the middle.

    Mould begins where a room is moistest, and water cannot be taken back.
    """
    return air.highest_humidity_pct if relay is RelayKind.HUMIDIFIER else air.humidity_pct


def humidifier_wish(
    air: Air | Because, target: HumidityTarget, doser: Doser
) -> tuple[Wish, DoseMemory]:
    """Return what the humidifier should do; without trusted air, or above the hard limit, off."""
    if isinstance(air, Because):
        return blind_off(air), unseen(doser.dose)
    seen_pct, limit_pct = dosed_by_pct(RelayKind.HUMIDIFIER, air), target.high_limit_pct
    dose = doser.after_a_look(seen_pct)
    if seen_pct >= limit_pct:
        return safe_off("humidity-hard-limit", seen_pct=seen_pct, limit_pct=limit_pct), dose
    return _humidifying(seen_pct, target, dose, doser), dose


def _humidifying(seen_pct: float, target: HumidityTarget, dose: DoseMemory, doser: Doser) -> Wish:
    if doser.closed:
        aim_pct = target.setpoint_pct + HUMIDIFY_TO_SHARE * target.band_pct
        left_s = doser.left_s(dose, seen_pct, aim_pct)
        return (
            on("humidifying", left_s=left_s)
            if left_s > 0
            else off("dose-given", ran_s=doser.stayed_s)
        )
    if dose.level_pct is None:
        return _averaging(doser)
    start_pct = target.setpoint_pct + HUMIDIFY_FROM_SHARE * target.band_pct
    if dose.level_pct - SEEN_LATE_S * dose.drift_pct_per_s > start_pct:
        return off("moist-enough", seen_pct=dose.level_pct, limit_pct=start_pct)
    if dose.without_effect >= MOST_WITHOUT_EFFECT and dose.ended_uptime_s is not None:
        left_s = dose.ended_uptime_s + TRY_EVERY_S - doser.uptime_s
        if left_s > 0:
            return off("doses-without-effect", left_s=left_s)
    return _unless_settling("too-dry", dose.level_pct, start_pct, dose, doser)


def exhaust_wish(
    air: Air | Because, target: HumidityTarget, doser: Doser
) -> tuple[Wish, DoseMemory]:
    """Return what the exhaust fan should do; without trusted air, or below the low limit, off."""
    if isinstance(air, Because):
        return blind_off(air), unseen(doser.dose)
    seen_pct = dosed_by_pct(RelayKind.EXHAUST_FAN, air)
    dose = doser.after_a_look(seen_pct)
    driest_pct, limit_pct = air.lowest_humidity_pct, target.low_limit_pct
    if driest_pct <= limit_pct:
        return safe_off("humidity-low-limit", seen_pct=driest_pct, limit_pct=limit_pct), dose
    return _airing(seen_pct, target, dose, doser), dose


def _airing(seen_pct: float, target: HumidityTarget, dose: DoseMemory, doser: Doser) -> Wish:
    if doser.closed:
        aim_pct = target.setpoint_pct + AIR_TO_SHARE * target.band_pct
        left_s = doser.left_s(dose, seen_pct, aim_pct)
        return (
            on("airing", left_s=left_s) if left_s > 0 else off("dose-given", ran_s=doser.stayed_s)
        )
    if dose.level_pct is None:
        return _averaging(doser)
    start_pct = target.setpoint_pct + AIR_FROM_SHARE * target.band_pct
    if dose.level_pct + SEEN_LATE_S * dose.drift_pct_per_s < start_pct:
        return off("dry-enough", seen_pct=dose.level_pct, limit_pct=start_pct)
    return _unless_settling("too-humid", dose.level_pct, start_pct, dose, doser)


def _averaging(doser: Doser) -> Wish:
    left_s = doser.mean.left_s(doser.uptime_s) if doser.mean else 0.0
    return off("averaging", left_s=left_s)


def _unless_settling(
    code: str, seen_pct: float, start_pct: float, dose: DoseMemory, doser: Doser
) -> Wish:
    if dose.ended_uptime_s is not None:
        left_s = doser.manner.settle_s - (doser.uptime_s - dose.ended_uptime_s)
        if left_s > 0:
            return off("settling", left_s=left_s)
    return on(code, seen_pct=seen_pct, limit_pct=start_pct)
