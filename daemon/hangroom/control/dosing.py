"""Doses of a learned size: one pulse, a pause in which nothing judges, then a look at what it did.

Air holds very little water (0.13 g lift a cubic metre by 1 %), and a room sensor answers 20 to
35 s late, so that a humidifier or a fan that runs until the sensor is content has by then done
several times too much. Learned is therefore how long a relay must run to move humidity by 1 %, and
how fast humidity comes back by itself. A dose lasts for as long as its way asks; one that lasts
longer than the sensor is late goes by the sensor too, so that it reaches its end whatever else
moves the air.

What the air did by itself teaches nothing: no dose is judged that a door spoiled, that was cut
short, or whose effect goes on after it.
"""

from dataclasses import dataclass, replace
from math import exp, inf

# How boldly the next dose follows what the last one did; 1 would trust one noisy look fully.
LEARNING_EXPONENT = 0.5
# One look changes the dose at most this much either way.
MOST_CHANGE_RATIO = 2.0
# A smaller effect is none, %RH; a smaller one than the second may be noise, and proves nothing.
LEAST_EFFECT_PCT = 0.5
PROVING_EFFECT_PCT = 1.0
# Humidity that goes so far against a dose was moved by a door, %RH.
SPOILT_PCT = 1.5
# Before anything was learned a dose is 6 s, however far the way: rather too small than too large.
FIRST_S_PER_PCT = 2.0
UNPROVED_WAY_PCT = 3.0

# The sensor's noise is smoothed over this time, unless humidity is this far from where it was:
# then a door was opened or a dose arrived. A DHT22 repeats itself to 0.3 %RH in our simulation,
# and to 1 % by its maker's data sheet.
SMOOTHED_OVER_S = 10.0
JUMP_PCT = 1.5
# Over less time than this noise hides how fast humidity moves by itself: after a dose, and between
# two. One look between two counts this much.
LEAST_ONWARD_S = 15.0
LEAST_DRIFT_S = 60.0
DRIFT_WEIGHT_RATIO = 0.3
# Faster than this no room comes back by itself: 3 % a minute is an open door.
FASTEST_DRIFT_PCT_PER_S = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Manner:
    """Which way a relay moves humidity, and how late the room answers, in seconds.

    `settle_s`: no dose and no judgement for so long after a dose. `unseen_s`: what was given within
    this time is still on its way to the sensor. `shown_s`: so long after a dose its effect is seen
    in full, and what comes after is the air's own doing. `smooths`: what is seen has a sensor's
    noise.
    """

    raises: bool
    settle_s: float
    unseen_s: float = 30.0
    shown_s: float = 40.0
    smooths: bool = True

    def toward_pct(self, from_pct: float, to_pct: float) -> float:
        """Return how far `to_pct` lies from `from_pct` in the relay's own direction."""
        return to_pct - from_pct if self.raises else from_pct - to_pct


@dataclass(frozen=True, slots=True, kw_only=True)
class DoseMemory:
    """What a relay's doses have taught, and the newest of them.

    `s_per_pct`: how long the relay must run to move humidity by 1 %; `proved_s_per_pct`: the same
    as last seen to work, None before. `drift_pct_per_s`: how fast humidity comes back by itself.
    `without_effect`: how many doses in a row did nothing. `level_pct`, `looked_uptime_s`: humidity
    freed of noise, and when it was last looked at.

    Of the newest dose: `from_pct`: humidity when it began, None where it is not to be judged, or
    has been. `moved_pct`, `against_pct`: the farthest humidity has been moved since, and gone the
    other way; the peak and not the end, because a leaky room has lost much of the rise again by
    the time it has spread. `shown_pct`: humidity once the effect was there in full. `given_s`: its
    length. `ended_uptime_s`: when it ended, None while it runs or before the first one.
    """

    s_per_pct: float = FIRST_S_PER_PCT
    proved_s_per_pct: float | None = None
    drift_pct_per_s: float = 0.0
    without_effect: int = 0
    level_pct: float | None = None
    looked_uptime_s: float = -inf
    from_pct: float | None = None
    moved_pct: float = 0.0
    against_pct: float = 0.0
    shown_pct: float | None = None
    given_s: float = 0.0
    ended_uptime_s: float | None = None


def settled(dose: DoseMemory, manner: Manner, *, uptime_s: float) -> bool:
    """Whether the last dose has had time to spread and to reach the sensor."""
    return dose.ended_uptime_s is None or uptime_s - dose.ended_uptime_s >= manner.settle_s


def looked(dose: DoseMemory, manner: Manner, *, seen_pct: float, uptime_s: float) -> DoseMemory:
    """Return the dose after one look at the humidity."""
    level_pct = seen_pct
    if manner.smooths and dose.level_pct is not None:
        away_pct = seen_pct - dose.level_pct
        if abs(away_pct) < JUMP_PCT:
            level_pct -= away_pct * exp((dose.looked_uptime_s - uptime_s) / SMOOTHED_OVER_S)
    moved_pct, against_pct, shown_pct = dose.moved_pct, dose.against_pct, dose.shown_pct
    ended_s = dose.ended_uptime_s
    if ended_s is not None and uptime_s - ended_s > manner.shown_s:
        if shown_pct is None:
            shown_pct = level_pct
    elif dose.from_pct is not None:
        moved_pct = max(moved_pct, manner.toward_pct(dose.from_pct, level_pct))
        against_pct = max(against_pct, manner.toward_pct(level_pct, dose.from_pct))
    # Written out: this is done at every reading, and takes half as long so.
    return DoseMemory(
        s_per_pct=dose.s_per_pct,
        proved_s_per_pct=dose.proved_s_per_pct,
        drift_pct_per_s=dose.drift_pct_per_s,
        without_effect=dose.without_effect,
        level_pct=level_pct,
        looked_uptime_s=uptime_s,
        from_pct=dose.from_pct,
        moved_pct=moved_pct,
        against_pct=against_pct,
        shown_pct=shown_pct,
        given_s=dose.given_s,
        ended_uptime_s=ended_s,
    )


def learned(dose: DoseMemory, manner: Manner, *, longest_s: float) -> DoseMemory:
    """Return the dose after judging, once, what it did; to be called when it has settled.

    `longest_s`: the longest a dose can be. A dose without effect met an empty tank more likely than
    a larger room, so the next one grows no further than to twice what has been seen to work:
    whatever is mended meanwhile, it must not flood the room.
    """
    if dose.from_pct is None:
        return dose
    judged = replace(dose, from_pct=None)
    if dose.against_pct > SPOILT_PCT or _moved_by_itself(dose, manner):
        return judged
    proved = dose.proved_s_per_pct
    if dose.moved_pct < LEAST_EFFECT_PCT:
        most = longest_s if proved is None else MOST_CHANGE_RATIO * proved
        return replace(
            judged,
            s_per_pct=min(most, MOST_CHANGE_RATIO * dose.s_per_pct),
            without_effect=dose.without_effect + 1,
        )
    ratio = (dose.given_s / dose.moved_pct / dose.s_per_pct) ** LEARNING_EXPONENT
    ratio = min(MOST_CHANGE_RATIO, max(1 / MOST_CHANGE_RATIO, ratio))
    s_per_pct = dose.s_per_pct * ratio
    return replace(
        judged,
        s_per_pct=s_per_pct,
        proved_s_per_pct=s_per_pct if dose.moved_pct >= PROVING_EFFECT_PCT else proved,
        without_effect=0,
    )


def unjudged(dose: DoseMemory) -> DoseMemory:
    """Return the dose so that what it does teaches nothing."""
    return dose if dose.from_pct is None else replace(dose, from_pct=None)


def unseen(dose: DoseMemory) -> DoseMemory:
    """Return the dose in a room whose air is not known: nothing is followed across the gap."""
    if dose.level_pct is None:
        return dose
    return replace(dose, level_pct=None, from_pct=None, shown_pct=None)


def begun(dose: DoseMemory, manner: Manner, *, uptime_s: float) -> DoseMemory:
    """Return the dose as its relay closes."""
    return replace(
        dose,
        drift_pct_per_s=_drift_pct_per_s(dose, manner, uptime_s),
        from_pct=dose.level_pct,
        moved_pct=0.0,
        against_pct=0.0,
        shown_pct=None,
        ended_uptime_s=None,
    )


def ended(dose: DoseMemory, *, ran_s: float, cut_short: bool, uptime_s: float) -> DoseMemory:
    """Return the dose as its relay opens; one that was cut short is not judged."""
    over = replace(dose, given_s=ran_s, ended_uptime_s=uptime_s)
    return unjudged(over) if cut_short else over


def _moved_by_itself(dose: DoseMemory, manner: Manner) -> bool:
    """Whether what goes on after the effect was there in full would explain half of it."""
    span_s = manner.settle_s - manner.shown_s
    if dose.shown_pct is None or dose.level_pct is None or span_s < LEAST_ONWARD_S:
        return False
    onward_pct = manner.toward_pct(dose.shown_pct, dose.level_pct)
    by_itself_pct = onward_pct / span_s * (dose.given_s + manner.shown_s)
    return dose.moved_pct >= LEAST_EFFECT_PCT and by_itself_pct > dose.moved_pct / 2


def _drift_pct_per_s(dose: DoseMemory, manner: Manner, uptime_s: float) -> float:
    """Return how fast humidity comes back, with what lies between the last dose and this one."""
    before = dose.drift_pct_per_s
    if dose.shown_pct is None or dose.level_pct is None or dose.ended_uptime_s is None:
        return before
    since_s = uptime_s - dose.ended_uptime_s - manner.shown_s
    if since_s < LEAST_DRIFT_S:
        return before
    back = max(0.0, manner.toward_pct(dose.level_pct, dose.shown_pct) / since_s)
    return before + DRIFT_WEIGHT_RATIO * (min(FASTEST_DRIFT_PCT_PER_S, back) - before)
