"""The yardstick itself: what the forecasts are held against must be right first."""

from math import exp, log

import numpy as np
import pytest
from bench import forecast_figures, harbin
from bench.drying_truth.histories import crossing_h, histories
from bench.drying_truth.meat import Meat
from bench.drying_truth.regimes import ROOM
from bench.drying_truth.rivals import exponential_h, straight_line_h

from hangroom.product.forecast import Question, TaggedStick, Weighing
from hangroom.simulation.casing import CASING_KG_PER_M2_S_PA


def weighed(*points: tuple[float, float], target_ratio: float) -> Question:
    """Ask about one stick of 100 g that was weighed at these hours."""
    (_, hung_g), *later = points
    return Question(
        tagged=(TaggedStick(tag="A", green_weight_g=100.0, hang_weight_g=hung_g),),
        sticks_in_group=1,
        target_yield_ratio=target_ratio,
        water_fraction=0.55,
        diameter_mm=19.0,
        diameter_measured=True,
        scale_sd_g=0.1,
        now_h=points[-1][0],
        air=(),
        plan=(),
        weighings=tuple(
            Weighing(at_h=at_h, tag="A", weight_g=weight_g) for at_h, weight_g in later
        ),
    )


def test_the_straight_line_goes_on_from_the_last_two_weights() -> None:
    # 4 g in the last 20 h; 10 more to lose.
    question = weighed((0.0, 90.0), (10.0, 84.0), (30.0, 80.0), target_ratio=0.70)
    assert straight_line_h(question) == pytest.approx(80.0)
    assert straight_line_h(weighed((0.0, 90.0), target_ratio=0.70)) is None
    assert straight_line_h(weighed((0.0, 90.0), (9.0, 91.0), target_ratio=0.70)) is None


def test_the_exponential_finds_the_one_that_made_the_weights() -> None:
    end, tau_h = 0.35, 60.0
    points = [(t, 90.0 - 100.0 * end * (1.0 - exp(-t / tau_h))) for t in (0.0, 12.0, 30.0, 44.0)]
    question = weighed(*points, target_ratio=0.62)
    assert exponential_h(question) == pytest.approx(-tau_h * log(1.0 - 0.28 / end), rel=1e-3)
    assert exponential_h(weighed(*points, target_ratio=0.54)) is None


def test_a_group_arrives_between_two_noted_moments() -> None:
    # Noted every half hour: 0.80, 0.70, 0.60.
    assert crossing_h(np.array([0.80, 0.70, 0.60]), 0.65) == pytest.approx(0.75)
    assert crossing_h(np.array([0.80, 0.70, 0.60]), 0.55) is None


def test_salt_holds_water_as_brine_does_and_no_more_than_saturated_brine() -> None:
    # NaCl, 1 molal 0.967, 6 molal 0.760 (Robinson and Stokes), saturated 0.755. No protein here.
    none = np.zeros(1)
    salt_ratio = np.array([0.06])
    meat = Meat(
        salt_ratio=salt_ratio,
        protein_strength=none,
        protein_steepness=none + 1.0,
        fading=none,
        hung_ratio=none + 1.2,
    )
    for molal, aw in ((1.0, 0.967), (6.0, 0.760), (12.0, 0.755)):
        water_ratio = salt_ratio / 0.05844 / molal
        assert meat.activity(water_ratio)[0] == pytest.approx([aw], abs=0.003)


@pytest.mark.parametrize("water_ratio", [0.05, 0.2, 0.6, 1.3])
def test_the_truth_s_isotherm_has_the_slope_it_says(water_ratio: float) -> None:
    meat = Meat(
        salt_ratio=np.array([0.06]),
        protein_strength=np.array([0.03]),
        protein_steepness=np.array([1.1]),
        fading=np.array([0.2]),
        hung_ratio=np.array([1.2]),
    )
    ratios = np.array([water_ratio])
    above, below = meat.activity(ratios + 1e-6)[0], meat.activity(ratios - 1e-6)[0]
    assert meat.activity(ratios)[1] == pytest.approx((above - below) / 2e-6, rel=1e-5)


def test_nothing_that_is_to_come_is_told() -> None:
    """And the same seed makes the same batches, another one others."""
    made = histories(regime=ROOM, stepped=True, seed=6, batches=3)
    for history in made:
        assert 12.0 <= history.arrives_h <= 90.0
        for looks in range(3):
            question = history.question(looks=looks, tags=3, scale_sd_g=0.5, seed=6)
            assert len(question.weighings) == 3 * looks
            moments_h = [seen.at_h for seen in question.air]
            moments_h += [weighing.at_h for weighing in question.weighings]
            assert all(at_h <= question.now_h for at_h in moments_h)
            more = history.question(looks=looks + 1, tags=3, scale_sd_g=0.5, seed=6)
            # Weights that were typed once do not change when more are typed.
            assert more.weighings[: 3 * looks] == question.weighings
    again = histories(regime=ROOM, stepped=True, seed=6, batches=3)
    assert [each.arrives_h for each in again] == [each.arrives_h for each in made]
    other = histories(regime=ROOM, stepped=True, seed=5, batches=3)
    assert [each.arrives_h for each in other] != [each.arrives_h for each in made]


def test_figures_are_counted_as_said() -> None:
    def case(left_h: float, low_h: float, middle_h: float, high_h: float) -> forecast_figures.Case:
        return forecast_figures.Case(
            looks=2,
            step_ahead=False,
            left_h=left_h,
            low_h=low_h,
            middle_h=middle_h,
            high_h=high_h,
            line_h=left_h + 4.0,
            exponential_h=float("inf"),
            ms=1.0,
        )

    row = forecast_figures.row(
        2,
        [
            case(10.0, 8.0, 9.0, 12.0),  # held, 1 h off
            case(20.0, 22.0, 25.0, 30.0),  # earlier than the interval, 5 h off
            case(30.0, 20.0, 24.0, 28.0),  # later, 6 h off
            case(40.0, 30.0, float("inf"), float("inf")),  # held by an open end, endlessly off
        ],
    )
    assert (row.cover, row.below, row.above) == (0.5, 0.25, 0.25)
    assert row.median_h == 5.0
    assert row.line_h == pytest.approx(4.0)
    assert row.line_better == 0.75
    assert row.exponential_answers == 0


def test_published_moisture_is_the_published_yield() -> None:
    # (1 - 0.6252) / (1 - 0.5339) and so on.
    assert harbin.measured_yields("Control") == pytest.approx([0.8041, 0.6081, 0.5247], abs=1e-4)


def test_the_shell_model_dries_the_published_sausages_in_their_order_of_days() -> None:
    """Nothing fitted, air and size assumed: an order check. Measured: 0.196 to 0.320 on day 1."""
    first, fourth, last = harbin.modelled(
        "Control",
        harbin.Assumed(),
        casing=CASING_KG_PER_M2_S_PA,
        at_12c_m2_per_s=harbin.PALUMBO_M2_PER_S,
    )
    assert 0.10 < 1.0 - first < 0.32
    assert 0.45 < last < fourth < 0.75
