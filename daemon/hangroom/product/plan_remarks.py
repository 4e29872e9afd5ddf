"""What a humidity plan reaches, what it costs and why it cannot do better: codes and figures."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from hangroom.product.forecast import Forecast, Remark
from hangroom.product.humidity_plan import GroupPlanned, HumidityStep, SetpointLimits

# As good as on time: closer than a forecast can tell. Our own judgement, as the others below.
ON_TIME_WITHIN_H = 2.0
# Differences worth a sentence: of the surface's water beside the core's, of the 80 % range's width,
# of the humidity wanted.
TOLD_FROM_RATIO = 0.01
TOLD_FROM_H = 3.0
TOLD_FROM_TIMES = 1.1
TOLD_FROM_PCT = 1.0
# From here on mould is to be looked for. Common practice, no source.
MOULD_FROM_PCT = 85.0

# A figure of a remark, with its unit in its name, or a name.
Figure: TypeAlias = float | str


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """How the search for a plan ended.

    `keeps_surface`: whether every surface stays as moist as asked; `held_by_surface`: whether that
    asks for moister air than the room's driest. `at_driest`, `at_moistest`: whether the plan lies
    at that end of what surfaces and room allow; else a neighbour keeps a group off. `alone_pct`:
    the humidity that each group of which something is wanted would have for itself. `before_pct`:
    what was wanted so far. `hurried`: the forecasts where a drier surface, down to `hurried_ratio`,
    is put up with.
    """

    limits: SetpointLimits
    steps: tuple[HumidityStep, ...]
    least_ratio: float
    keeps_surface: bool
    held_by_surface: bool
    at_driest: bool
    at_moistest: bool
    alone_pct: Mapping[str, float]
    before_pct: float | None = None
    hurried: Mapping[str, Forecast] | None = None
    hurried_ratio: float = 0.0


def remarks_of(groups: Sequence[GroupPlanned], found: Found) -> tuple[Remark, ...]:
    """Return what is to be told of a plan: for each group what it reaches, then the price."""
    told: list[Remark] = []
    for each in groups:
        told += _reached(each, found)
    for each in groups:
        told += _price(each)
    if len(found.alone_pct) > 1:
        told += [
            _remark("plan-alone", group=group, humidity_pct=humidity_pct)
            for group, humidity_pct in found.alone_pct.items()
        ]
    told += _moist(found)
    return tuple(told)


def arrived_remarks(groups: Sequence[GroupPlanned]) -> tuple[Remark, ...]:
    """Return what is to be told where every group has reached its target."""
    return tuple(_remark("plan-arrived", group=each.group) for each in groups)


def _reached(each: GroupPlanned, found: Found) -> Iterator[Remark]:
    forecast = each.planned
    if forecast.yield_ratio <= forecast.target_yield_ratio:
        yield _remark("plan-arrived", group=each.group)
        return
    if not found.keeps_surface:
        yield _remark(
            "plan-not-gentle",
            group=each.group,
            least_surface_to_core_ratio=forecast.least_surface_to_core_ratio,
            limit_ratio=found.least_ratio,
            highest_pct=found.limits.highest_pct,
        )
    if forecast.p50_h is None:
        yield _remark("plan-never", group=each.group, never_pct=forecast.never_pct)
        return
    if not each.asked:
        yield _bystander(each, forecast.p50_h)
        return
    yield _landing(each, forecast.p50_h, found)
    if each.miss_h is not None and each.miss_h > ON_TIME_WITHIN_H and found.hurried is not None:
        hurried_h = found.hurried[each.group].p50_h
        if hurried_h is not None and hurried_h < forecast.p50_h - ON_TIME_WITHIN_H:
            yield _remark(
                "plan-could-hurry",
                group=each.group,
                middle_h=hurried_h,
                limit_ratio=found.hurried_ratio,
            )


def _landing(each: GroupPlanned, ready_h: float, found: Found) -> Remark:
    figures: dict[str, float | str] = {"group": each.group, "middle_h": ready_h}
    figures |= _range(each.planned)
    if each.wanted_h is None or each.miss_h is None:
        least_ratio = each.planned.least_surface_to_core_ratio
        return _remark("plan-gently", **figures, least_surface_to_core_ratio=least_ratio)
    if abs(each.miss_h) <= ON_TIME_WITHIN_H:
        return _remark("plan-lands", **figures)
    figures |= {"wanted_h": each.wanted_h, "hours": abs(each.miss_h)}
    return _late(figures, found) if each.miss_h > 0.0 else _early(figures, found)


def _bystander(each: GroupPlanned, ready_h: float) -> Remark:
    before_h = each.as_it_is.p50_h
    before = {} if before_h is None else {"before_h": before_h}
    return _remark("plan-bystander", group=each.group, middle_h=ready_h, **before)


def _late(figures: dict[str, float | str], found: Found) -> Remark:
    """Say what keeps a group from being ready sooner: a neighbour, its surface, or the room."""
    if not found.at_driest:
        return _remark("plan-late-shared", **figures)
    if found.held_by_surface:
        return _remark("plan-late-surface", **figures, limit_ratio=found.least_ratio)
    return _remark("plan-late-room", **figures, lowest_pct=found.limits.lowest_pct)


def _early(figures: dict[str, float | str], found: Found) -> Remark:
    """Say what keeps a group from being ready later: a neighbour, or the room."""
    if not found.at_moistest:
        return _remark("plan-early-shared", **figures)
    return _remark("plan-early-room", **figures, highest_pct=found.limits.highest_pct)


def _price(each: GroupPlanned) -> Iterator[Remark]:
    before, after = each.as_it_is, each.planned
    least_ratio, least_before_ratio = (one.least_surface_to_core_ratio for one in (after, before))
    if least_ratio < least_before_ratio - TOLD_FROM_RATIO:
        yield _remark(
            "plan-costs-surface",
            group=each.group,
            least_surface_to_core_ratio=least_ratio,
            before_ratio=least_before_ratio,
        )
    window_hours, before_hours = _window_h(after), _window_h(before)
    if (
        window_hours is not None
        and before_hours is not None
        and window_hours > max(before_hours + TOLD_FROM_H, TOLD_FROM_TIMES * before_hours)
    ):
        yield _remark(
            "plan-costs-window", group=each.group, hours=window_hours, before_hours=before_hours
        )


def _moist(found: Found) -> Iterator[Remark]:
    """Say what moister air costs: water, and looking for mould."""
    moistest_pct = max(step.humidity_pct for step in found.steps)
    if found.before_pct is not None:
        moister_pct = found.steps[0].humidity_pct - found.before_pct
        if moister_pct >= TOLD_FROM_PCT:
            yield _remark("plan-costs-water", more_pct=moister_pct)
    if moistest_pct >= MOULD_FROM_PCT:
        yield _remark("plan-costs-mould", humidity_pct=moistest_pct)


def _range(forecast: Forecast) -> dict[str, float | str]:
    if forecast.p10_h is None or forecast.p90_h is None:
        return {"never_pct": forecast.never_pct}
    return {"from_h": forecast.p10_h, "to_h": forecast.p90_h}


def _window_h(forecast: Forecast) -> float | None:
    if forecast.p10_h is None or forecast.p90_h is None:
        return None
    return forecast.p90_h - forecast.p10_h


def _remark(code: str, **figures: Figure) -> Remark:
    return Remark(code=code, figures=figures)
