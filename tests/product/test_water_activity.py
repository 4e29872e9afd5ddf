"""Brine against published anchors; the estimate against 14 products of a challenge study."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hangroom.errors import InputError
from hangroom.product.water_activity import (
    FIT_K_HIGH_AW,
    FIT_K_LOW_AW,
    Estimate,
    Outside,
    brine_aw,
    brine_aw_quadratic,
    brine_molality,
    estimate,
    protein_corrected_aw,
)


def pct_of(molality: float) -> float:
    salt_g = 58.443 * molality
    return 100 * salt_g / (1000 + salt_g)


# 1 molal 0.9669 (tables for water activity standards); 6 molal 0.760 by the osmotic coefficient
# 1.271 of Robinson & Stokes 1965; saturated 0.753 (Greenspan 1977); 0.9 % saline 0.9948.
@pytest.mark.parametrize(
    ("salt_pct", "published_aw", "close"),
    [(pct_of(1), 0.9669, 5e-4), (pct_of(6), 0.760, 1e-3), (26.4, 0.753, 1e-3), (0.9, 0.9948, 5e-4)],
)
def test_brine_agrees_with_the_published_anchors(
    salt_pct: float, published_aw: float, close: float
) -> None:
    assert brine_aw(salt_pct) == pytest.approx(published_aw, abs=close)


# Robinson & Stokes' measured values at 25 degC, from memory.
@pytest.mark.parametrize(
    ("molality", "published_aw"), [(2, 0.9316), (3, 0.8932), (4, 0.8515), (5, 0.8068)]
)
def test_brine_agrees_with_robinson_and_stokes(molality: float, published_aw: float) -> None:
    assert brine_molality(pct_of(molality)) == pytest.approx(molality)
    assert brine_aw(pct_of(molality)) == pytest.approx(published_aw, abs=5e-4)


# Pitzer's equation worked out apart from this program, rounded to four places.
@pytest.mark.parametrize(
    ("salt_pct", "aw"),
    [(1, 0.9943), (2, 0.9885), (3, 0.9826), (4, 0.9765), (5, 0.9702), (6, 0.9637), (7, 0.9570), (8, 0.9500), (10, 0.9351), (12, 0.9191), (14, 0.9016), (15, 0.8923), (16, 0.8826), (18, 0.8619), (19, 0.8509), (20, 0.8394), (22, 0.8148), (26, 0.7588)],
)  # fmt: skip
def test_brine_agrees_with_the_table_by_weight(salt_pct: float, aw: float) -> None:
    assert brine_aw(salt_pct) == pytest.approx(aw, abs=6e-5)


def test_the_quadratic_keeps_the_error_stated_for_it() -> None:
    assert brine_aw_quadratic(10) == pytest.approx(0.9353, abs=5e-5)
    for tenths in range(121):
        assert brine_aw_quadratic(tenths / 10) == pytest.approx(brine_aw(tenths / 10), abs=1e-3)
    assert brine_aw_quadratic(15) == pytest.approx(brine_aw(15), abs=1.5e-3)
    assert brine_aw_quadratic(17) == pytest.approx(brine_aw(17), abs=4e-3)
    with pytest.raises(InputError):
        brine_aw_quadratic(17.1)


def test_brine_lies_below_grovers_rule_of_thumb_which_is_too_high_for_salt() -> None:
    # Grover: aw = 1.04 - 0.10 E + 0.0045 E^2, E = 9.0 g salt per g water; 0.9445 at 10 %.
    e = 9.0 * 10 / 90
    assert brine_aw(10) == pytest.approx(1.04 - 0.10 * e + 0.0045 * e**2 - 0.0094, abs=5e-4)


@given(st.floats(0, 26.2))
def test_more_salt_always_lowers_the_water_activity(salt_pct: float) -> None:
    assert 0.75 < brine_aw(salt_pct + 0.1) < brine_aw(salt_pct) <= 1.0


@pytest.mark.parametrize("salt_pct", [-0.1, 26.5, math.nan])
def test_a_brine_that_cannot_be_is_refused(salt_pct: float) -> None:
    with pytest.raises(InputError, match="water-phase salt"):
        brine_aw(salt_pct)


# "Critical Limit Summary: Validating Shelf-Stability", Univ. of Wisconsin-Madison: MPR, WPS %,
# measured aw of products that did not support S. aureus.
DRIED = [
    (1.6, 8.1, 0.90), (1.5, 9.3, 0.88), (1.4, 10.0, 0.88), (1.1, 16.3, 0.79), (1.0, 17.1, 0.76), (1.7, 9.3, 0.87), (2.5, 6.5, 0.92), (1.6, 8.0, 0.87),
    (0.9, 19.0, 0.76), (1.7, 11.6, 0.88), (1.5, 13.1, 0.86),
    (2.3, 5.6, 0.93), (2.0, 7.1, 0.88), (1.9, 3.2, 0.93),
]  # fmt: skip


def test_the_stick_measured_at_0_93_lies_in_its_estimated_range() -> None:
    # MPR 2.3, WPS 5.6: k 0.11 gives 0.921, k 0.08 gives 0.933, salt alone 0.966.
    found = estimate(5.6, 2.3)
    assert isinstance(found, Estimate)
    assert found.low_aw == pytest.approx(0.921, abs=0.003)
    assert found.high_aw == pytest.approx(0.933, abs=0.003)
    assert brine_aw(5.6) == pytest.approx(0.966, abs=0.003)


def test_both_edges_of_the_estimate_fit_the_measured_products_as_stated() -> None:
    errors = [protein_corrected_aw(wps, mpr, FIT_K_LOW_AW) - aw for mpr, wps, aw in DRIED]
    assert math.sqrt(sum(e * e for e in errors) / len(errors)) == pytest.approx(0.014, abs=0.001)
    assert max(abs(e) for e in errors) == pytest.approx(0.025, abs=0.001)
    # Upper envelope: nothing measured above it, to the second decimal of the measurements.
    assert all(
        protein_corrected_aw(wps, mpr, FIT_K_HIGH_AW) >= aw - 0.005 for mpr, wps, aw in DRIED
    )


def test_salt_alone_overstates_the_measured_water_activity() -> None:
    overstated = [brine_aw(wps) - aw for _, wps, aw in DRIED]
    assert sum(overstated) / len(DRIED) == pytest.approx(0.065, abs=0.001)


@pytest.mark.parametrize(
    ("wps", "mpr", "reason"),
    [
        pytest.param(4.1, 4.50, "Too moist", id="smoked link, USDA 07075"),
        pytest.param(18.5, 0.70, "Too dry", id="jerky, USDA 19002"),
        pytest.param(2.9, 2.0, "Water-phase salt", id="hardly salted"),
        pytest.param(19.5, 1.0, "Water-phase salt", id="very salty"),
        pytest.param(None, 2.0, "no water, no salt", id="no salt on record"),
        pytest.param(5.0, None, "no water, no salt", id="no protein on record"),
    ],
)
def test_no_estimate_is_given_where_nothing_was_measured(
    wps: float | None, mpr: float | None, reason: str
) -> None:
    found = estimate(wps, mpr)
    assert isinstance(found, Outside)
    assert reason in found.reason
