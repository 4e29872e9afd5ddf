"""The driest gentle air of each day, on one stick: against bisection by scipy, and as a whole."""

from math import exp

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from hangroom.product.drying import Air, Drying, Maths, Stick, core_water_ratio, hung, step
from hangroom.product.gentle_floors import drying_at, gentle_floors

MATHS = Maths(exp=exp, larger=max)
# Saturation of water at 12 degC by IAPWS-95, as CoolProp 7 gives it.
SATURATION_PA = 1402.8
STICK = Stick(
    transfer_kg_per_m2_s_pa=1.2e-8,
    diffusivity_m2_per_s=6.5e-11,
    activation_kj_per_mol=25.0,
    strength=0.072,
    steepness=0.85,
    water_ratio=1.3,
    radius_m=0.0095,
)


def after_day(start: Drying, humidity_pct: float) -> tuple[Drying, float]:
    """A day in one air, in steps of six minutes; the least surface over core on the way."""
    drying, least_ratio = start, 9.0
    air = Air(temperature_c=12.0, saturation_pa=SATURATION_PA, humidity_ratio=humidity_pct / 100.0)
    for _ in range(240):
        drying = step(STICK, drying, air, 0.1, MATHS)
        core_ratio = core_water_ratio(STICK, drying, MATHS)
        least_ratio = min(least_ratio, drying.surface_ratio / core_ratio)
    return drying, least_ratio


def floors(*, least_ratio: float = 0.65, days: int = 8) -> tuple[float, ...]:
    return gentle_floors(
        STICK,
        hung(STICK),
        temperature_c=12.0,
        saturation_pa=SATURATION_PA,
        least_ratio=least_ratio,
        target_loss_ratio=0.45,
        lowest_pct=30.0,
        highest_pct=90.0,
        days=days,
    )


def test_the_first_day_s_floor_alone_is_the_root_that_scipy_finds() -> None:
    root_pct = brentq(lambda pct: after_day(hung(STICK), pct)[1] - 0.65, 30.0, 90.0, xtol=1e-3)
    (floor_pct,) = floors(days=1)
    assert floor_pct == pytest.approx(root_pct, abs=0.3)


@pytest.mark.parametrize("least_ratio", [0.50, 0.65, 0.80])
def test_the_surface_keeps_to_its_bound_on_every_day(least_ratio: float) -> None:
    drying, least = hung(STICK), []
    for humidity_pct in floors(least_ratio=least_ratio):
        drying, day_ratio = after_day(drying, humidity_pct)
        least.append(day_ratio)
    assert min(least) >= least_ratio - 0.01
    assert min(least) <= least_ratio + 0.02  # and not more gently than was asked


def test_no_day_is_drier_than_a_later_one() -> None:
    found = floors()
    assert list(found) == sorted(found, reverse=True)


def test_where_even_the_moistest_air_is_too_dry_it_stands() -> None:
    parched = drying_at(STICK, 0.02, 0.3)
    found = gentle_floors(
        STICK,
        parched,
        temperature_c=12.0,
        saturation_pa=SATURATION_PA,
        least_ratio=0.65,
        target_loss_ratio=0.45,
        lowest_pct=30.0,
        highest_pct=60.0,
        days=2,
    )
    assert found == (60.0, 60.0)


@given(st.floats(0.0, 0.5), st.floats(0.2, 1.0))
def test_a_stick_is_rebuilt_with_its_loss_and_its_surface_beside_its_core(
    loss_ratio: float, ratio: float
) -> None:
    rebuilt = drying_at(STICK, loss_ratio, ratio)
    assert rebuilt.loss_ratio == loss_ratio
    core_ratio = core_water_ratio(STICK, rebuilt, MATHS)
    assert rebuilt.surface_ratio / core_ratio == pytest.approx(ratio)
