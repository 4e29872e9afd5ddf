"""Shrinkage against closed-form values for a fresh density of 1060 kg/m3, lost water 1000 kg/m3."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hangroom.errors import InputError
from hangroom.product.geometry import (
    ACROSS_ONLY,
    ALL_ROUND,
    Size,
    density_kg_per_m3,
    shrunk,
    volume_ratio,
)

FRESH = Size(diameter_mm=19.0, length_mm=250.0)


# loss, V/V0, D/D0 across only, D/D0 all round, density; exact by hand.
@pytest.mark.parametrize(
    ("loss", "volume", "across", "all_round", "density"),
    [
        (0.10, 0.8940, 0.9455, 0.9633, 1067.1),
        (0.20, 0.7880, 0.8877, 0.9237, 1076.1),
        (0.25, 0.7350, 0.8573, 0.9025, 1081.6),
        (0.30, 0.6820, 0.8258, 0.8802, 1088.0),
        (0.35, 0.6290, 0.7931, 0.8568, 1095.4),
        (0.40, 0.5760, 0.7589, 0.8320, 1104.2),
        (0.45, 0.5230, 0.7232, 0.8057, 1114.7),
        (0.50, 0.4700, 0.6856, 0.7775, 1127.7),
    ],
)
def test_a_stick_shrinks_as_the_closed_form_says(
    loss: float, volume: float, across: float, all_round: float, density: float
) -> None:
    assert volume_ratio(loss) == pytest.approx(volume, abs=5e-5)
    assert shrunk(FRESH, loss, ACROSS_ONLY).diameter_mm / 19.0 == pytest.approx(across, abs=1e-4)
    assert shrunk(FRESH, loss, ALL_ROUND).diameter_mm / 19.0 == pytest.approx(all_round, abs=1e-4)
    assert density_kg_per_m3(loss) == pytest.approx(density, abs=0.051)


@given(st.floats(0, 0.6), st.floats(2, 3))
def test_diameter_squared_times_length_is_the_volume_left(loss: float, shrinkage: float) -> None:
    now = shrunk(FRESH, loss, shrinkage)
    assert now.diameter_mm**2 * now.length_mm == pytest.approx(volume_ratio(loss) * 19.0**2 * 250.0)


def test_shrinking_across_only_keeps_the_length_and_all_round_keeps_the_shape() -> None:
    assert shrunk(FRESH, 0.3, ACROSS_ONLY).length_mm == pytest.approx(250.0)
    even = shrunk(FRESH, 0.3, ALL_ROUND)
    assert even.length_mm / even.diameter_mm == pytest.approx(250.0 / 19.0)


@pytest.mark.parametrize(
    ("loss", "shrinkage"), [(-0.1, 2.0), (0.95, 2.0), (0.3, 1.9), (0.3, 3.1), (float("nan"), 2.0)]
)
def test_a_loss_or_a_shrinkage_that_cannot_be_is_refused(loss: float, shrinkage: float) -> None:
    with pytest.raises(InputError):
        shrunk(FRESH, loss, shrinkage)
