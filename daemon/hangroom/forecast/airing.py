"""The air a group dries in, cut into steps: measured, then planned, gaps bridged.

Over a step temperature, saturation pressure and vapour pressure are averaged, each by itself: what
evaporates goes by the vapour's pressure, and so a humidity that swings is not averaged away.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from hangroom.air import saturation_pressure_fast_pa
from hangroom.forecast.keeping import off_plan
from hangroom.forecast.particles import Floats
from hangroom.product import drying_priors as priors
from hangroom.product.drying import OPENING_STEPS, edges_h
from hangroom.product.forecast import AirPlanned, AirSeen, Remark

# Up to so long the air is taken to run straight on between two readings. Judgement.
BRIDGED_H = 2.0
STEP_H = 1.0
MOST_STEPS = 400
HORIZON_H = 60.0 * 24.0
OPENING_H = OPENING_STEPS[-1][0]
# The plan is stepped more coarsely further on: what is left to evaporate has become slow.
PLAN_STEPS_H = ((48.0, 1.0), (240.0, 2.0), (HORIZON_H, 4.0))
# Before so many hours a room still starts up; its later air is the better stand-in for a plan.
START_UP_H, RECENT_H = 12.0, 24.0
MOST_GAPS_TOLD = 5
COLDEST_C, WARMEST_C = -40.0, 50.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Steps:
    """Air over steps between `edges_h`; one figure for each step, one more edge.

    `unsure_*`: how far the air may have been from that, one standard deviation.
    """

    edges_h: Floats
    temperature_c: Floats
    saturation_pa: Floats
    humidity_ratio: Floats
    unsure_humidity_ratio: Floats
    unsure_temperature_c: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A stretch of hours."""

    from_h: float
    to_h: float


def usable(air: Iterable[AirSeen], *, now_h: float) -> tuple[AirSeen, ...]:
    """Return what can be air, up to now, in order; a reading that cannot be counts as none."""
    return tuple(
        sorted(
            (
                seen
                for seen in air
                if -BRIDGED_H <= seen.at_h <= now_h
                and COLDEST_C <= seen.temperature_c <= WARMEST_C
                and 0.0 <= seen.humidity_pct <= 100.0  # noqa: PLR2004  # what humidity can be
            ),
            key=lambda seen: seen.at_h,
        )
    )


def gaps(air: Sequence[AirSeen], *, now_h: float) -> tuple[Stretch, ...]:
    """Return the stretches of more than two hours up to now in which nothing was read."""
    times_h = [0.0, *(max(seen.at_h, 0.0) for seen in air), now_h]
    return tuple(
        Stretch(from_h=earlier_h, to_h=later_h)
        for earlier_h, later_h in pairwise(times_h)
        if later_h - earlier_h > BRIDGED_H
    )


def past(
    air: Sequence[AirSeen], plan: Sequence[AirPlanned], *, now_h: float, looks_h: Iterable[float]
) -> tuple[Steps, tuple[Remark, ...]]:
    """Return the steps from hanging to now, with an edge at every look, and what is to be said."""
    step_h = max(STEP_H, now_h / MOST_STEPS)
    edges = [*edges_h(now_h, step_h), *(at_h for at_h in looks_h if 0.0 < at_h < now_h)]
    stepped_h = np.unique(edges)
    missing = gaps(air, now_h=now_h)
    if not air:
        steps = _planned(plan, stepped_h, *_gap_sds())
        return steps, (Remark(code="no-air"),) if now_h > BRIDGED_H else ()
    at_h = np.array([seen.at_h for seen in air])
    temperature_c = np.array([seen.temperature_c for seen in air])
    saturation_pa = saturation_each_pa(temperature_c)
    vapour_pa = saturation_pa * np.array([seen.humidity_pct for seen in air]) / 100.0
    mean_saturation_pa = _means(at_h, saturation_pa, stepped_h)
    unknown_ratio = np.zeros(len(stepped_h) - 1)
    for gap in missing:
        inside_h = np.minimum(stepped_h[1:], gap.to_h) - np.maximum(stepped_h[:-1], gap.from_h)
        unknown_ratio += np.clip(inside_h, 0.0, None) / np.diff(stepped_h)
    humidity_sd_ratio, temperature_sd_c = _gap_sds()
    steps = Steps(
        edges_h=stepped_h,
        temperature_c=_means(at_h, temperature_c, stepped_h),
        saturation_pa=mean_saturation_pa,
        humidity_ratio=_means(at_h, vapour_pa, stepped_h) / mean_saturation_pa,
        unsure_humidity_ratio=humidity_sd_ratio * unknown_ratio,
        unsure_temperature_c=temperature_sd_c * unknown_ratio,
    )
    longest = sorted(missing, key=lambda gap: gap.from_h - gap.to_h)[:MOST_GAPS_TOLD]
    return steps, tuple(
        Remark(
            code="air-missing",
            figures={"from_h": gap.from_h, "to_h": gap.to_h, "hours": gap.to_h - gap.from_h},
        )
        for gap in sorted(longest, key=lambda gap: gap.from_h)
    )


def to_come(
    air: Sequence[AirSeen],
    plan: Sequence[AirPlanned],
    *,
    kept: Sequence[AirPlanned],
    now_h: float,
) -> tuple[Steps, tuple[Remark, ...]]:
    """Return the steps from now to the horizon of 60 days, and what is to be said.

    `kept`: the plan that was in force up to now, which shows how far the room keeps off one.
    """
    edges = [now_h, *(at_h for at_h in edges_h(OPENING_H, STEP_H) if at_h > now_h)]
    for until_h, step_h in PLAN_STEPS_H:
        edges.extend(np.arange(edges[-1] + step_h, now_h + until_h + 1e-9, step_h))
    changes_h = [p.from_h for p in plan if now_h < p.from_h < now_h + HORIZON_H]
    stepped_h = np.unique(np.concatenate([edges, changes_h]))
    if not plan:
        return _planned(_as_lately(air, now_h), stepped_h, *_gap_sds()), (Remark(code="no-plan"),)
    humidity, temperature = off_plan(air, kept, now_h=now_h)
    kept_off = [
        AirPlanned(
            from_h=each.from_h,
            temperature_c=each.temperature_c + temperature.mean,
            humidity_pct=each.humidity_pct + humidity.mean,
        )
        for each in plan
    ]
    steps = _planned(kept_off, stepped_h, humidity.sd / 100.0, temperature.sd)
    if humidity.beyond is None and temperature.beyond is None:
        return steps, ()
    in_force = max((each for each in kept if each.from_h <= now_h), key=lambda each: each.from_h)
    figures: dict[str, float | str] = {
        "humidity_pct": in_force.humidity_pct + (humidity.beyond or humidity.mean),
        "temperature_c": in_force.temperature_c + (temperature.beyond or temperature.mean),
        "planned_pct": in_force.humidity_pct,
        "planned_c": in_force.temperature_c,
    }
    return steps, (Remark(code="air-off-plan", figures=figures),)


def saturation_each_pa(temperature_c: Floats) -> Floats:
    """Saturation pressure at each temperature, to a hundredth of a degree."""
    different, which = np.unique(np.round(temperature_c, 2), return_inverse=True)
    found = np.array([saturation_pressure_fast_pa(float(each)) for each in different])
    return np.asarray(found[which])


def _gap_sds() -> tuple[float, float]:
    return priors.GAP_HUMIDITY_SD_PCT / 100.0, priors.GAP_TEMPERATURE_SD_C


def _as_lately(air: Sequence[AirSeen], now_h: float) -> tuple[AirPlanned, ...]:
    """Stand in for a plan: the last day's mean air, without the room's start where it can."""
    lately = [seen for seen in air if seen.at_h >= now_h - RECENT_H]
    lately = [seen for seen in lately if seen.at_h >= START_UP_H] or lately or list(air[-1:])
    if not lately:
        return ()
    return (
        AirPlanned(
            from_h=now_h,
            temperature_c=float(np.mean([seen.temperature_c for seen in lately])),
            humidity_pct=float(np.mean([seen.humidity_pct for seen in lately])),
        ),
    )


def _planned(
    plan: Sequence[AirPlanned],
    edges_h: Floats,
    humidity_sd_ratio: float,
    temperature_sd_c: float,
) -> Steps:
    ordered = sorted(plan, key=lambda each: each.from_h) or [
        AirPlanned(
            from_h=0.0,
            temperature_c=priors.UNKNOWN_TEMPERATURE_C,
            humidity_pct=priors.UNKNOWN_HUMIDITY_PCT,
        )
    ]
    starts_h = [each.from_h for each in ordered]
    which = np.clip(np.searchsorted(starts_h, edges_h[:-1], side="right") - 1, 0, None)
    temperature_c = np.clip([each.temperature_c for each in ordered], COLDEST_C, WARMEST_C)[which]
    return Steps(
        edges_h=edges_h,
        temperature_c=temperature_c,
        saturation_pa=saturation_each_pa(temperature_c),
        humidity_ratio=np.array([each.humidity_pct for each in ordered])[which] / 100.0,
        unsure_humidity_ratio=np.full(len(which), humidity_sd_ratio),
        unsure_temperature_c=np.full(len(which), temperature_sd_c),
    )


def _means(at_h: Floats, values: Floats, edges_h: Floats) -> Floats:
    """Mean over each step of what runs straight between readings and is held beyond them."""
    if len(edges_h) < 2:  # noqa: PLR2004  # no step at all
        return np.zeros(0)
    grid_h = np.unique(np.concatenate([at_h[(at_h > 0.0) & (at_h < edges_h[-1])], edges_h]))
    there = np.interp(grid_h, at_h, values)
    areas = np.diff(grid_h) * (there[1:] + there[:-1]) / 2.0
    summed = np.concatenate([[0.0], np.cumsum(areas)])
    return np.asarray(np.diff(summed[np.searchsorted(grid_h, edges_h)]) / np.diff(edges_h))
