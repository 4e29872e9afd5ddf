"""What a forecast warns of. Pure: a forecast, the one before and the day's hours in, warnings out.

The sentences stand in `hangroom.product.forecast_words`.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from hangroom.product.arrival import arrival_chance_ratio, likely_ratio
from hangroom.product.drying_lights import (
    GREEN_FROM_RATIO,
    RED_BELOW_RATIO,
    Light,
    is_sealed,
    loss_light,
    loss_limits,
    ratio_light,
)
from hangroom.product.forecast import Forecast, Remark

# The limits below are our own judgement; no source.
# A chance of arriving in the night from which it is worth knowing in the evening, and from which
# something should be done about it that evening.
NIGHT_TOLD_FROM_RATIO = 0.25
NIGHT_LOUD_FROM_RATIO = 0.50
# How far beyond its target, in parts of the green weight, a group is hardly told from one at it.
TASTED_FROM_RATIO = 0.01
# The share of trial runs that never arrive from which "never" is more likely than not.
NEVER_FROM_PCT = 50.0


class Loudness(StrEnum):
    """How soon somebody should act: today, or by looking into it some time; as with alarms."""

    MEDIUM = "medium"
    LOW = "low"


# What the forecaster noted that is a warning too.
LOUD_REMARKS: Mapping[str, Loudness] = MappingProxyType(
    {
        "target-passed": Loudness.MEDIUM,
        "rate-fell": Loudness.MEDIUM,
        "weight-outside-band": Loudness.MEDIUM,
        "weight-impossible": Loudness.MEDIUM,
        "weights-rise": Loudness.LOW,
        "tags-swapped": Loudness.LOW,
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ahead:
    """What the keeper's day brings, in hours since the group was hung; None where not known."""

    inspection_h: float | None = None
    night_from_h: float | None = None
    night_to_h: float | None = None


@dataclass(frozen=True, slots=True)
class Warned:
    """A warning: how loud it is, and what it says."""

    loudness: Loudness
    remark: Remark


def warnings_of(
    forecast: Forecast,
    *,
    group: str,
    diameter_mm: float,
    ahead: Ahead,
    before: Forecast | None = None,
) -> tuple[Warned, ...]:
    """Return what a forecast warns of, the loudest first.

    `group`: as it is called in a sentence, for example 'group A'. `diameter_mm`: as hung.
    `before`: the forecast of the same group that the keeper saw last.
    """
    found = [
        *_from_remarks(forecast),
        *_tonight(forecast, group, ahead),
        *_overshoot(forecast, group, ahead),
        *_surface(forecast, group),
        *_loss(forecast, group, diameter_mm),
        *_never(forecast, group),
        *_range_missed(forecast, group, before),
    ]
    return tuple(sorted(found, key=lambda warned: list(Loudness).index(warned.loudness)))


def news(now: Iterable[Warned], before: Iterable[Warned]) -> tuple[Warned, ...]:
    """Return the warnings that were not there before, or not as loud: those worth a ring."""
    told = {(one.remark.code, one.loudness) for one in before}
    quiet = {code for code, loudness in told if loudness is Loudness.MEDIUM}
    return tuple(
        one
        for one in now
        if one.remark.code not in quiet and (one.remark.code, one.loudness) not in told
    )


def _from_remarks(forecast: Forecast) -> Iterator[Warned]:
    for remark in forecast.remarks:
        if remark.code in LOUD_REMARKS:
            yield Warned(LOUD_REMARKS[remark.code], remark)


def _arrived(forecast: Forecast) -> bool:
    return forecast.yield_ratio <= forecast.target_yield_ratio


def _tonight(forecast: Forecast, group: str, ahead: Ahead) -> Iterator[Warned]:
    if _arrived(forecast) or ahead.night_from_h is None or ahead.night_to_h is None:
        return
    by_morning = arrival_chance_ratio(forecast, ahead.night_to_h)
    by_evening = arrival_chance_ratio(forecast, max(ahead.night_from_h, forecast.now_h))
    if by_morning is None or by_evening is None:
        return
    in_the_night = by_morning - by_evening
    if in_the_night < NIGHT_TOLD_FROM_RATIO:
        return
    figures: dict[str, float | str] = {
        "group": group,
        "target_pct": 100.0 * forecast.target_yield_ratio,
        "night_pct": 100.0 * in_the_night,
    }
    if None not in (forecast.p10_h, forecast.p50_h, forecast.p90_h):
        figures |= _moments(from_h=forecast.p10_h, middle_h=forecast.p50_h, to_h=forecast.p90_h)
    loud = in_the_night >= NIGHT_LOUD_FROM_RATIO
    yield Warned(
        Loudness.MEDIUM if loud else Loudness.LOW, Remark(code="target-tonight", figures=figures)
    )


def _overshoot(forecast: Forecast, group: str, ahead: Ahead) -> Iterator[Warned]:
    if _arrived(forecast) or forecast.p50_h is None or ahead.inspection_h is None:
        return
    then_ratio = likely_ratio(forecast, ahead.inspection_h)
    if then_ratio is None or then_ratio > forecast.target_yield_ratio - TASTED_FROM_RATIO:
        return
    yield Warned(
        Loudness.MEDIUM,
        Remark(
            code="overshoot",
            figures={
                "group": group,
                "target_pct": 100.0 * forecast.target_yield_ratio,
                "middle_h": forecast.p50_h,
                "inspection_h": ahead.inspection_h,
                "then_pct": 100.0 * then_ratio,
            },
        ),
    )


def _surface(forecast: Forecast, group: str) -> Iterator[Warned]:
    ratio, least_ratio = forecast.surface_to_core_ratio, forecast.least_surface_to_core_ratio
    light = ratio_light(ratio)
    seen: dict[str, float | str] = {"group": group, "surface_to_core_ratio": ratio}
    if light is Light.RED:
        figures = {**seen, "limit_ratio": RED_BELOW_RATIO}
        yield Warned(Loudness.MEDIUM, Remark(code="drying-too-fast", figures=figures))
    elif is_sealed(forecast.surface_aw, forecast.core_aw):
        sealed: dict[str, float | str] = {
            "group": group,
            "surface_aw": forecast.surface_aw,
            "core_aw": forecast.core_aw,
        }
        yield Warned(Loudness.MEDIUM, Remark(code="surface-sealed", figures=sealed))
    elif light is Light.AMBER:
        figures = {**seen, "limit_ratio": GREEN_FROM_RATIO}
        yield Warned(Loudness.LOW, Remark(code="drying-fast", figures=figures))
    worse = list(Light).index(ratio_light(least_ratio)) > list(Light).index(light)
    if worse and not _arrived(forecast):
        ahead: dict[str, float | str] = {
            "group": group,
            "least_surface_to_core_ratio": least_ratio,
            "limit_ratio": GREEN_FROM_RATIO if light is Light.GREEN else RED_BELOW_RATIO,
        }
        yield Warned(Loudness.LOW, Remark(code="rim-ahead", figures=ahead))


def _loss(forecast: Forecast, group: str, diameter_mm: float) -> Iterator[Warned]:
    light, limits = loss_light(forecast.loss_pct_per_day, diameter_mm), loss_limits(diameter_mm)
    if light is Light.GREEN:
        return
    red = light is Light.RED
    yield Warned(
        Loudness.MEDIUM if red else Loudness.LOW,
        Remark(
            code="loss-too-fast" if red else "loss-fast",
            figures={
                "group": group,
                "loss_pct_per_day": forecast.loss_pct_per_day,
                "limit_pct_per_day": limits.red_pct_per_day if red else limits.amber_pct_per_day,
            },
        ),
    )


def _never(forecast: Forecast, group: str) -> Iterator[Warned]:
    if not _arrived(forecast) and forecast.never_pct >= NEVER_FROM_PCT:
        figures: dict[str, float | str] = {
            "group": group,
            "target_pct": 100.0 * forecast.target_yield_ratio,
            "never_pct": forecast.never_pct,
        }
        yield Warned(Loudness.LOW, Remark(code="target-never", figures=figures))


def _range_missed(forecast: Forecast, group: str, before: Forecast | None) -> Iterator[Warned]:
    if before is None or before.p10_h is None or before.p90_h is None or forecast.p50_h is None:
        return
    same = before.target_yield_ratio == forecast.target_yield_ratio
    if not same or _arrived(forecast) or before.p10_h <= forecast.p50_h <= before.p90_h:
        return
    yield Warned(
        Loudness.LOW,
        Remark(
            code="range-missed",
            figures={
                "group": group,
                "middle_h": forecast.p50_h,
                "earlier_from_h": before.p10_h,
                "earlier_to_h": before.p90_h,
            },
        ),
    )


def _moments(**moments_h: float | None) -> dict[str, float]:
    return {name: at_h for name, at_h in moments_h.items() if at_h is not None}
