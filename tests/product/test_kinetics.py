"""Palumbo's law against its differential equation."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from hangroom.errors import InputError
from hangroom.product.kinetics import palumbo_time_h


# Palumbo et al. 1977 with x0 100 %, c 55 %, k 10 % a day, worked apart from this program.
@pytest.mark.parametrize(
    ("wanted", "days"), [(90, 5.685), (80, 13.843), (70, 28.529), (65, 43.573)]
)
def test_days_to_a_yield_agree_with_the_worked_example(wanted: float, days: float) -> None:
    found_h = palumbo_time_h(100, wanted, final_pct=55, rate_pct_per_h=10 / 24)
    assert found_h is not None
    assert found_h / 24 == pytest.approx(days, abs=0.01)


@given(st.floats(30, 70), st.floats(5, 29), st.floats(0.05, 2))
def test_stepping_the_published_rate_law_arrives_where_the_integral_says(
    final: float, above: float, rate: float
) -> None:
    wanted = final + above
    found_h = palumbo_time_h(100, wanted, final_pct=final, rate_pct_per_h=rate)
    assert found_h is not None
    stepped = solve_ivp(
        lambda _, x: -rate * ((x - final) / x) ** 2, (0, found_h), [100.0], rtol=1e-9, atol=1e-9
    )
    assert stepped.y[0, -1] == pytest.approx(wanted, abs=1e-5)


def test_a_yield_at_or_below_the_final_one_never_comes() -> None:
    assert palumbo_time_h(100, 55, final_pct=55, rate_pct_per_h=1) is None
    assert palumbo_time_h(100, 40, final_pct=55, rate_pct_per_h=1) is None
    assert palumbo_time_h(100, 100, final_pct=55, rate_pct_per_h=1) == 0.0


@pytest.mark.parametrize(
    ("start", "wanted", "final", "rate"),
    [(50, 40, 55, 1), (100, 90, 55, 0), (100, 110, 55, 1), (100, 90, -5, 1)],
)
def test_figures_that_cannot_be_are_refused(
    start: float, wanted: float, final: float, rate: float
) -> None:
    with pytest.raises(InputError):
        palumbo_time_h(start, wanted, final_pct=final, rate_pct_per_h=rate)
