"""Slips by their factor: 1 lb is 453.59237 g and 1 oz is 28.349523125 g (exact, by definition)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hangroom.product.slips import Slip, SlipKind, expected_g, factor_slip, slip_in
from hangroom.units import WeightUnit


# An invented stick of 82.2 g a day ago, 80.0 g on the scale today, typed in each wrong way.
@pytest.mark.parametrize(
    ("typed_g", "kind", "meant_g"),
    [
        pytest.param(800.0, SlipKind.TEN_TIMES, 80.0, id="the point forgotten"),
        pytest.param(8.0, SlipKind.TENTH, 80.0, id="the point too far left"),
        pytest.param(0.1764, SlipKind.POUNDS, 80.0, id="0.1764 lb"),
        pytest.param(0.080, SlipKind.KILOGRAMS, 80.0, id="0.080 kg"),
        pytest.param(2.822, SlipKind.OUNCES, 80.0, id="2.822 oz"),
        pytest.param(90.0, SlipKind.HEAVIER, None, id="heavier than before"),
        pytest.param(50.0, SlipKind.LIGHTER, None, id="more than a day explains"),
    ],
)
def test_a_slip_is_told_by_its_factor(
    typed_g: float, kind: SlipKind, meant_g: float | None
) -> None:
    found = slip_in(typed_g, last_g=82.2, since_days=1.0)
    assert found is not None
    assert found.kind is kind
    assert found.meant_g == (None if meant_g is None else pytest.approx(meant_g, rel=1e-3))


@pytest.mark.parametrize(
    ("shown_oz", "kind", "meant_oz"),
    [
        pytest.param(80.0, SlipKind.GRAMS, 2.822, id="80 g typed as ounces"),
        pytest.param(0.1764, SlipKind.POUNDS, 2.822, id="pounds, and not a tenth"),
        pytest.param(0.2822, SlipKind.TENTH, 2.822, id="a tenth, and not pounds"),
        pytest.param(0.080, SlipKind.KILOGRAMS, 2.822, id="0.080 kg typed as ounces"),
    ],
)
def test_where_the_field_asks_for_ounces_the_other_units_are_looked_for(
    shown_oz: float, kind: SlipKind, meant_oz: float
) -> None:
    found = slip_in(shown_oz * 28.349523125, last_g=82.2, since_days=1.0, asked_in=WeightUnit.OUNCE)
    assert found is not None
    assert found.kind is kind
    assert found.meant_g == pytest.approx(meant_oz * 28.349523125, rel=1e-3)


def test_a_batch_typed_in_pounds_is_noticed_against_its_recipe() -> None:
    # 1060 g by the recipe's lines; 2.34 lb on the scale.
    found = factor_slip(2.34, like_g=1060.0)
    assert found is not None
    assert found.kind is SlipKind.POUNDS
    assert found.meant_g == pytest.approx(1061.4, abs=0.05)
    assert factor_slip(1052.0, like_g=1060.0) is None


@given(st.floats(20, 400), st.floats(0, 20), st.floats(0, 1))
def test_a_weight_between_the_expected_ones_is_never_asked_about(
    last_g: float, days: float, place: float
) -> None:
    lightest_g, heaviest_g = expected_g(last_g, days)
    now_g = lightest_g + place * (heaviest_g - lightest_g)
    assert slip_in(now_g, last_g=last_g, since_days=days) is None


FACTORS = (10, 0.1, 1 / 453.59237, 1 / 1000, 1 / 28.349523125)


@given(st.floats(20, 400), st.floats(0.65, 1.0), st.sampled_from(FACTORS))
def test_a_factor_is_seen_through_whatever_the_stick_lost_since(
    last_g: float, kept: float, factor: float
) -> None:
    found = slip_in(last_g * kept * factor, last_g=last_g, since_days=2.0)
    assert found is not None
    assert found.meant_g == pytest.approx(last_g * kept)


def test_the_scale_itself_is_forgiven_a_gram() -> None:
    assert slip_in(83.2, last_g=82.2, since_days=0.0) is None
    assert slip_in(83.3, last_g=82.2, since_days=0.0) == Slip(kind=SlipKind.HEAVIER)


def test_a_long_gap_explains_a_great_loss() -> None:
    assert slip_in(50.0, last_g=82.2, since_days=10.0) is None
