"""Readings become samples: one glitch moves none, and a silence begins anew."""

from itertools import pairwise

import pytest
from CoolProp.HumidAirProp import HAPropsSI
from hypothesis import given
from hypothesis import strategies as st

from hangroom.control.plant_watch.trace import (
    KEPT_S,
    AirSeen,
    Trace,
    between,
    extended,
    vapour_g_per_m3,
)


def traced(humidities_pct: list[float], *, every_s: float = 6) -> Trace:
    trace = Trace()
    for number, humidity_pct in enumerate(humidities_pct):
        trace = extended(
            trace,
            AirSeen(temperature_c=15, humidity_pct=humidity_pct, taken_uptime_s=every_s * number),
        )
    return trace


@pytest.mark.parametrize("temperature_c", [1, 4, 15, 25])
@pytest.mark.parametrize("humidity_pct", [30, 80, 99])
def test_vapour_agrees_with_coolprop_within_one_percent(
    temperature_c: float, humidity_pct: float
) -> None:
    # CoolProp's humid air (ASHRAE RP-1485): kg water a kg dry air over m3 a kg dry air. Its gas is
    # real, ours ideal with an enhancement of 1: half a percent at room temperature and pressure.
    state = ("T", temperature_c + 273.15, "P", 101_325, "R", humidity_pct / 100)
    published = 1000 * HAPropsSI("W", *state) / HAPropsSI("Vda", *state)
    assert vapour_g_per_m3(temperature_c, humidity_pct) == pytest.approx(published, rel=0.01)


@given(place=st.integers(2, 27), glitch_pct=st.floats(1, 100))
def test_one_glitch_moves_no_sample(place: int, glitch_pct: float) -> None:
    readings = [80.0] * 30
    readings[place] = glitch_pct
    assert {sample.humidity_pct for sample in traced(readings).samples} == {80.0}


@pytest.mark.parametrize("every_s", [2, 6, 15])
def test_samples_are_five_seconds_apart_or_more_and_are_forgotten_after_twelve_minutes(
    every_s: float,
) -> None:
    times_s = [s.uptime_s for s in traced([80.0] * 1200, every_s=every_s).samples]
    assert all(b - a >= 5 for a, b in pairwise(times_s))
    assert KEPT_S - every_s <= times_s[-1] - times_s[0] <= KEPT_S + 2 * every_s + 5


def test_after_a_silence_nothing_of_before_is_left() -> None:
    trace = traced([80.0] * 50)
    late = AirSeen(temperature_c=15, humidity_pct=60, taken_uptime_s=50 * 6 + 91)
    assert extended(trace, late).samples == ()


@given(from_s=st.floats(-10, 400), for_s=st.floats(0, 400))
def test_a_stretch_of_time_holds_its_samples_and_no_others(from_s: float, for_s: float) -> None:
    trace = traced([80.0] * 60)
    found = between(trace, from_s, from_s + for_s)
    assert list(found) == [s for s in trace.samples if from_s <= s.uptime_s <= from_s + for_s]
