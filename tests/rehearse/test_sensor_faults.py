"""Every fault of a sensor there is, through the whole service: what is told, when, and of what."""

from pathlib import Path

import pytest
from rehearse.scenarios import CLOSET, fault, run

from hangroom.alarm_table.row import AlarmId
from hangroom.cli.rehearsal import Rehearsal

# The closet with a second sensor beside the first, for six hours; faults strike the first after one.
TWO_SENSORS = CLOSET.replace("days = 0.1", "days = 0.25").replace(
    "[settings.room.closet.relay.humidifier]",
    '[settings.room.closet.sensor.back]\nkind = "dht22"\npin = 5\n'
    "[settings.room.closet.relay.humidifier]",
)
ONE_SENSOR = CLOSET.replace("days = 0.1", "days = 0.35")
AFTER_H, LASTS_H = 1.0, 9.0
SENSOR_ALARMS = {AlarmId.SENSOR_STALE, AlarmId.SENSOR_IMPLAUSIBLE, AlarmId.SENSORS_DISAGREE}


def told_s(rehearsal: Rehearsal) -> dict[AlarmId, float]:
    """Return the alarms on sensors, each with the seconds from the fault to the first telling."""
    found: dict[AlarmId, float] = {}
    for span in rehearsal.alarms:
        if span.id in SENSOR_ALARMS:
            found.setdefault(AlarmId(span.id), span.raised_s - AFTER_H * 3600.0)
    return found


@pytest.mark.parametrize(
    ("kind", "size", "alarm", "within_s"),
    [
        # Dead: three minutes. Wet: the very top is no reading at once, told after its minute.
        pytest.param("sensor-silent", 0.0, AlarmId.SENSOR_STALE, 180.0, id="silent"),
        pytest.param("sensor-wet", 0.0, AlarmId.SENSOR_IMPLAUSIBLE, 90.0, id="wet"),
        # 15 min apart by more than 5 %; a drift of 4 %/h needs an hour and a quarter before that.
        pytest.param("sensor-bias", 8.0, AlarmId.SENSORS_DISAGREE, 1000.0, id="bias"),
        pytest.param("sensor-bias", -8.0, AlarmId.SENSORS_DISAGREE, 1000.0, id="bias down"),
        pytest.param("sensor-drift", 96.0, AlarmId.SENSORS_DISAGREE, 6000.0, id="drift"),
        # Some thirty spikes an hour, of which those with every relay off can be told from the air.
        pytest.param("sensor-spike", 20.0, AlarmId.SENSOR_IMPLAUSIBLE, 3600.0, id="spikes"),
        pytest.param("sensor-spike", -20.0, AlarmId.SENSOR_IMPLAUSIBLE, 3600.0, id="spikes down"),
    ],
)
def test_a_fault_of_one_of_two_sensors_is_told_and_harms_nothing(
    tmp_path: Path, kind: str, size: float, alarm: AlarmId, within_s: float
) -> None:
    it = run(tmp_path, TWO_SENSORS + fault(kind, at_h=AFTER_H, for_h=LASTS_H, size=size))
    told = told_s(it)
    assert set(told) == {alarm}
    assert 0.0 < told[alarm] <= within_s
    assert it.figures["closet"].unsafe_states == 0


def test_two_healthy_sensors_are_never_told_of(tmp_path: Path) -> None:
    assert told_s(run(tmp_path, TWO_SENSORS)) == {}


@pytest.mark.parametrize(
    "text",
    [
        pytest.param(TWO_SENSORS.replace("days = 0.25", "days = 0.35"), id="one of two"),
        pytest.param(ONE_SENSOR, id="the only one"),
    ],
)
def test_a_frozen_sensor_is_told_even_where_nothing_is_switched_any_more(
    tmp_path: Path, text: str
) -> None:
    it = run(tmp_path, text + fault("sensor-frozen", at_h=AFTER_H, for_h=LASTS_H))
    told = told_s(it)
    # Two hours where relays went on, six at the most, and the delay of the alarm; beside another
    # sensor perhaps sooner, as soon as the room has moved away from it.
    assert told
    assert min(told.values()) <= 6 * 3600.0 + 120.0
    assert it.figures["closet"].unsafe_states == 0


def test_a_wet_sensor_leaves_the_room_to_the_other_one(tmp_path: Path) -> None:
    wet = run(tmp_path, TWO_SENSORS + fault("sensor-wet", at_h=AFTER_H, for_h=LASTS_H))
    in_band_pct = wet.figures["closet"].in_band_pct
    assert in_band_pct is not None
    assert in_band_pct > 95
