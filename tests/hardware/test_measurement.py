import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hangroom.hardware.measurement import PARENTS_OWN, Fault, Measurement, understand
from hangroom.sensor_kinds import KINDS


def answer(temperature_c: float, humidity_pct: float, taken_uptime_s: float = 11.0) -> bytes:
    told = {
        "temperature_c": temperature_c,
        "humidity_pct": humidity_pct,
        "taken_uptime_s": taken_uptime_s,
    }
    return json.dumps(told).encode() + b"\n"


def understood(line: bytes, kind: str = "dht22") -> Measurement | Fault:
    return understand(line, KINDS[kind], asked_uptime_s=10.0, answered_uptime_s=12.0)


@pytest.mark.parametrize(
    ("temperature_c", "humidity_pct"),
    [(35.1, 65.2), (-10.1, 40.0), (-40.0, 0.0), (80.0, 100.0), (0.0, 55.0), (14.0, 0.0)],
)
def test_what_the_sensor_can_report_is_a_measurement(
    temperature_c: float, humidity_pct: float
) -> None:
    assert understood(answer(temperature_c, humidity_pct)) == Measurement(
        temperature_c=temperature_c, humidity_pct=humidity_pct, taken_uptime_s=11.0
    )


# Range of the AM2302 data sheet: -40 to 80 degC, 0 to 100 %RH.
@pytest.mark.parametrize(
    ("temperature_c", "humidity_pct", "fault"),
    [
        pytest.param(0.0, 0.0, Fault.ALL_ZERO, id="forty zero bits"),
        pytest.param(-0.0, 0.0, Fault.ALL_ZERO, id="forty zero bits but the sign"),
        pytest.param(-3275.8, 60.0, Fault.OUT_OF_RANGE, id="two's complement from a clone"),
        pytest.param(80.1, 60.0, Fault.OUT_OF_RANGE, id="too warm"),
        pytest.param(20.0, 100.1, Fault.OUT_OF_RANGE, id="more than saturated"),
        pytest.param(20.0, -0.1, Fault.OUT_OF_RANGE, id="less than dry"),
        pytest.param(math.nan, 60.0, Fault.OUT_OF_RANGE, id="no temperature"),
        pytest.param(20.0, math.nan, Fault.OUT_OF_RANGE, id="no humidity"),
        pytest.param(math.inf, 60.0, Fault.OUT_OF_RANGE, id="infinite"),
    ],
)
def test_what_no_sensor_can_mean_is_absent(
    temperature_c: float, humidity_pct: float, fault: Fault
) -> None:
    assert understood(answer(temperature_c, humidity_pct)) is fault


@pytest.mark.parametrize("taken_uptime_s", [9.999, 12.001, -1.0, math.nan, math.inf])
def test_a_value_not_measured_between_question_and_answer_is_garbage(
    taken_uptime_s: float,
) -> None:
    assert understood(answer(14.0, 78.0, taken_uptime_s)) is Fault.GARBAGE


@pytest.mark.parametrize("fault", [fault for fault in Fault if fault not in PARENTS_OWN])
def test_the_childs_own_faults_are_passed_on(fault: Fault) -> None:
    assert understood(json.dumps({"fault": fault}).encode()) is fault


@pytest.mark.parametrize("fault", sorted(PARENTS_OWN))
def test_what_only_the_parent_can_know_is_garbage_from_a_child(fault: Fault) -> None:
    assert understood(json.dumps({"fault": fault}).encode()) is Fault.GARBAGE


# SHT3x-DIS and SHT4x data sheets, conversion of signal output: T = -45 + 175 S / (2^16 - 1), so
# that sixteen zero bits are -45 and sixteen ones 130 degC; the Linux kernel's drivers divide by
# 2^16, which makes 129.997 of the ones. BME280 data sheet: operating range -40 to 85 degC.
@pytest.mark.parametrize(
    ("kind", "temperature_c", "humidity_pct", "fault"),
    [
        pytest.param("sht31", -45.0, 0.0, Fault.ALL_ZERO, id="both words zero"),
        pytest.param("sht31", -45.0, 100.0, Fault.ALL_ZERO, id="temperature's word zero"),
        pytest.param("sht31", 130.0, 100.0, Fault.ALL_ONES, id="both words ones"),
        pytest.param("sht31", 130.0, 0.0, Fault.ALL_ONES, id="temperature's word ones"),
        pytest.param("sht45", 129.997, 100.0, Fault.ALL_ONES, id="ones by the kernel"),
        pytest.param("sht45", -45.0, -6.0, Fault.ALL_ZERO, id="zero by the SHT4x's formula"),
        pytest.param("sht45", 13.0, 100.1, Fault.OUT_OF_RANGE, id="more than saturated"),
        pytest.param("bme280", 85.1, 60.0, Fault.OUT_OF_RANGE, id="beyond the BME280"),
        pytest.param("bme280", -40.1, 60.0, Fault.OUT_OF_RANGE, id="below the BME280"),
        pytest.param("bme280", 0.0, 0.0, Fault.ALL_ZERO, id="nothing there"),
    ],
)
def test_stuck_words_and_each_kinds_own_range(
    kind: str, temperature_c: float, humidity_pct: float, fault: Fault
) -> None:
    assert understood(answer(temperature_c, humidity_pct), kind) is fault


def test_each_kind_is_believed_up_to_its_own_end_and_no_other() -> None:
    assert isinstance(understood(answer(82.0, 60.0), "bme280"), Measurement)
    assert understood(answer(82.0, 60.0), "dht22") is Fault.OUT_OF_RANGE


@pytest.mark.parametrize(
    "line",
    [
        b"",
        b"\n",
        b"\xff\xfe\n",
        b"[1, 2]\n",
        b'{"fault": "on holiday"}\n',
        b'{"temperature_c": "14.0", "humidity_pct": 78.0, "taken_uptime_s": 11.0}\n',
        b'{"temperature_c": true, "humidity_pct": 78.0, "taken_uptime_s": 11.0}\n',
        b'{"temperature_c": 14.0, "taken_uptime_s": 11.0}\n',
        answer(14.0, 78.0) * 2,
    ],
)
def test_what_cannot_be_understood_is_garbage(line: bytes) -> None:
    assert understood(line) is Fault.GARBAGE


@given(line=st.binary(max_size=200))
def test_no_answer_whatever_raises(line: bytes) -> None:
    assert isinstance(understood(line), Measurement | Fault)


@given(
    temperature_c=st.floats(),
    humidity_pct=st.floats(),
    taken_uptime_s=st.floats(),
)
def test_nothing_outside_the_data_sheet_ever_becomes_a_measurement(
    temperature_c: float, humidity_pct: float, taken_uptime_s: float
) -> None:
    outcome = understood(answer(temperature_c, humidity_pct, taken_uptime_s))
    if isinstance(outcome, Measurement):
        assert -40 <= outcome.temperature_c <= 80
        assert 0 <= outcome.humidity_pct <= 100
        assert (outcome.temperature_c, outcome.humidity_pct) != (0, 0)
        assert 10 <= outcome.taken_uptime_s <= 12
