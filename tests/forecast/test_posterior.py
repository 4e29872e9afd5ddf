"""What weights teach: nothing where they are worthless, the same however it is reckoned."""

from dataclasses import replace
from statistics import stdev

import numpy as np
import pytest
from forecast.asking import ASKED, TWO_DAYS, effective, measured, weighed
from scipy.stats import kstest, norm

from hangroom.forecast import forecast, learned_from
from hangroom.forecast.particles import even_normals
from hangroom.product.drying_priors import PUBLISHED
from hangroom.product.forecast import Belief, Beliefs, Forecast, Question


def middle_h(found: Forecast) -> float:
    assert found.p50_h is not None
    return found.p50_h


def test_a_scale_that_tells_nothing_leaves_the_belief_as_it_was() -> None:
    blind = forecast(replace(TWO_DAYS, scale_sd_g=1000.0))
    none = forecast(replace(TWO_DAYS, weighings=()))
    assert middle_h(blind) == pytest.approx(middle_h(none), rel=0.01)
    for name in ("transfer_kg_per_m2_s_pa", "diffusivity_m2_per_s"):
        belief, before = getattr(blind.beliefs, name), getattr(PUBLISHED, name)
        assert belief.median == pytest.approx(before.median, rel=0.01)
        assert belief.ln_sd == pytest.approx(before.ln_sd, rel=0.02)


def test_a_good_scale_narrows_belief_and_range() -> None:
    before = forecast(replace(TWO_DAYS, weighings=()))
    coarse, fine = forecast(TWO_DAYS), forecast(replace(TWO_DAYS, scale_sd_g=0.05))
    widths = [(found.p90_h or np.inf) - (found.p10_h or 0.0) for found in (before, coarse, fine)]
    assert widths[0] > 2.0 * widths[1] > 2.0 * widths[2]
    assert coarse.beliefs.transfer_kg_per_m2_s_pa.ln_sd < 0.6 * 0.5


def test_it_does_not_matter_which_stick_is_named_which() -> None:
    """Tags exchanged throughout, and everything told in another order."""
    other = {"A1": "A3", "A2": "A1", "A3": "A2"}
    renamed = replace(
        TWO_DAYS,
        tagged=tuple(replace(each, tag=other[each.tag]) for each in reversed(TWO_DAYS.tagged)),
        weighings=tuple(
            replace(each, tag=other[each.tag]) for each in reversed(TWO_DAYS.weighings)
        ),
        air=tuple(reversed(TWO_DAYS.air)),
    )
    one, two = forecast(TWO_DAYS), forecast(renamed)
    assert [two.p10_h, two.p50_h, two.p90_h] == pytest.approx(
        [one.p10_h, one.p50_h, one.p90_h], rel=1e-9
    )
    by_tag = {stick.tag: stick.yield_ratio for stick in two.sticks}
    for stick in one.sticks:
        assert by_tag[other[stick.tag]] == pytest.approx(stick.yield_ratio, abs=1e-9)


def test_the_same_question_has_the_same_answer() -> None:
    assert replace(forecast(TWO_DAYS), ms=0.0) == replace(forecast(TWO_DAYS), ms=0.0)


def test_more_ways_tell_the_same() -> None:
    """A run of 8192 ways lies within the scatter of runs of 1024 with other seeds."""
    few = [middle_h(forecast(TWO_DAYS, seed=seed)) for seed in range(6)]
    many = middle_h(forecast(TWO_DAYS, particles=8192))
    scatter_h = stdev(few)
    assert scatter_h < 2.0
    assert many == pytest.approx(float(np.mean(few)), abs=4.0 * max(scatter_h, 0.3))


@pytest.mark.parametrize("ease", [0.3, 3.0])
def test_where_few_ways_agree_they_are_drawn_again_and_say_the_same(ease: float) -> None:
    """Beliefs off by more than two of their deviations, a fine scale, three days.

    Reference: the plain draw from the beliefs, so many that no drawing again is needed.
    """
    beliefs = Beliefs(
        transfer_kg_per_m2_s_pa=Belief(median=1.2e-8 * ease, ln_sd=0.5),
        diffusivity_m2_per_s=Belief(median=6.5e-11 * ease, ln_sd=0.45),
    )
    asked = replace(
        TWO_DAYS,
        now_h=72.0,
        air=measured(72.0),
        scale_sd_g=0.05,
        beliefs=beliefs,
        weighings=(*TWO_DAYS.weighings, *weighed(72.0, 0.155)),
    )
    plain = learned_from(asked, particles=60_000)
    assert len(plain.particles.log_share) <= 60_000
    few = [forecast(asked, particles=1024, seed=seed) for seed in (1, 2, 3)]
    assert min(each.effective_particles for each in few) >= 50.0
    logs = np.log(plain.particles.stick.transfer_kg_per_m2_s_pa)
    mean = float(plain.weights_ratio @ logs)
    sd = float(np.sqrt(plain.weights_ratio @ (logs - mean) ** 2))
    assert effective(plain) > 50.0
    found = [float(np.log(each.beliefs.transfer_kg_per_m2_s_pa.median)) for each in few]
    # Two Monte-Carlo means, each good to sd / sqrt(effective).
    error = sd * np.sqrt(1.0 / effective(plain) + 1.0 / sum(e.effective_particles for e in few))
    assert float(np.mean(found)) == pytest.approx(mean, abs=4.0 * error)


def test_of_many_looks_some_are_left_out_and_hardly_missed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Forty days, weighed daily: all of them, and the 24 that are kept."""
    losses = 0.36 * (1.0 - np.exp(-np.arange(1, 41) / 14.0))
    told = [w for day, lost in enumerate(losses, 1) for w in weighed(24.0 * day, float(lost))]
    asked = replace(
        TWO_DAYS,
        now_h=960.0,
        air=measured(960.0, every_h=1.0, humidity_pct=78.0),
        weighings=tuple(told),
        target_yield_ratio=0.50,
    )
    few = learned_from(asked, particles=512)
    monkeypatch.setattr("hangroom.forecast.forecaster.thinned", tuple)
    all_of_them = learned_from(asked, particles=512)
    assert (len(few.looks), len(all_of_them.looks)) == (24, 40)
    assert few.looks[-12:] == all_of_them.looks[-12:]
    assert few.looks[0] == all_of_them.looks[0]
    lost = [
        float(found.weights_ratio @ (found.looks_loss_ratio[-1] + found.fit.off_ratio[-1]))
        for found in (few, all_of_them)
    ]
    # A twentieth of how far three tagged sticks may be off their group: 8 % / sqrt(3).
    assert lost[0] == pytest.approx(lost[1], abs=0.05 * 0.08 / np.sqrt(3.0))


def test_ways_are_drawn_evenly_from_a_normal_distribution() -> None:
    drawn = even_normals(1024, 3, np.random.default_rng(1))
    for column in drawn.T:
        # One in each slice: the distance to the distribution is half a slice.
        assert kstest(column, norm.cdf).statistic <= 0.51 / 1024
    assert np.abs(np.corrcoef(drawn.T) - np.eye(3)).max() < 0.1


# Hours to 0.70 of the weight as hung, in 12 degC and 55, 65, 75 %RH: a shrinking shell model with
# falling diffusivity (another model; median stick, 1.3 kg/kg, casing 2e-8).
SHELL_MODEL = [
    *((16.0, 55.0, 67.0), (16.0, 65.0, 89.0), (16.0, 75.0, 137.0)),
    *((19.0, 55.0, 80.0), (19.0, 65.0, 108.0), (19.0, 75.0, 164.0)),
    *((25.0, 55.0, 109.0), (25.0, 65.0, 146.0), (25.0, 75.0, 222.0)),
]


@pytest.mark.parametrize(("diameter_mm", "humidity_pct", "hours"), SHELL_MODEL)
def test_before_any_weight_the_range_is_wide_and_holds_another_models_time(
    diameter_mm: float, humidity_pct: float, hours: float
) -> None:
    asked: Question = replace(
        ASKED,
        diameter_mm=diameter_mm,
        water_fraction=1.3 / 2.3,
        target_yield_ratio=0.70 * 0.88,
        plan=(replace(ASKED.plan[0], temperature_c=12.0, humidity_pct=humidity_pct),),
    )
    found = forecast(asked)
    assert found.p10_h is not None
    assert found.p90_h is not None
    assert found.p10_h < hours < found.p90_h
    # k_e and D alone, known to 0.5 and 0.45 in the logarithm, make a factor of more than two.
    assert found.p90_h > 2.0 * found.p10_h
