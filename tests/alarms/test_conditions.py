"""Raw conditions from what the loop knows; limits as in the rationalised table's own words."""

from math import nan

import pytest
from alarms.rooms import LIMITS, closet, reading, seen

from hangroom.alarm_table.row import AlarmId, Scope
from hangroom.alarm_table.table import rows_of
from hangroom.control.alarms.conditions import HIGH_HIGH_ABOVE_HIGH_C, RoomSeen, room_conditions
from hangroom.control.alarms.delays import Side
from hangroom.terms import AirReading, RelayKind, RoomPlan, Stage

BEYOND, DEADBAND, WITHIN, UNKNOWN = Side.BEYOND, Side.DEADBAND, Side.WITHIN, Side.UNKNOWN
AIR = [
    AlarmId.TEMPERATURE_HIGH, AlarmId.TEMPERATURE_HIGH_HIGH, AlarmId.TEMPERATURE_LOW,
    AlarmId.HUMIDITY_HIGH, AlarmId.HUMIDITY_HIGH_HIGH, AlarmId.HUMIDITY_LOW, AlarmId.HUMIDITY_LOW_LOW,
]  # fmt: skip


def sides(of: RoomSeen) -> dict[AlarmId, Side]:
    """Return the side of every raw condition of a room."""
    return {alarm: raw.side for alarm, raw in room_conditions(of).raw.items()}


def test_a_healthy_room_has_nothing_past_its_limit() -> None:
    healthy = room_conditions(seen(reading()))
    assert {raw.side for raw in healthy.raw.values()} == {WITHIN}
    assert not healthy.blind
    assert set(healthy.raw) < set(rows_of(Scope.ROOM))


@pytest.mark.parametrize(
    ("humidity_pct", "alarm", "expected"),
    [
        (84.9, AlarmId.HUMIDITY_HIGH, DEADBAND),
        (85.0, AlarmId.HUMIDITY_HIGH, BEYOND),
        (83.0, AlarmId.HUMIDITY_HIGH, WITHIN),
        (91.9, AlarmId.HUMIDITY_HIGH_HIGH, DEADBAND),
        (92.0, AlarmId.HUMIDITY_HIGH_HIGH, BEYOND),
        (75.0, AlarmId.HUMIDITY_LOW, BEYOND),
        (76.9, AlarmId.HUMIDITY_LOW, DEADBAND),
        (77.0, AlarmId.HUMIDITY_LOW, WITHIN),
        (60.0, AlarmId.HUMIDITY_LOW_LOW, BEYOND),
    ],
)
def test_humidity_is_5_pct_from_its_setpoint_or_at_a_hard_limit(
    humidity_pct: float, alarm: AlarmId, expected: Side
) -> None:
    raw = room_conditions(seen(reading(humidity_pct))).raw[alarm]
    assert raw.side is expected
    assert raw.figures["seen_pct"] == humidity_pct


@pytest.mark.parametrize(
    ("worst_pct", "worst_c", "alarm"),
    [
        (92.0, 13.0, AlarmId.HUMIDITY_HIGH_HIGH),
        (60.0, 13.0, AlarmId.HUMIDITY_LOW_LOW),
        (80.0, LIMITS.high_c + HIGH_HIGH_ABOVE_HIGH_C, AlarmId.TEMPERATURE_HIGH_HIGH),
    ],
)
def test_at_a_hard_limit_the_sensor_that_is_worst_off_has_the_say(
    worst_pct: float, worst_c: float, alarm: AlarmId
) -> None:
    both = seen(reading(80.0), reading(worst_pct, worst_c))
    assert sides(both)[alarm] is BEYOND
    assert sides(seen(reading(80.0), reading(80.1)))[alarm] is WITHIN


def test_a_wide_band_never_reaches_into_the_deadband_of_its_own_alarm() -> None:
    wide = closet(band_pct=6.0)
    edge = sides(seen(reading(86.0), plan=wide))
    assert edge[AlarmId.HUMIDITY_HIGH] is WITHIN
    assert sides(seen(reading(89.0), plan=wide))[AlarmId.HUMIDITY_HIGH] is BEYOND


@pytest.mark.parametrize(
    ("temperature_c", "alarm", "expected"),
    [
        (16.0, AlarmId.TEMPERATURE_HIGH, BEYOND),
        (15.6, AlarmId.TEMPERATURE_HIGH, DEADBAND),
        (15.5, AlarmId.TEMPERATURE_HIGH, WITHIN),
        (18.4, AlarmId.TEMPERATURE_HIGH_HIGH, WITHIN),
        (19.0, AlarmId.TEMPERATURE_HIGH_HIGH, BEYOND),
        (8.0, AlarmId.TEMPERATURE_LOW, BEYOND),
        (8.5, AlarmId.TEMPERATURE_LOW, WITHIN),
    ],
)
def test_temperature_is_at_the_limit_the_settings_give_or_3_degrees_above(
    temperature_c: float, alarm: AlarmId, expected: Side
) -> None:
    assert sides(seen(reading(temperature_c=temperature_c)))[alarm] is expected


@pytest.mark.parametrize(
    "bad",
    [
        pytest.param(None, id="never read"),
        pytest.param(reading(taken_uptime_s=969.0), id="31 s old"),
        pytest.param(reading(nan), id="no number"),
        pytest.param(reading(99.9), id="a soaked element"),
        pytest.param(reading(taken_uptime_s=1003.0), id="from the future"),
    ],
)
def test_air_that_cannot_be_trusted_is_unknown_and_never_normal(
    bad: AirReading | None,
) -> None:
    conditions = room_conditions(seen(bad))
    assert conditions.blind
    assert {conditions.raw[alarm].side for alarm in AIR} == {UNKNOWN}


@pytest.mark.parametrize(
    ("plan", "still_judged"),
    [
        (closet(stage=Stage.EMPTY), set()),
        (closet(stage=Stage.CASING_DRY), set(AIR[:3])),
        (closet(humidity=False), set(AIR[:3])),
        (closet(stage=Stage.REST), set(AIR)),
    ],
)
def test_only_what_the_stage_asks_of_the_air_is_judged(
    plan: RoomPlan, still_judged: set[AlarmId]
) -> None:
    judged = sides(seen(None, plan=plan))
    assert {alarm for alarm in AIR if judged[alarm] is UNKNOWN} == still_judged


def test_without_temperature_limits_no_temperature_is_too_high() -> None:
    judged = sides(seen(reading(temperature_c=40.0), limits=None))
    assert {judged[alarm] for alarm in AIR[:3]} == {WITHIN}


OLD, SOAKED = reading(taken_uptime_s=960.0), reading(99.9)


@pytest.mark.parametrize(
    ("readings", "running_s", "stale", "implausible"),
    [
        pytest.param((OLD,), 1000.0, BEYOND, UNKNOWN, id="one sensor, silent"),
        pytest.param((reading(), OLD), 1000.0, BEYOND, UNKNOWN, id="one of two silent"),
        pytest.param((SOAKED, reading()), 1000.0, WITHIN, BEYOND, id="one of two soaked"),
        pytest.param((SOAKED, OLD), 1000.0, BEYOND, BEYOND, id="one silent, one soaked"),
        pytest.param((None,), 29.0, UNKNOWN, UNKNOWN, id="just started, not read yet"),
        pytest.param((None,), 30.0, BEYOND, UNKNOWN, id="started, and still nothing"),
    ],
)
def test_each_sensor_must_give_fresh_readings_that_can_be(
    readings: tuple[AirReading | None, ...], running_s: float, stale: Side, implausible: Side
) -> None:
    judged = sides(seen(*readings, running_s=running_s))
    assert judged[AlarmId.SENSOR_STALE] is stale
    assert judged[AlarmId.SENSOR_IMPLAUSIBLE] is implausible


def test_a_silent_sensor_is_told_with_its_age() -> None:
    raw = room_conditions(seen(OLD, None)).raw[AlarmId.SENSOR_STALE]
    assert raw.figures == {"age_s": 1000.0}
    assert room_conditions(seen(OLD)).raw[AlarmId.SENSOR_STALE].figures == {"age_s": 40.0}


@pytest.mark.parametrize(
    ("hourly", "daily", "expected"), [(60, 1500, WITHIN), (61, 61, BEYOND), (0, 1501, BEYOND)]
)
def test_a_relay_chatters_above_60_an_hour_or_1500_a_day(
    hourly: int, daily: int, expected: Side
) -> None:
    of = seen(reading(), switches_last_hour=hourly, switches_last_day=daily)
    assert sides(of)[AlarmId.RELAY_CHATTER] is expected


@pytest.mark.parametrize(("refused", "expected"), [(6, WITHIN), (7, BEYOND)])
def test_a_compressor_cycles_too_short_above_6_refused_starts_an_hour(
    refused: int, expected: Side
) -> None:
    of = seen(reading(), refused_last_hour=refused)
    assert sides(of)[AlarmId.COMPRESSOR_SHORT_CYCLE] is expected


@pytest.mark.parametrize(
    ("relays", "expected"), [(set[RelayKind](), WITHIN), ({RelayKind.HUMIDIFIER}, BEYOND)]
)
def test_a_relay_that_is_locked_out_is_told(relays: set[RelayKind], expected: Side) -> None:
    of = seen(reading(), locked_out=frozenset(relays))
    assert sides(of)[AlarmId.RELAY_LOCKED_OUT] is expected
