"""The chill against the published cooling options, each judged by itself.

Performance goal behind them: at most tenfold growth of C. perfringens, none of C. botulinum
(FSIS Stabilization Guideline, Revised Appendix B, 2021, FSIS-GD-2021-13).
"""

import itertools
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from hangroom.product.findings import Answer, Finding, Source, Standing
from hangroom.product.temperatures import Point, cooling_span, fahrenheit, in_both, in_order

_HOUR_S = 3600.0


@dataclass(frozen=True, slots=True)
class Leg:
    """From one temperature down to another, degF as published; `most_h` None: no limit on time."""

    from_f: float
    to_f: float
    most_h: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Cure:
    """What a batch brings to the cured options; None where it was never worked out or measured.

    `brine_pct` is water-phase salt in the finished stick. `measured_aw` is a measurement.
    """

    nitrite_ppm: float | None = None
    erythorbate_ppm: float | None = None
    brine_pct: float | None = None
    measured_aw: float | None = None


@dataclass(frozen=True, slots=True)
class Chill:
    """What the options are judged on: core readings in order, and the cook's end, None unknown."""

    series: Sequence[Point]
    cook_end_s: float | None
    cure: Cure


@dataclass(frozen=True, slots=True)
class Said:
    """An answer about one part of an option, and its reason."""

    answer: Answer
    because: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CoolingOption:
    """One published way to cool: its legs, and conditions that are not about those times."""

    what: str
    legs: tuple[Leg, ...]
    source: Source
    conditions: tuple[Callable[[Chill], Said], ...] = ()


def _leg(chill: Chill, leg: Leg) -> Said:
    name = f"{in_both(leg.from_f)} to {in_both(leg.to_f)}"
    span = cooling_span(chill.series, leg.from_f, leg.to_f)
    if span is None:
        return Said(Answer.NOT_SHOWN, f"{name}: no reading below {in_both(leg.from_f)}.")
    if leg.most_h is None:
        reached = fahrenheit(chill.series[-1].temperature_c) <= leg.to_f
        return Said(
            Answer.MET if reached else Answer.NOT_SHOWN,
            f"{name}: {'reached' if reached else 'not yet reached'}.",
        )
    shortest_h, longest_h = span.shortest_s / _HOUR_S, span.longest_s / _HOUR_S
    if longest_h <= leg.most_h:
        return Said(Answer.MET, f"{name}: within {longest_h:.2f} h of {leg.most_h:g} h allowed.")
    if shortest_h > leg.most_h:
        return Said(
            Answer.NOT_MET, f"{name}: at least {shortest_h:.2f} h, {leg.most_h:g} h allowed."
        )
    longest = f"{longest_h:.2f} h" if math.isfinite(longest_h) else "an unknown time"
    return Said(
        Answer.NOT_SHOWN,
        f"{name}: between {shortest_h:.2f} h and {longest}, {leg.most_h:g} h allowed.",
    )


CHILL_WITHIN_H = 1.5
CHILLED_BELOW_F = 120


def _chilled_soon(chill: Chill) -> Said:
    """Option 2's start, judged on the moment the core falls below 120 degF."""
    below = next((p for p in chill.series if fahrenheit(p.temperature_c) < CHILLED_BELOW_F), None)
    if chill.cook_end_s is None or below is None:
        return Said(
            Answer.NOT_SHOWN,
            "Start within 1.5 h of the cook: its end or the chill is not recorded.",
        )
    waited_h = (below.at_s - chill.cook_end_s) / _HOUR_S
    # Chilling may have begun well before the core shows it, so a late core proves nothing.
    soon = 0.0 <= waited_h <= CHILL_WITHIN_H
    return Said(
        Answer.MET if soon else Answer.NOT_SHOWN,
        f"Below {in_both(CHILLED_BELOW_F)} {waited_h:.2f} h after the cook's end.",
    )


SLOW_CHILL_NITRITE_PPM, SLOW_CHILL_ERYTHORBATE_PPM = 100.0, 250.0  # from memory


def _cure_from_memory(chill: Chill) -> Said:
    nitrite_ppm, erythorbate_ppm = chill.cure.nitrite_ppm, chill.cure.erythorbate_ppm
    asked = (
        f"Asked: {SLOW_CHILL_NITRITE_PPM:.0f} ppm nitrite and {SLOW_CHILL_ERYTHORBATE_PPM:.0f} ppm"
        " erythorbate or more (2017/2021 text, from memory)"
    )
    if nitrite_ppm is None or erythorbate_ppm is None:
        return Said(Answer.NOT_SHOWN, f"{asked}; not both are on record.")
    has = f"{nitrite_ppm:.0f} and {erythorbate_ppm:.0f} ppm went in"
    enough = nitrite_ppm >= SLOW_CHILL_NITRITE_PPM and erythorbate_ppm >= SLOW_CHILL_ERYTHORBATE_PPM
    # A minimum known from memory may leave the option unconfirmed; it must not fail a batch.
    return Said(Answer.MET if enough else Answer.NOT_SHOWN, f"{asked}; {has}.")


# 3 CCR 910.15(b): nitrite with brine, or a measured water activity.
CALIFORNIAN_ROUTES_PPM_PCT = ((120.0, 3.5), (40.0, 6.0))
CALIFORNIAN_AW = 0.92


def _californian_cure(chill: Chill) -> Said:
    cure = chill.cure
    asked = (
        "One of: 120 ppm nitrite with 3.5 % brine, 40 ppm with 6 %, or a measured water activity"
        " of 0.92 or less"
    )
    routes = [
        _all_at_least((cure.nitrite_ppm, least_ppm), (cure.brine_pct, least_pct))
        for least_ppm, least_pct in CALIFORNIAN_ROUTES_PPM_PCT
    ]
    routes.append(None if cure.measured_aw is None else cure.measured_aw <= CALIFORNIAN_AW)
    if True in routes:
        return Said(Answer.MET, f"{asked}: one holds.")
    if None in routes:
        return Said(Answer.NOT_SHOWN, f"{asked}: none is shown to hold.")
    return Said(Answer.NOT_MET, f"{asked}: none holds.")


def _all_at_least(*pairs: tuple[float | None, float]) -> bool | None:
    """Whether each figure reaches its bound; None where that cannot be told."""
    reached = [None if figure is None else figure >= bound for figure, bound in pairs]
    if False in reached:
        return False
    return None if None in reached else True


def _falls_throughout(chill: Chill) -> Said:
    falls = all(
        later.temperature_c <= earlier.temperature_c
        for earlier, later in itertools.pairwise(chill.series)
    )
    if falls and len(chill.series) > 1:
        return Said(Answer.MET, "The temperature fell throughout.")
    return Said(
        Answer.NOT_SHOWN,
        "The temperature did not fall throughout; the surface must then not spend over 2 h between"
        " 120 and 80 °F, and the surface was not measured.",
    )


OPTIONS = (
    CoolingOption(
        what="cooling option 1, rapid chill",
        legs=(Leg(130, 80, 1.5), Leg(80, 40, 5.0)),
        source=Source(
            "FSIS Appendix B, as on the Ohio State Meat Science temperature sheet", Standing.SEEN
        ),
    ),
    CoolingOption(
        what="cooling option 2, cooked-beef style",
        legs=(Leg(120, 80, 1.0), Leg(80, 55, 5.0), Leg(55, 40, None)),
        conditions=(_chilled_soon,),
        source=Source(
            "FSIS Appendix B, Ohio State sheet, with the 1 h clause of Michigan State 2020",
            Standing.SEEN,
        ),
    ),
    CoolingOption(
        what="cooling option 3, slow chill of cured product",
        legs=(Leg(130, 80, 5.0), Leg(80, 45, 10.0)),
        conditions=(_cure_from_memory,),
        source=Source(
            "FSIS Appendix B; 80 to 45 °F from a second-hand guide, while the Ohio State sheet says"
            " 80 to 40 °F",
            Standing.SECOND_HAND,
        ),
    ),
    CoolingOption(
        what="Californian slow cooling of cured product",
        legs=(Leg(120, 40, 20.0),),
        conditions=(_falls_throughout, _californian_cure),
        source=Source("3 CCR 910.15(b)", Standing.SEEN),
    ),
    CoolingOption(
        what="retail and home cooling rule",
        legs=(Leg(135, 70, 2.0), Leg(70, 41, 4.0)),
        source=Source("3 CCR 910.15(a)", Standing.SEEN),
    ),
)


def judge_cooling(
    points: Iterable[Point], *, cook_end_s: float | None = None, cure: Cure | None = None
) -> tuple[Finding, ...]:
    """Judge core readings by every option; one that is met is enough for the guideline.

    Raises InputError for readings out of order.
    """
    chill = Chill(in_order(points), cook_end_s, cure or Cure())
    return tuple(_judge(chill, option) for option in OPTIONS)


def _judge(chill: Chill, option: CoolingOption) -> Finding:
    said = [_leg(chill, leg) for leg in option.legs]
    said += [condition(chill) for condition in option.conditions]
    answers = {one.answer for one in said}
    answer = (
        Answer.NOT_MET
        if Answer.NOT_MET in answers
        else Answer.NOT_SHOWN
        if Answer.NOT_SHOWN in answers
        else Answer.MET
    )
    return Finding(
        answer=answer,
        what=option.what,
        because=" ".join(one.because for one in said),
        source=option.source,
        would_settle=(
            "Core readings from the end of the cook until the last temperature named, close enough"
            " together; for a cured option also what it asks of the cure."
            if answer is Answer.NOT_SHOWN
            else ""
        ),
    )
