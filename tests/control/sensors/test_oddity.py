"""Single readings that cannot be, beside a decoder of the sensor's own frames.

A DHT22 sends humidity and temperature in tenths as two bytes each, the sign in the top bit of the
temperature, and the low byte of their sum (maker's data sheet).
"""

from math import inf, nan

import pytest
from control.sensors.sensed import reading

from hangroom.control.sensors.oddity import oddity
from hangroom.terms import Because


def decoded(*frame: int) -> tuple[float, float]:
    """Return humidity and temperature of a frame whose checksum is right."""
    assert sum(frame[:4]) & 0xFF == frame[4], "a driver would refuse this frame"
    humidity_pct = (frame[0] << 8 | frame[1]) / 10
    temperature_c = ((frame[2] & 0x7F) << 8 | frame[3]) / 10
    return humidity_pct, -temperature_c if frame[2] & 0x80 else temperature_c


@pytest.mark.parametrize(
    ("frame", "values"),
    [
        pytest.param((0, 0, 0, 0, 0), (0.0, 0.0), id="data line held low"),
        pytest.param((0, 0xFF, 0, 0xFF, 0xFE), (25.5, 25.5), id="both low bytes all ones"),
    ],
)
def test_a_frame_that_a_disturbed_wire_gives_is_no_measurement_though_its_checksum_is_right(
    frame: tuple[int, ...], values: tuple[float, float]
) -> None:
    humidity_pct, temperature_c = decoded(*frame)
    assert (humidity_pct, temperature_c) == values
    because = Because("glitch-reading", {"seen_pct": humidity_pct, "seen_c": temperature_c})
    assert oddity(reading(humidity_pct, temperature_c)) == because


def test_forty_ones_do_not_pass_the_checksum_and_half_of_the_glitch_is_a_measurement() -> None:
    with pytest.raises(AssertionError, match="refuse"):
        decoded(0xFF, 0xFF, 0xFF, 0xFF, 0xFF)
    assert oddity(reading(25.5, 13.0)) is None
    assert oddity(reading(75.0, 25.5)) is None


@pytest.mark.parametrize(
    ("humidity_pct", "temperature_c"),
    [
        pytest.param(nan, 13.0, id="humidity no number"),
        pytest.param(78.0, nan, id="temperature no number"),
        pytest.param(inf, 13.0, id="endless"),
        pytest.param(78.0, -inf, id="endlessly cold"),
    ],
)
def test_no_number_is_told_without_figures_because_a_figure_must_be_one(
    humidity_pct: float, temperature_c: float
) -> None:
    assert oddity(reading(humidity_pct, temperature_c)) == Because("implausible-reading")


@pytest.mark.parametrize(
    ("humidity_pct", "temperature_c", "code"),
    [
        (99.8, 13.0, "top-of-scale"),
        (99.9, 13.0, "top-of-scale"),
        (100.0, 13.0, "top-of-scale"),
        (0.9, 13.0, "out-of-range-reading"),
        (-0.1, 13.0, "out-of-range-reading"),
        (78.0, 50.1, "out-of-range-reading"),
        (78.0, -10.1, "out-of-range-reading"),
        (60.0, -3276.7, "out-of-range-reading"),
    ],
)
def test_what_no_room_can_be_is_told_with_its_figures(
    humidity_pct: float, temperature_c: float, code: str
) -> None:
    because = oddity(reading(humidity_pct, temperature_c))
    assert because is not None
    assert because.code == code
    assert because.figures["seen_pct"] == humidity_pct


@pytest.mark.parametrize(
    ("humidity_pct", "temperature_c"),
    [(99.7, 13.0), (1.0, 13.0), (78.0, 50.0), (78.0, -10.0), (78.0, 0.0)],
)
def test_what_a_room_can_be_is_left_alone(humidity_pct: float, temperature_c: float) -> None:
    assert oddity(reading(humidity_pct, temperature_c)) is None
