"""Doses of a learned size: one pulse, a pause in which nothing judges, then a look at what it did.

Air holds very little water (0.13 g lift a cubic metre by 1 %), and a room sensor answers 20 to
35 s late, so that a humidifier or a fan that runs until the sensor is content has by then done
several times too much. A dose whose length is learned from the rise it made last time does not,
and needs no knowledge of the room. Rule and exponent: compared in simulation with plain two-point
control, where it kept 100 % instead of 88 % of the time in band with a third of the water.
"""

from dataclasses import dataclass, replace

from hangroom.terms import RelayRules

# How boldly the next dose follows what the last one did; 1 would trust one noisy look fully.
LEARNING_EXPONENT = 0.6
# One look changes the dose at most this much either way.
MOST_CHANGE_RATIO = 2.0
# An effect is never taken to be smaller than this, %RH; it stands below a fraction line.
LEAST_EFFECT_PCT = 0.3
# An effect smaller than this may be the sensor's noise, and proves nothing, %RH.
PROVING_EFFECT_PCT = 1.0
# A first dose, before anything was learned: too small rather than too large.
FIRST_DOSE_S = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DoseMemory:
    """The dose as learned so far, and the one under way.

    `pulse_s`: its length. `before_pct`: humidity when it began, None when it has been judged.
    `moved_pct`: the farthest it has moved humidity since, in its own direction; the peak and not
    the end, because a leaky room has lost much of the rise again by the time it has spread.
    `ended_uptime_s`: when it ended, None while it runs or before the first one.
    `proved_s`: the newest length that has had an effect, None before one has.
    """

    pulse_s: float
    before_pct: float | None = None
    moved_pct: float = 0.0
    ended_uptime_s: float | None = None
    proved_s: float | None = None


def first_dose(rules: RelayRules) -> DoseMemory:
    """Return the dose of a relay that has learned nothing yet."""
    return DoseMemory(pulse_s=max(FIRST_DOSE_S, rules.min_on_s))


def settled(dose: DoseMemory, *, uptime_s: float, settle_s: float) -> bool:
    """Whether the last dose has had time to spread and to reach the sensor."""
    return dose.ended_uptime_s is None or uptime_s - dose.ended_uptime_s >= settle_s


def watched(dose: DoseMemory, *, seen_pct: float, raises: bool) -> DoseMemory:
    """Return the dose with how far it has moved humidity by now."""
    if dose.before_pct is None:
        return dose
    moved_pct = seen_pct - dose.before_pct if raises else dose.before_pct - seen_pct
    return replace(dose, moved_pct=max(dose.moved_pct, moved_pct))


def learned(dose: DoseMemory, *, aim_pct: float, shortest_s: float, longest_s: float) -> DoseMemory:
    """Return the dose after judging, once, what the last one did.

    Wanted was the way from where it began to `aim_pct`. A dose without effect met an open door or
    an empty tank more likely than a larger room, so it grows no further than twice what has been
    seen to work: whatever is mended meanwhile, the next dose must not flood the room.
    """
    if dose.before_pct is None:
        return dose
    proved_s = dose.proved_s
    if dose.moved_pct >= PROVING_EFFECT_PCT:
        proved_s = dose.pulse_s
    elif proved_s is not None:
        longest_s = min(longest_s, MOST_CHANGE_RATIO * proved_s)
    wanted_pct = abs(aim_pct - dose.before_pct)
    ratio = (wanted_pct / max(dose.moved_pct, LEAST_EFFECT_PCT)) ** LEARNING_EXPONENT
    ratio = min(MOST_CHANGE_RATIO, max(1 / MOST_CHANGE_RATIO, ratio))
    pulse_s = min(longest_s, max(shortest_s, dose.pulse_s * ratio))
    return replace(dose, pulse_s=pulse_s, before_pct=None, proved_s=proved_s)


def carried_out(
    dose: DoseMemory, *, was_closed: bool, closed: bool, seen_pct: float | None, uptime_s: float
) -> DoseMemory:
    """Return the dose after the relay has been told what to do: begun, ended or unchanged."""
    if closed and not was_closed:
        return replace(dose, before_pct=seen_pct, moved_pct=0.0, ended_uptime_s=None)
    if was_closed and not closed:
        return replace(dose, ended_uptime_s=uptime_s)
    return dose
