"""One group's forecast: how done it is, when it arrives, how surely."""

from collections.abc import Sequence
from dataclasses import replace
from time import perf_counter

import numpy as np

from hangroom.forecast.arriving import Ahead, Arrival, ahead, arrival, quantiles, yields_at
from hangroom.forecast.doubts import doubts, untangled
from hangroom.forecast.learning import FEWEST_EFFECTIVE, Learned, learn, without_unlikely
from hangroom.forecast.looks import bases, hung_ratio_of, looks_of, thinned
from hangroom.forecast.particles import Floats, beliefs_after
from hangroom.forecast.path import MATHS
from hangroom.forecast.single import sticks_now
from hangroom.product.drying import Drying, core_water_ratio
from hangroom.product.forecast import AirPlanned, CurvePoint, Forecast, Question, Remark
from hangroom.product.inputs import require_above_zero, require_within
from hangroom.product.sorption import water_activity

CURVE_POINTS = 80
RATE_OVER_H = 6.0


def learned_from(question: Question, *, particles: int = 1024, seed: int = 1) -> Learned:
    """Weigh the ways of drying against all that was measured; plans can be tried on the result.

    Raises InputError for a target, water, diameter or scale that cannot be.
    """
    _check(question)
    stick_bases = bases(question)
    looks, impossible = looks_of(question)
    looks, exchanged = untangled(looks, question, stick_bases)
    looks = thinned(looks)
    learned = learn(
        question,
        looks,
        stick_bases,
        hung_ratio_of(question),
        particles=particles,
        seed=seed,
    )
    # Doubts weigh ways that the newest look made unlikely, and so come first.
    remarks = (*learned.remarks, *impossible, *exchanged, *doubts(learned))
    return replace(without_unlikely(learned), remarks=remarks)


def forecast(question: Question, *, particles: int = 1024, seed: int = 1) -> Forecast:
    """Answer a question; the same question and seed give the same answer.

    Raises InputError for a target, water, diameter or scale that cannot be; everything else that
    is odd or missing is answered with a remark.
    """
    started_s = perf_counter()
    answer = answered(learned_from(question, particles=particles, seed=seed))
    return replace(answer, ms=1000.0 * (perf_counter() - started_s))


def answered(learned: Learned, plan: Sequence[AirPlanned] | None = None) -> Forecast:
    """Answer from what was learned, in the question's own plan or another; `ms` of this part."""
    started_s = perf_counter()
    question = learned.question
    way = ahead(learned, plan)
    arrives = arrival(learned, way)
    weights_ratio = learned.weights_ratio
    yields, shares = yields_at(learned, way, way.now_edge)
    yield_ratio = float(shares @ yields)
    surface, core = _waters(learned, way)
    ratios = np.minimum(np.minimum(surface / core, 1.0) @ weights_ratio, 1.0)
    stick = learned.particles.stick
    surface_aw, core_aw = (
        float(
            weights_ratio
            @ water_activity(water[way.now_edge], stick.strength, stick.steepness, np.exp)[0]
        )
        for water in (surface, core)
    )
    return Forecast(
        now_h=question.now_h,
        target_yield_ratio=question.target_yield_ratio,
        hung_ratio=float(weights_ratio @ learned.particles.hung_ratio),
        yield_ratio=yield_ratio,
        yield_sd_ratio=float(np.sqrt(shares @ (yields - yield_ratio) ** 2)),
        p10_h=_early_h(arrives.p10_h, arrives, question.now_h),
        p50_h=arrives.p50_h,
        p90_h=arrives.p90_h,
        never_pct=arrives.never_pct,
        loss_pct_per_day=_loss_pct_per_day(learned, way),
        surface_to_core_ratio=float(ratios[way.now_edge]),
        least_surface_to_core_ratio=float(ratios[_until_there(way, arrives)].min()),
        surface_aw=surface_aw,
        core_aw=core_aw,
        effective_particles=learned.effective,
        sticks=sticks_now(learned),
        curve=_curve(learned, way, arrives),
        beliefs=beliefs_after(learned.particles, weights_ratio),
        remarks=(*learned.remarks, *way.remarks, *_remarks(learned, arrives)),
        ms=1000.0 * (perf_counter() - started_s),
    )


def _check(question: Question) -> None:
    require_within(
        "the target yield on green weight, as a ratio,", question.target_yield_ratio, 0.05, 1.5
    )
    require_within("the water's share of the weight as hung", question.water_fraction, 0.2, 0.9)
    require_within("the diameter in mm", question.diameter_mm, 3.0, 150.0)
    require_within("the standard deviation of the scale in grams", question.scale_sd_g, 0.0, 1000.0)
    require_within("the hours since hanging", question.now_h, 0.0, 24.0 * 366.0)
    for each in question.tagged:
        require_above_zero(f"the green weight of {each.tag} in grams", each.green_weight_g)
        if each.hang_weight_g is not None:
            require_above_zero(f"the hang weight of {each.tag} in grams", each.hang_weight_g)


def _early_h(hour_h: float | None, arrives: Arrival, now_h: float) -> float | None:
    """The early end of the range is not in the past unless the middle is."""
    if hour_h is None or (arrives.p50_h is not None and arrives.p50_h <= now_h):
        return hour_h
    return max(hour_h, now_h)


def _waters(learned: Learned, way: Ahead) -> tuple[Floats, Floats]:
    """Water at the surface and in the core of every way at every edge, kg/kg dry matter."""
    surface = way.path.surface_ratio
    core = core_water_ratio(
        learned.particles.stick,
        Drying(loss_ratio=way.path.loss_ratio, surface_ratio=surface),
        MATHS,
    )
    return surface, np.maximum(core, 1e-3)


def _loss_pct_per_day(learned: Learned, way: Ahead) -> float:
    edges_h = way.path.edges_h
    later = int(np.searchsorted(edges_h, learned.question.now_h + RATE_OVER_H))
    later = min(later, len(edges_h) - 1)
    if later == way.now_edge:
        return 0.0
    lost = way.path.loss_ratio[later] - way.path.loss_ratio[way.now_edge]
    return (
        float(learned.weights_ratio @ lost) * 2400.0 / float(edges_h[later] - edges_h[way.now_edge])
    )


def _until_there(way: Ahead, arrives: Arrival) -> slice:
    edges_h = way.path.edges_h
    there_h = edges_h[-1] if arrives.p50_h is None else arrives.p50_h
    last = int(np.searchsorted(edges_h, there_h))
    return slice(way.now_edge, max(min(last, len(edges_h) - 1), way.now_edge) + 1)


def _curve(learned: Learned, way: Ahead, arrives: Arrival) -> tuple[CurvePoint, ...]:
    edges_h, now_h = way.path.edges_h, learned.question.now_h
    # A little beyond the late end, so that the page can show the band pass the target.
    ends = [hour for hour in (arrives.p90_h, arrives.p50_h, arrives.p10_h) if hour is not None]
    end_h = max(1.1 * max(ends, default=now_h + 240.0), now_h + 24.0)
    last = min(int(np.searchsorted(edges_h, end_h)), len(edges_h) - 1)
    wanted_h = np.linspace(0.0, edges_h[last], CURVE_POINTS - 1)
    chosen = np.unique([*np.searchsorted(edges_h, wanted_h), way.now_edge])
    points = []
    for edge in chosen:
        yields, shares = yields_at(learned, way, int(edge))
        low, middle, high = quantiles(yields, shares, (0.1, 0.5, 0.9))
        points.append(
            CurvePoint(
                at_h=float(edges_h[edge]), low_ratio=low, middle_ratio=middle, high_ratio=high
            )
        )
    return tuple(points)


def _remarks(learned: Learned, arrives: Arrival) -> Sequence[Remark]:
    question = learned.question
    remarks = []
    if not learned.hung.weighed:
        remarks.append(
            Remark(code="hang-weight-assumed", figures={"ratio": learned.hung.mean_ratio})
        )
    if not question.diameter_measured:
        remarks.append(Remark(code="diameter-nominal", figures={"mm": question.diameter_mm}))
    hung_ratio = float(learned.weights_ratio @ learned.particles.hung_ratio)
    if question.target_yield_ratio >= hung_ratio:
        remarks.append(
            Remark(
                code="target-above-hang",
                figures={
                    "target_pct": 100.0 * question.target_yield_ratio,
                    "hung_pct": 100.0 * hung_ratio,
                },
            )
        )
    elif arrives.p50_h is not None and arrives.p50_h <= question.now_h:
        remarks.append(Remark(code="target-passed", figures={"at_h": arrives.p50_h}))
    if learned.effective < FEWEST_EFFECTIVE:
        remarks.append(Remark(code="few-particles", figures={"effective": learned.effective}))
    return remarks
