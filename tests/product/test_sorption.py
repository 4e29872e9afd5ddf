"""Water activity of the stick, against published curves and the brine's own table."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from hangroom.errors import InputError
from hangroom.product.drying_priors import ISOTHERM
from hangroom.product.sorption import (
    USUAL_WATER_PHASE_SALT_PCT,
    equilibrium_water_ratio,
    salted_strength,
    water_activity,
)
from hangroom.product.water_activity import brine_aw

# Foods 10 (2021) 1460, table 3: moisture % and water activity of four dry sausages at day 0 to 7,
# stated to 0.01 in aw.
HARBIN = [
    *((62.52, 0.95), (53.39, 0.92), (38.37, 0.87), (28.57, 0.84)),
    *((63.32, 0.96), (52.06, 0.90), (37.12, 0.86), (27.31, 0.82)),
    *((64.35, 0.96), (50.50, 0.91), (35.63, 0.84), (27.55, 0.81)),
    *((64.88, 0.96), (48.35, 0.90), (32.64, 0.83), (24.36, 0.79)),
]


def of(water_ratio: float, strength: float = 0.072, steepness: float = 0.85) -> float:
    return float(water_activity(water_ratio, strength, steepness, math.exp)[0])


def test_the_form_fits_the_published_sausages_as_stated() -> None:
    """A 0.085, r 0.98: root mean square error 0.014 over the 16 points."""
    off = [of(moisture / (100 - moisture), 0.085, 0.98) - activity for moisture, activity in HARBIN]
    assert math.sqrt(sum(each**2 for each in off) / len(off)) == pytest.approx(0.014, abs=0.001)


def test_the_usual_stick_lies_within_its_spread_of_the_published_sausages() -> None:
    """The belief is another recipe's, wetter; its 2 sd in A must still reach the measured ones."""
    low, high = (
        [
            of(m / (100 - m), ISOTHERM.strength_median_ratio * math.exp(sds * 0.20), 0.85)
            for m, _ in HARBIN
        ]
        for sds in (2.0, -2.0)
    )
    inside = [
        low_aw - 0.01 <= aw <= high_aw + 0.01
        for low_aw, high_aw, (_, aw) in zip(low, high, HARBIN, strict=True)
    ]
    assert all(inside)


@given(st.floats(0.05, 3.0), st.floats(0.03, 0.2), st.floats(0.5, 1.3))
def test_the_slope_is_the_derivative(water_ratio: float, strength: float, steepness: float) -> None:
    step = 1e-5 * water_ratio
    _, slope = water_activity(water_ratio, strength, steepness, math.exp)
    by_difference = (
        of(water_ratio + step, strength, steepness) - of(water_ratio - step, strength, steepness)
    ) / (2.0 * step)
    assert slope == pytest.approx(by_difference, rel=1e-4, abs=1e-9)


@given(st.floats(0.3, 0.98), st.floats(0.03, 0.2), st.floats(0.5, 1.3))
def test_equilibrium_is_where_the_activity_is_the_humidity(
    humidity_ratio: float, strength: float, steepness: float
) -> None:
    """A root found by Brent's method is the second witness."""
    found = equilibrium_water_ratio(humidity_ratio, strength, steepness)
    root = brentq(lambda x: of(x, strength, steepness) - humidity_ratio, found / 10.0, found * 10.0)
    assert found == pytest.approx(root, rel=1e-6)


@pytest.mark.parametrize("humidity_ratio", [0.0, 1.0, -0.1, math.nan])
def test_no_equilibrium_at_no_humidity(humidity_ratio: float) -> None:
    with pytest.raises(InputError, match="humidity"):
        equilibrium_water_ratio(humidity_ratio, 0.072, 0.85)


@pytest.mark.parametrize("salt_pct", [1.5, 3.8, 6.0, 9.0])
def test_salt_lowers_the_activity_as_the_brine_says(salt_pct: float) -> None:
    """As hung, the activity moves by the ratio of the two brines' own (Pitzer, tested elsewhere)."""
    strength = salted_strength(0.072, 0.85, water_phase_salt_pct=salt_pct, water_ratio=1.3)
    expected = of(1.3) * brine_aw(salt_pct) / brine_aw(USUAL_WATER_PHASE_SALT_PCT)
    assert of(1.3, strength) == pytest.approx(expected, abs=1e-9)


def test_more_salt_means_a_wetter_equilibrium() -> None:
    """As the salted-meat isotherms do above the salt's own 75 %."""
    wet = [
        equilibrium_water_ratio(
            0.80, salted_strength(0.072, 0.85, water_phase_salt_pct=pct, water_ratio=1.3), 0.85
        )
        for pct in (1.0, 3.0, 5.0, 8.0)
    ]
    assert wet == sorted(wet)
    assert wet[0] < wet[-1]
