"""The three lights, at their limits and beside a map of a finer model of a shrinking stick."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hangroom.product.drying_lights import (
    Light,
    is_sealed,
    loss_light,
    loss_limits,
    ratio_light,
    surface_light,
)

# diameter mm, room humidity %, largest daily loss % of hang weight, least surface:core ratio.
# Computed with a shell model (shrinking stick, X0 1.3 kg/kg, h 9 W/m2K, casing 2e-8 kg/m2 s Pa,
# 12 degC), which is not the model that judges here.
SHELLS = [
    (16, 55, 12.4, 0.47), (16, 65, 9.5, 0.60), (16, 75, 6.5, 0.73), (16, 82, 4.4, 0.82),
    (19, 55, 10.5, 0.43), (19, 65, 8.0, 0.55), (19, 75, 5.5, 0.70), (19, 82, 3.7, 0.80),
]  # fmt: skip


@pytest.mark.parametrize(("diameter_mm", "humidity_pct", "loss_pct", "ratio"), SHELLS)
def test_the_daily_loss_shows_the_light_of_the_surface(
    diameter_mm: float, humidity_pct: float, loss_pct: float, ratio: float
) -> None:
    expected = {55: Light.RED, 65: Light.AMBER, 75: Light.GREEN, 82: Light.GREEN}[int(humidity_pct)]
    assert loss_light(loss_pct, diameter_mm) is expected
    assert ratio_light(ratio) is expected


@pytest.mark.parametrize(
    ("ratio", "light"),
    [
        (1.0, Light.GREEN),
        (0.65, Light.GREEN),
        (0.6499, Light.AMBER),
        (0.50, Light.AMBER),
        (0.4999, Light.RED),
        (0.0, Light.RED),
    ],
)
def test_the_light_changes_at_its_limits(ratio: float, light: Light) -> None:
    assert ratio_light(ratio) is light


@pytest.mark.parametrize(
    ("surface_aw", "core_aw", "sealed"),
    [(0.79, 0.93, True), (0.80, 0.93, False), (0.79, 0.92, False), (0.90, 0.95, False)],
)
def test_a_dry_surface_on_a_moist_core_is_red_whatever_the_ratio(
    surface_aw: float, core_aw: float, *, sealed: bool
) -> None:
    assert is_sealed(surface_aw, core_aw) is sealed
    assert (surface_light(0.9, surface_aw, core_aw) is Light.RED) is sealed


def test_the_limits_of_loss_scale_with_nineteen_over_the_thickness() -> None:
    assert (loss_limits(19.0).amber_pct_per_day, loss_limits(19.0).red_pct_per_day) == (6.0, 10.0)
    # 19 / 25 = 0.76
    assert loss_limits(25.0).amber_pct_per_day == pytest.approx(4.56)
    assert loss_limits(25.0).red_pct_per_day == pytest.approx(7.6)
    assert loss_light(6.0, 19.0) is Light.GREEN
    assert loss_light(6.0001, 19.0) is Light.AMBER
    assert loss_light(10.0, 19.0) is Light.AMBER
    assert loss_light(10.0001, 19.0) is Light.RED


RANK = list(Light)


@given(
    st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.floats(0.6, 1.0), st.floats(0.6, 1.0)
)  # fmt: skip
def test_a_moister_surface_never_looks_worse(
    one: float, other: float, surface_aw: float, core_aw: float
) -> None:
    drier, moister = sorted((one, other))
    drier_light = surface_light(drier, surface_aw, core_aw)
    moister_light = surface_light(moister, surface_aw, core_aw)
    assert RANK.index(moister_light) <= RANK.index(drier_light)
