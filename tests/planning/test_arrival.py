"""Reading a forecast's curve, against scipy's normal distribution and Python's own quantiles."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from planning.made_forecast import made_forecast
from scipy.stats import norm

from hangroom.product.arrival import arrival_chance_ratio, likely_ratio, point_at
from hangroom.product.forecast import CurvePoint


def at(at_h: float, low: float, middle: float, high: float) -> CurvePoint:
    return CurvePoint(at_h=at_h, low_ratio=low, middle_ratio=middle, high_ratio=high)


LINE = (at(0.0, 0.80, 0.80, 0.80), at(50.0, 0.66, 0.70, 0.72))


def test_between_points_the_curve_is_straight() -> None:
    forecast = made_forecast(curve=LINE)
    assert likely_ratio(forecast, 25.0) == pytest.approx(0.75)
    assert likely_ratio(forecast, 50.0) == 0.70
    assert point_at(forecast, 25.0) == at(25.0, 0.73, 0.75, 0.76)


@pytest.mark.parametrize("at_h", [-1.0, 50.1])
def test_off_the_curve_nothing_is_said(at_h: float) -> None:
    forecast = made_forecast(curve=LINE)
    assert likely_ratio(forecast, at_h) is None
    assert arrival_chance_ratio(forecast, at_h) is None
    assert arrival_chance_ratio(made_forecast(curve=()), 1.0) is None


@pytest.mark.parametrize(("target_ratio", "chance"), [(0.66, 0.10), (0.70, 0.50), (0.72, 0.90)])
def test_the_chance_is_that_of_the_curve_s_own_quantiles(
    target_ratio: float, chance: float
) -> None:
    forecast = made_forecast(curve=LINE, target_yield_ratio=target_ratio)
    assert arrival_chance_ratio(forecast, 50.0) == pytest.approx(chance)


@given(st.floats(0.60, 0.80), st.floats(0.002, 0.05))
def test_of_a_normal_yield_the_chance_is_the_normal_one(target: float, sd: float) -> None:
    p10, p90 = norm.ppf([0.1, 0.9], loc=0.7, scale=sd)
    point = at(50.0, float(p10), 0.7, float(p90))
    forecast = made_forecast(curve=(LINE[0], point), target_yield_ratio=target)
    expected = float(norm.cdf(target, loc=0.7, scale=sd))
    # the yield is at or below the target
    assert arrival_chance_ratio(forecast, 50.0) == pytest.approx(expected, abs=1e-9)


def test_without_spread_the_target_is_behind_or_it_is_not() -> None:
    before = made_forecast(curve=LINE, target_yield_ratio=0.79)
    assert arrival_chance_ratio(before, 0.0) == 0.0
    assert arrival_chance_ratio(made_forecast(curve=LINE, target_yield_ratio=0.80), 0.0) == 0.5
    assert arrival_chance_ratio(made_forecast(curve=LINE, target_yield_ratio=0.81), 0.0) == 1.0
