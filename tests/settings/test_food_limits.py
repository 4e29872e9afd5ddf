"""Where a room's air counts as too warm: the published figures, and the keeper's own."""

import tomllib

import pytest

from hangroom.errors import SettingsError
from hangroom.settings import check_settings
from hangroom.terms import TemperatureLimits

# 41 and 60 degF, as printed, in degC: (41 - 32) * 5 / 9 and (60 - 32) * 5 / 9.
COLD_HOLDING_C = 5.0
WARM_HANGING_C = 15.5556


def limits_of(
    *, setpoint_c: float | None = None, cooled: bool = False, own: str = ""
) -> TemperatureLimits:
    text = '[room.r]\ntitle = "R"\n[room.r.sensor.s]\nkind = "dht22"\npin = 4\n'
    if setpoint_c is not None:
        text += f"[room.r.temperature]\nsetpoint_c = {setpoint_c}\n"
    if cooled:
        text += '[room.r.relay.c]\nkind = "cooling"\npin = 22\n'
    limits = (
        check_settings(tomllib.loads(text + own), source="my.toml")
        .room["r"]
        .plan("r")
        .temperature_limits
    )
    assert limits is not None
    return limits


@pytest.mark.parametrize("setpoint_c", [2.0, 4.0, 5.0])
def test_a_cold_store_has_the_food_codes_cold_holding(setpoint_c: float) -> None:
    assert limits_of(setpoint_c=setpoint_c, cooled=True).high_c == COLD_HOLDING_C


def test_a_room_without_cooling_has_the_figure_of_warm_hanging() -> None:
    assert limits_of().high_c == pytest.approx(WARM_HANGING_C, abs=1e-4)
    assert limits_of(setpoint_c=4.0).high_c == pytest.approx(WARM_HANGING_C, abs=1e-4)


def test_a_cooled_room_that_hangs_warmer_is_no_cold_store() -> None:
    assert limits_of(setpoint_c=13.0, cooled=True).high_c == pytest.approx(WARM_HANGING_C, abs=1e-4)


def test_the_keepers_own_figures_go_before_them() -> None:
    own = "[room.r.food_limits]\nlow_c = 1.5\nhigh_c = 8.0\n"
    assert limits_of(setpoint_c=4.0, cooled=True, own=own) == TemperatureLimits(
        low_c=1.5, high_c=8.0
    )
    assert limits_of(own="[room.r.food_limits]\nlow_c = 1.5\n").high_c == pytest.approx(
        WARM_HANGING_C, abs=1e-4
    )


@pytest.mark.parametrize(
    ("own", "says"),
    [
        ("low_c = 16.0", "low_c (16) must lie below high_c (15.5556)"),
        ("low_c = 6.0\nhigh_c = 6.0", "low_c (6) must lie below high_c (6)"),
        ("high_c = 13.5", "high_c (13.5) lies below what a stage is asked to reach (14)"),
        ("low_c = 12.5", "low_c (12.5) lies above what a stage is asked to reach (12)"),
        ("high = 20.0", "did you mean 'high_c'"),
        ("high_c = 50.0", "less than or equal to 45"),
    ],
)
def test_figures_that_cannot_hold_are_refused_with_what_to_do(own: str, says: str) -> None:
    with pytest.raises(SettingsError) as refused:
        limits_of(setpoint_c=13.0, own=f"[room.r.food_limits]\n{own}\n")
    assert says in str(refused.value)
