"""Curing sums against worked examples of the inspectors' handbook, recipes and the trade."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hangroom.errors import InputError
from hangroom.product.cure_limits import (
    HIGHEST_NITRATE,
    HIGHEST_SODIUM_ERYTHORBATE,
    LOWEST_NITRITE_REFRIGERATED,
    Cut,
    judge_highest,
    judge_lowest,
    judge_nitrite,
)
from hangroom.product.curing import (
    CURE_1,
    CURE_2,
    CuringSalt,
    LabelPercent,
    curing_salt_for,
    ingoing_erythorbate,
    ingoing_nitrate,
    ingoing_nitrite,
    salt_on_meat,
)
from hangroom.product.findings import Answer, Standing

G_PER_LB = 453.59237
PURE = CuringSalt(name="pure sodium nitrite", nitrite=LabelPercent(100.0))
POLISH = CuringSalt(name="0.6 % curing salt", nitrite=LabelPercent(0.6))
# 1.8816 g nitrite in 1266 g brine.
BRINE = CuringSalt(name="brine", nitrite=LabelPercent(100 * 1.8816 / 1266))


@pytest.mark.parametrize(
    ("mix", "mix_g", "meat_g", "ppm", "close"),
    [
        pytest.param(CURE_1, 0.25 * G_PER_LB, 100 * G_PER_LB, 156.25, 0.01, id="4 oz to 100 lb, the trade's rule"),
        pytest.param(CURE_1, G_PER_LB / 16, 25 * G_PER_LB, 156.25, 0.01, id="1 oz to 25 lb"),
        pytest.param(CURE_1, 2.5, 1000, 156.25, 0.01, id="2.5 g to the kilogram, meat alone"),
        pytest.param(PURE, 1.0, 5000, 200.0, 1e-9, id="1 g pure nitrite in 5 kg, published recipe"),
        pytest.param(PURE, 0.750, 5000, 150.0, 1e-9, id="0.75 g pure nitrite in 5 kg, published recipe"),
        pytest.param(CURE_1, 1.12, 454, 154.2, 0.05, id="1.12 g to 454 g, published recipe"),
        pytest.param(CURE_1, 7.8, 1000, 487.5, 0.1, id="7.8 g to the kilogram, three times too much"),
        pytest.param(POLISH, 15.0, 1000, 90.0, 1e-9, id="Polish dried sausage, 15 g of 0.6 %"),
        pytest.param(BRINE, 100.0, 1000, 148.6, 0.05, id="brine pumped to 10 %, published example"),
    ],
)  # fmt: skip
def test_ingoing_nitrite_agrees_with_the_worked_examples(
    mix: CuringSalt, mix_g: float, meat_g: float, ppm: float, close: float
) -> None:
    assert ingoing_nitrite(mix, mix_g, meat_g).result_ppm == pytest.approx(ppm, abs=close)


def test_the_whole_batchs_weight_would_give_another_figure() -> None:
    # 1000 g meat, 30 g water, 2.5 g mix: 151.3 ppm on all of it, 156.25 on the meat.
    assert ingoing_nitrite(CURE_1, 2.5, 1032.5).result_ppm == pytest.approx(151.3, abs=0.05)


def test_grams_for_a_wanted_concentration() -> None:
    assert curing_salt_for(CURE_1, 156, 4536).result_g == pytest.approx(11.32, abs=0.01)
    assert curing_salt_for(CURE_1, 156, 1000).result_g == pytest.approx(2.496, abs=0.0005)


@given(st.floats(0.4, 100), st.floats(1, 600), st.floats(10, 1e5))
def test_the_grams_for_a_concentration_give_that_concentration(
    label_pct: float, wanted_ppm: float, meat_g: float
) -> None:
    mix = CuringSalt(name="mix", nitrite=LabelPercent(label_pct))
    dose = curing_salt_for(mix, wanted_ppm, meat_g)
    assert ingoing_nitrite(mix, dose.result_g, meat_g).result_ppm == pytest.approx(wanted_ppm)


@pytest.mark.parametrize(("ounces", "ppm"), [(7 / 8, 546.9), (3 / 4, 468.75)])
def test_erythorbate_by_the_ounce_to_a_hundred_pounds(ounces: float, ppm: float) -> None:
    found = ingoing_erythorbate(ounces * G_PER_LB / 16, 100 * G_PER_LB)
    assert found.result_ppm == pytest.approx(ppm, abs=0.1)


def test_cure_2_brings_its_nitrate_and_cure_1_brings_none() -> None:
    # 2.5 g with 4 % nitrate to the kilogram.
    assert ingoing_nitrate(CURE_2, 2.5, 1000).result_ppm == pytest.approx(100.0)
    assert ingoing_nitrite(CURE_2, 2.5, 1000).result_ppm == pytest.approx(156.25)
    assert ingoing_nitrate(CURE_1, 2.5, 1000).result_ppm == 0.0


def test_salt_of_the_polish_sausage_is_1_49_per_cent() -> None:
    assert salt_on_meat(0.0, POLISH, 15.0, 1000).result_pct == pytest.approx(1.49, abs=0.005)
    # The invented 1 kg batch: 17.5 g and 93.75 % of 2.5 g.
    assert salt_on_meat(17.5, CURE_1, 2.5, 1000).result_pct == pytest.approx(1.984375)


def test_a_sum_carries_its_inputs_and_its_formula_in_words() -> None:
    working = ingoing_nitrite(CURE_1, 2.5, 1000).working
    assert working.inputs == {"curing_salt_g": 2.5, "label_nitrite_pct": 6.25, "meat_green_g": 1000}
    assert "green weight of the meat" in working.formula
    with pytest.raises(TypeError):
        working.inputs["curing_salt_g"] = 3.0  # type: ignore[index]


def test_the_fraction_typed_for_the_percentage_is_caught() -> None:
    with pytest.raises(InputError, match=r"0\.0625 looks like a fraction; that would be 6\.25 %"):
        LabelPercent(0.0625)
    assert LabelPercent(6.25).fraction_ratio == 0.0625


@pytest.mark.parametrize("label_pct", [0.0, -6.25, 625.0, math.nan])
def test_a_label_that_cannot_be_is_refused(label_pct: float) -> None:
    with pytest.raises(InputError, match="label's percentage"):
        LabelPercent(label_pct)


def test_a_label_with_more_than_a_hundred_per_cent_is_refused() -> None:
    with pytest.raises(InputError, match="salt in wrong mix"):
        CuringSalt(name="wrong mix", nitrite=LabelPercent(62.5), nitrate=LabelPercent(40.0))


@pytest.mark.parametrize(("mix_g", "meat_g"), [(-1.0, 1000), (2.5, 0.0), (2.5, -1000), (math.nan, 1000), (2.5, math.inf)])  # fmt: skip
def test_weights_that_cannot_be_are_refused(mix_g: float, meat_g: float) -> None:
    with pytest.raises(InputError, match="grams"):
        ingoing_nitrite(CURE_1, mix_g, meat_g)
    with pytest.raises(InputError, match="grams"):
        ingoing_erythorbate(mix_g, meat_g)
    with pytest.raises(InputError, match="grams"):
        salt_on_meat(0.0, CURE_1, mix_g, meat_g)


# Processing Inspectors' Calculations Handbook: comminuted at most 156 ppm; refrigerated at least 120.
@pytest.mark.parametrize(
    ("mix_g", "highest", "lowest"),
    [
        pytest.param(2.5, Answer.MET, Answer.MET, id="156.25 is printed as 156"),
        pytest.param(2.51, Answer.NOT_MET, Answer.MET, id="156.9 is over"),
        pytest.param(7.8, Answer.NOT_MET, Answer.MET, id="three times too much"),
        pytest.param(1.92, Answer.MET, Answer.MET, id="exactly 120"),
        pytest.param(1.25, Answer.MET, Answer.NOT_MET, id="half a dose"),
        pytest.param(0.0, Answer.MET, Answer.NOT_MET, id="none at all"),
    ],
)
def test_nitrite_stands_between_its_maximum_and_the_policy_minimum(
    mix_g: float, highest: Answer, lowest: Answer
) -> None:
    found = judge_nitrite(ingoing_nitrite(CURE_1, mix_g, 1000))
    assert [finding.answer for finding in found] == [highest, lowest]


def test_the_maximum_follows_the_cut_and_the_minimum_is_for_refrigerated_product() -> None:
    ingoing = ingoing_nitrite(CURE_1, 3.2, 1000)  # 200 ppm
    assert judge_nitrite(ingoing, Cut.IMMERSED, keep_refrigerated=False)[0].answer is Answer.MET
    assert len(judge_nitrite(ingoing, Cut.IMMERSED, keep_refrigerated=False)) == 1
    assert judge_nitrite(ingoing, Cut.PUMPED_BACON)[0].answer is Answer.NOT_MET


def test_a_dose_that_was_never_recorded_is_not_shown() -> None:
    for finding in judge_nitrite(None):
        assert finding.answer is Answer.NOT_SHOWN
        assert "weight" in finding.would_settle


def test_a_limit_known_from_memory_can_be_exceeded_but_never_met() -> None:
    nitrate = HIGHEST_NITRATE[Cut.COMMINUTED]
    assert nitrate.source.standing is Standing.MEMORY
    assert (
        judge_highest(ingoing_nitrate(CURE_2, 2.5, 1000), nitrate, "nitrate").answer
        is Answer.NOT_SHOWN
    )
    assert (
        judge_highest(ingoing_nitrate(CURE_2, 45.0, 1000), nitrate, "nitrate").answer
        is Answer.NOT_MET
    )
    seven_eighths = ingoing_erythorbate(7 / 8 / 16, 100)
    found = judge_highest(seven_eighths, HIGHEST_SODIUM_ERYTHORBATE, "erythorbate")
    assert found.answer is Answer.NOT_SHOWN
    assert "memory" in found.because


def test_a_minimum_is_compared_in_whole_ppm_too() -> None:
    half_below = ingoing_nitrite(PURE, 0.1194, 1000)  # 119.4
    just_below = ingoing_nitrite(PURE, 0.1196, 1000)  # 119.6, printed as 120
    assert judge_lowest(half_below, LOWEST_NITRITE_REFRIGERATED, "nitrite").answer is Answer.NOT_MET
    assert judge_lowest(just_below, LOWEST_NITRITE_REFRIGERATED, "nitrite").answer is Answer.MET
