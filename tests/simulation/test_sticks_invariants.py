"""What must hold of any sticks in any air (hypothesis)."""

from math import exp
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hangroom.simulation.casing import Casing
from hangroom.simulation.load import Sticks
from hangroom.simulation.meat import meat_activity
from hangroom.simulation.offline import dry
from hangroom.simulation.spec import LoadSpec

TEMPERATURES_C = st.floats(2.0, 25.0)
HUMIDITIES_PCT = st.floats(40.0, 90.0)
FILMS_W = st.floats(3.0, 15.0)


@st.composite
def stick_kinds(draw: st.DrawFn, *, closing: bool = True) -> dict[str, Any]:
    """Arguments of `Sticks`, so that equal ones can be made again."""
    at_12c = draw(st.floats(2e-11, 2e-10))
    fading = draw(st.floats(0.0, 0.5))
    permeance = draw(st.floats(5e-9, 5e-8))
    share = draw(st.floats(0.2, 1.0)) if closing else 1.0
    return {
        "hung": LoadSpec(
            mass_kg=draw(st.floats(0.05, 5.0)),
            diameter_mm=draw(st.floats(14.0, 28.0)),
            water_fraction=draw(st.floats(0.45, 0.65)),
        ),
        "shells": 10,
        "diffusivity": lambda c: at_12c * exp(-3007.0 * (1.0 / (c + 273.15) - 1.0 / 285.15)),
        "slowing": lambda x: exp(-fading * (1.0 / x - 1.0)),
        "casing": Casing(permeance_kg_per_m2_s_pa=permeance, dry_share=share),
        "exposed_share": draw(st.floats(0.6, 1.0)),
    }


def dried(
    sticks: Sticks,
    hours: float,
    *,
    temperature_c: float = 12.0,
    humidity_pct: float,
    film_w: float = 8.0,
    step_s: float = 120.0,
) -> list[float]:
    """Loss after every step."""
    losses = []
    for _ in range(round(hours * 3600.0 / step_s)):
        dry(
            sticks,
            over_s=step_s,
            temperature_c=temperature_c,
            humidity_pct=humidity_pct,
            heat_w_per_m2_k=film_w,
        )
        losses.append(sticks.loss_ratio)
    return losses


@settings(max_examples=25, deadline=None)
@given(
    kind=stick_kinds(),
    air=st.lists(
        st.tuples(TEMPERATURES_C, st.floats(20.0, 100.0), FILMS_W), min_size=1, max_size=8
    ),
)
def test_what_the_air_was_given_is_what_the_sticks_lost(
    kind: dict[str, Any], air: list[tuple[float, float, float]]
) -> None:
    sticks = Sticks(**kind)
    first_kg, given_kg, moved_kg = sticks.weight_kg, 0.0, 0.0
    for temperature_c, humidity_pct, film_w in air:
        for _ in range(200):
            step_kg = dry(
                sticks,
                over_s=120.0,
                temperature_c=temperature_c,
                humidity_pct=humidity_pct,
                heat_w_per_m2_k=film_w,
            )
            given_kg += step_kg
            moved_kg += abs(step_kg)
    assert abs(first_kg - sticks.weight_kg - given_kg) <= 1e-9 * max(moved_kg, 1e-6)


@settings(max_examples=25, deadline=None)
@given(kind=stick_kinds(), more_pct=st.floats(0.0, 3.0), temperature_c=TEMPERATURES_C)
def test_in_air_as_moist_as_the_sticks_no_weight_is_ever_lost(
    kind: dict[str, Any], more_pct: float, temperature_c: float
) -> None:
    sticks = Sticks(**kind)
    hung = kind["hung"].water_fraction
    humidity_pct = min(100.0, 100.0 * meat_activity(hung / (1.0 - hung))[0] + more_pct)
    losses = dried(sticks, 24.0, temperature_c=temperature_c, humidity_pct=humidity_pct)
    assert all(b <= a + 1e-12 for a, b in zip([0.0, *losses], losses, strict=False))


@settings(max_examples=25, deadline=None)
@given(kind=stick_kinds(), low_pct=HUMIDITIES_PCT, more_pct=st.floats(1.0, 10.0))
def test_moister_air_never_dries_faster(
    kind: dict[str, Any], low_pct: float, more_pct: float
) -> None:
    drier = dried(Sticks(**kind), 96.0, humidity_pct=low_pct)
    moister = dried(Sticks(**kind), 96.0, humidity_pct=low_pct + more_pct)
    assert all(m <= d + 1e-9 for m, d in zip(moister, drier, strict=True))


@settings(max_examples=25, deadline=None)
@given(kind=stick_kinds(closing=False), faster=st.floats(1.05, 3.0), humidity_pct=HUMIDITIES_PCT)
def test_freer_water_and_a_thinner_casing_never_dry_more_slowly(
    kind: dict[str, Any], faster: float, humidity_pct: float
) -> None:
    plain = dried(Sticks(**kind), 96.0, humidity_pct=humidity_pct)
    diffusivity = kind["diffusivity"]
    freer = Sticks(**{**kind, "diffusivity": lambda c: faster * diffusivity(c)})
    permeance = faster * kind["casing"].permeance_kg_per_m2_s_pa
    thinner = Sticks(**{**kind, "casing": Casing(permeance_kg_per_m2_s_pa=permeance)})
    for sticks in (freer, thinner):
        losses = dried(sticks, 96.0, humidity_pct=humidity_pct)
        assert all(loss >= base - 1e-9 for loss, base in zip(losses, plain, strict=True))


@settings(max_examples=25, deadline=None)
@given(kind=stick_kinds(), humidity_pct=HUMIDITIES_PCT, film_w=FILMS_W)
def test_half_the_step_moves_no_loss_by_a_hundredth_of_it(
    kind: dict[str, Any], humidity_pct: float, film_w: float
) -> None:
    whole = dried(Sticks(**kind), 48.0, humidity_pct=humidity_pct, film_w=film_w)
    half = dried(Sticks(**kind), 48.0, humidity_pct=humidity_pct, film_w=film_w, step_s=60.0)
    assert whole[89::90] == pytest.approx(half[179::180], rel=0.01, abs=1e-5)


@settings(max_examples=10, deadline=None)
@given(humidity_pct=HUMIDITIES_PCT, temperature_c=st.floats(10.0, 25.0), share=st.floats(0.3, 1.0))
def test_in_the_end_the_whole_stick_is_as_moist_as_the_air(
    humidity_pct: float, temperature_c: float, share: float
) -> None:
    sticks = Sticks(
        LoadSpec(diameter_mm=8.0),
        shells=6,
        diffusivity=lambda _: 4e-10,
        casing=Casing(permeance_kg_per_m2_s_pa=5e-8, dry_share=share),
    )
    dried(sticks, 480.0, temperature_c=temperature_c, humidity_pct=humidity_pct)
    for water_ratio in sticks.water_ratios:
        assert 100.0 * meat_activity(water_ratio)[0] == pytest.approx(humidity_pct, abs=0.05)


def test_an_array_of_sticks_dries_as_each_of_them_alone() -> None:
    """The truth of the benchmarks runs many at once; it must be the same truth."""

    class Many:
        mass_kg = np.array([0.08, 0.09, 0.10])
        diameter_mm = np.array([16.0, 19.0, 25.0])
        water_fraction = np.array([0.50, 0.55, 0.60])

    humidity_pct = np.array([55.0, 65.0, 80.0])
    permeance = np.array([1e-8, 2e-8, 4e-8])
    together = Sticks(
        Many(),
        diffusivity=lambda _: 8e-11,
        casing=Casing(permeance_kg_per_m2_s_pa=permeance, dry_share=0.5),
        largest=lambda ways: float(np.max(ways)),
    )
    for _ in range(30 * 48):
        dry(
            together,
            over_s=120.0,
            temperature_c=12.0,
            humidity_pct=humidity_pct,
            heat_w_per_m2_k=8.0,
            exp=np.exp,
        )
    for index in range(3):
        alone = Sticks(
            LoadSpec(
                mass_kg=Many.mass_kg[index],
                diameter_mm=Many.diameter_mm[index],
                water_fraction=Many.water_fraction[index],
            ),
            diffusivity=lambda _: 8e-11,
            casing=Casing(permeance_kg_per_m2_s_pa=permeance[index], dry_share=0.5),
        )
        losses = dried(alone, 48.0, humidity_pct=humidity_pct[index])
        # The number of inner steps is that of the quickest stick.
        assert together.loss_ratio[index] == pytest.approx(losses[-1], rel=1e-4)
