"""The published equations at worked points, and the rule that they never clear anything."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hangroom.errors import InputError
from hangroom.product.findings import Answer
from hangroom.product.growth import (
    growth_warnings,
    listeria_growth_ratio,
    staphylococcus_growth_ratio,
)


# Borneman, Ingham & Ané 2009: logit P = -59.36 + 5.75 pH + 28.73 aw, worked by hand.
@pytest.mark.parametrize(
    ("ph", "aw", "probability"), [(5.6, 0.96, 0.604), (5.1, 0.92, 0.0265), (6.0, 0.85, 0.392), (6.0, 0.82, 0.21)]
)  # fmt: skip
def test_staphylococcus_agrees_with_the_worked_points(
    ph: float, aw: float, probability: float
) -> None:
    assert staphylococcus_growth_ratio(ph, aw) == pytest.approx(
        probability, abs=0.005 if aw == 0.82 else 0.002
    )


# Ingham, Borneman, Ané & Ingham 2010: logit P = -59.58 + 4.67 pH + 35.05 aw, worked by hand.
@pytest.mark.parametrize(("ph", "aw", "probability"), [(6.0, 0.93, 0.738), (5.0, 0.92, 0.0183)])
def test_listeria_agrees_with_the_worked_points(ph: float, aw: float, probability: float) -> None:
    assert listeria_growth_ratio(ph, aw) == pytest.approx(probability, abs=0.002)


def test_a_stick_that_is_not_acid_raises_both_warnings() -> None:
    found = growth_warnings(6.0, 0.93)
    assert ["S. aureus" in found[0].what, "L. monocytogenes" in found[1].what] == [True, True]
    assert "0.74" in found[1].because


def test_an_acid_dry_stick_raises_none() -> None:
    assert growth_warnings(4.8, 0.88) == ()


@given(st.floats(3, 8), st.floats(0.5, 1))
def test_the_equations_can_warn_and_never_clear(ph: float, aw: float) -> None:
    assert all(finding.answer is Answer.NOT_SHOWN for finding in growth_warnings(ph, aw))


@pytest.mark.parametrize(
    ("ph", "aw"), [(2.0, 0.9), (9.0, 0.9), (6.0, 1.01), (6.0, 93.0), (float("nan"), 0.9)]
)
def test_values_that_cannot_be_are_refused(ph: float, aw: float) -> None:
    with pytest.raises(InputError):
        growth_warnings(ph, aw)
