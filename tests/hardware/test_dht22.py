"""A DHT22 through its real library, on recorded pulses."""

import json

import pytest
from hardware.sensing import Open, wait_for


def pulses(*frame: int) -> list[int]:
    """A frame of five bytes as the sensor sends it, in microseconds.

    AM2302 data sheet: each bit is 50 us low, then 26 to 28 us high for 0 or 70 us for 1; a last
    low ends the frame.
    """
    bits = [byte >> (7 - place) & 1 for byte in frame for place in range(8)]
    return [width for bit in bits for width in (50, 70 if bit else 27)] + [50]


# Worked examples of the AM2302 data sheet: 65.2 %RH and 35.1 degC, checksum 0xEE; and the sign
# bit, 1000 0000 0110 0101 for -10.1 degC.
@pytest.mark.parametrize(
    ("frame", "temperature_c", "humidity_pct"),
    [
        pytest.param((0x02, 0x8C, 0x01, 0x5F, 0xEE), 35.1, 65.2, id="warm"),
        pytest.param((0x02, 0x8C, 0x80, 0x65, 0x73), -10.1, 65.2, id="below freezing"),
    ],
)
def test_the_data_sheets_frames_read_as_printed_through_the_real_library(
    open_sensor: Open,
    monkeypatch: pytest.MonkeyPatch,
    frame: tuple[int, ...],
    temperature_c: float,
    humidity_pct: float,
) -> None:
    monkeypatch.setenv("SCRIPTED_FRAMES", json.dumps([pulses(*frame)]))
    sensor = open_sensor("plays_frames")
    wait_for(lambda: sensor.latest() is not None)
    reading = sensor.latest()
    assert reading is not None
    assert (reading.temperature_c, reading.humidity_pct) == (temperature_c, humidity_pct)


@pytest.mark.parametrize(
    ("recorded", "reason"),
    [
        pytest.param(pulses(0x02, 0x8C, 0x01, 0x5F, 0xEF), "checksum", id="one bit flipped"),
        pytest.param([], "no-answer", id="unplugged"),
        pytest.param(pulses(0x02, 0x8C, 0x01, 0x5F, 0xEE)[:70], "no-answer", id="edges missed"),
        pytest.param(pulses(0, 0, 0, 0, 0), "all-zero", id="data line held low"),
        pytest.param(pulses(0x04, 0xB0, 0x01, 0x5F, 0x14), "out-of-range", id="120 %RH"),
        pytest.param(pulses(0x02, 0x8C, 0xFF, 0xFB, 0x88), "out-of-range", id="-0.5 in two's"),
    ],
)
def test_after_a_good_frame_a_bad_one_never_gives_the_old_value_as_new(
    open_sensor: Open, monkeypatch: pytest.MonkeyPatch, recorded: list[int], reason: str
) -> None:
    """Read quickly on purpose: the library hands out its last values within two seconds."""
    good = pulses(0x02, 0x8C, 0x01, 0x5F, 0xEE)
    monkeypatch.setenv("SCRIPTED_FRAMES", json.dumps([good, recorded]))
    sensor = open_sensor("plays_frames")
    wait_for(lambda: sensor.faults()[reason] >= 3)
    reading = sensor.latest()
    assert reading is not None
    wait_for(lambda: sensor.faults()[reason] >= 6)
    assert sensor.latest() is reading
