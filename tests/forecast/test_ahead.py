"""The way there: the model's own error between weigh-ins and beyond, and the target's crossing."""

from dataclasses import replace

import numpy as np
import pytest
from forecast.asking import TAGGED, TWO_DAYS, measured, weighed

from hangroom.forecast import forecast, learned_from
from hangroom.forecast.arriving import ahead, arrival, crossings, quantiles
from hangroom.product.drying_priors import SPREADS
from hangroom.product.forecast import Weighing

FEW = 256


def test_the_models_error_is_pinned_at_weigh_ins_and_wanders_beyond() -> None:
    """A Brownian motion in the share lost: its variance grows by sigma^2 for a unit of loss."""
    learned = learned_from(TWO_DAYS, particles=FEW)
    way = ahead(learned)
    sigma = SPREADS.model_sd_ratio
    edges_h = way.path.edges_h
    for look, at_h in enumerate((24.0, 48.0)):
        edge = int(np.searchsorted(edges_h, at_h))
        assert edges_h[edge] == at_h
        assert way.off_sd_ratio[edge] == pytest.approx(learned.fit.off_sd_ratio[look], rel=1e-3)
        moved = way.loss_ratio[edge] - way.path.loss_ratio[edge]
        base = learned.fit.base_ratio * (1.0 - way.path.loss_ratio[edge])
        assert moved == pytest.approx(learned.fit.off_ratio[look] + base, abs=1e-6)
    last = way.path.loss_ratio[-1] - learned.looks_loss_ratio[-1]
    grown = way.off_sd_ratio[-1] ** 2 - learned.fit.off_sd_ratio[-1] ** 2
    assert grown == pytest.approx(sigma**2 * last, rel=1e-3)
    middle = int(np.searchsorted(edges_h, 36.0))
    ends = 0.5 * (learned.fit.off_sd_ratio[0] + learned.fit.off_sd_ratio[1])
    assert np.all(way.off_sd_ratio[middle] > 0.7 * ends)


def test_a_crossing_is_where_the_path_meets_the_target() -> None:
    """Without errors of the model's own: interpolated in each way's path by numpy."""
    learned = learned_from(TWO_DAYS, particles=FEW)
    way = replace(ahead(learned), draws=np.zeros((4, len(learned.weights_ratio))))
    hours, weights_ratio = crossings(learned, way)
    assert weights_ratio.sum() == pytest.approx(1.0)
    for number in range(0, len(learned.weights_ratio), 17):
        expected_h = np.interp(
            way.target_ratio[number], way.loss_ratio[:, number], way.path.edges_h
        )
        assert hours[number] == pytest.approx(expected_h, abs=0.02)


def test_quantiles_are_those_of_the_weighted_ways() -> None:
    """Whole-number weights: numpy's quantile of the values repeated so often is the witness."""
    rng = np.random.default_rng(2)
    values, counts = rng.normal(size=400), rng.integers(1, 9, 400)
    found = quantiles(values, counts / counts.sum(), (0.1, 0.5, 0.9))
    expected = np.quantile(np.repeat(values, counts), (0.1, 0.5, 0.9))
    assert found == pytest.approx(list(expected), abs=0.03)


def test_another_plan_on_the_same_weights_is_the_forecast_of_that_plan() -> None:
    drier = (replace(TWO_DAYS.plan[0], from_h=48.0, humidity_pct=65.0),)
    asked = replace(TWO_DAYS, plan=())
    tried = arrival(learned_from(asked), ahead(learned_from(asked), drier))
    direct = forecast(replace(TWO_DAYS, plan=drier))
    assert tried.p50_h == pytest.approx(direct.p50_h, rel=0.01)


def test_between_weigh_ins_a_stick_is_the_less_sure_the_longer_ago_it_was_weighed() -> None:
    sds = [
        forecast(replace(TWO_DAYS, now_h=now_h, air=measured(now_h)), particles=FEW).sticks[0]
        for now_h in (48.0, 60.0, 84.0, 120.0)
    ]
    spread = [stick.yield_sd_ratio for stick in sds]
    assert spread == sorted(spread)
    assert spread[-1] > 1.5 * spread[0]
    levels = [stick.yield_ratio for stick in sds]
    assert levels == sorted(levels, reverse=True)


def test_a_stick_that_dries_faster_is_ahead_and_a_good_scale_says_so() -> None:
    """A1 lost 20 % more than the others each time; weighed at 48 h, it stands where it was read."""
    faster = tuple(
        replace(w, weight_g=(TAGGED[0].hang_weight_g or 0.0) * (1.0 - 1.2 * lost))
        if w.tag == "A1"
        else w
        for at_h, lost in ((24.0, 0.062), (48.0, 0.112))
        for w in weighed(at_h, lost)
    )
    asked = replace(TWO_DAYS, weighings=faster, scale_sd_g=0.05)
    first, second, _ = forecast(asked, particles=FEW).sticks
    assert first.yield_ratio == pytest.approx(0.88 * (1.0 - 1.2 * 0.112), abs=0.003)
    assert second.yield_ratio == pytest.approx(98.6 / 112.0 * (1.0 - 0.112), abs=0.003)
    later = replace(asked, now_h=96.0, air=measured(96.0))
    ahead_by = forecast(later, particles=FEW).sticks
    assert ahead_by[0].yield_ratio < ahead_by[1].yield_ratio - 0.02


def test_other_sticks_weights_move_one_that_was_not_weighed() -> None:
    """The group dries slower than believed; the stick left out is believed to as well."""
    slow = [w for w in (*weighed(24.0, 0.03), *weighed(48.0, 0.055)) if w.tag != "A3"]
    without = forecast(replace(TWO_DAYS, weighings=()), particles=FEW).sticks[2]
    found = forecast(replace(TWO_DAYS, weighings=tuple(slow)), particles=FEW).sticks[2]
    assert found.yield_ratio > without.yield_ratio + 0.02
    assert found.yield_sd_ratio < without.yield_sd_ratio


@pytest.mark.parametrize("weighings", [(), TWO_DAYS.weighings])
def test_where_all_sticks_are_tagged_their_mean_is_the_groups(
    weighings: tuple[Weighing, ...],
) -> None:
    """A mean is the mean of its parts; 0.3 points is what 48 of the ways may be off for all."""
    question = replace(TWO_DAYS, sticks_in_group=len(TWO_DAYS.tagged), weighings=weighings)
    answer = forecast(question)
    green_g = [stick.green_weight_g for stick in question.tagged]
    of_sticks = np.average([each.yield_ratio for each in answer.sticks], weights=green_g)
    assert of_sticks == pytest.approx(answer.yield_ratio, abs=0.003)
