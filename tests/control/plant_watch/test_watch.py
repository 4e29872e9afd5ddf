"""The whole watch: what it names, when it judges nothing, and that it never stumbles."""

import math
from typing import Any

import pytest
from control.plant_watch.closet import HUMIDIFIER, HUMIDITY, Closet
from hypothesis import given
from hypothesis import strategies as st

from hangroom.alarm_table.row import AlarmId, Scope
from hangroom.alarm_table.table import TABLE
from hangroom.control.alarms.delays import Side
from hangroom.control.plant_watch.trace import AirSeen
from hangroom.control.plant_watch.watch import Seen, starting_memory, watched
from hangroom.terms import RelayKind, Stage, TemperatureTarget

TEMPERATURE = TemperatureTarget(setpoint_c=13, band_c=1, low_limit_c=-2, high_limit_c=30)
OF_RELAY = {
    RelayKind.HUMIDIFIER: {AlarmId.HUMIDIFIER_INEFFECTIVE, AlarmId.HUMIDIFIER_STUCK_ON},
    RelayKind.EXHAUST_FAN: {AlarmId.FAN_INEFFECTIVE},
    RelayKind.COOLING: {AlarmId.COOLING_INEFFECTIVE},
    RelayKind.HEATER: set[AlarmId](),
    RelayKind.CIRCULATION_FAN: set[AlarmId](),
}
ALWAYS = {AlarmId.DOOR_OPEN, AlarmId.SETPOINT_UNREACHABLE}


@pytest.mark.parametrize("relays", [(), *((relay,) for relay in RelayKind), tuple(RelayKind)])
def test_only_what_the_room_has_is_named(relays: tuple[RelayKind, ...]) -> None:
    closet = Closet(relays=relays)
    expected = ALWAYS.union(*(OF_RELAY[relay] for relay in relays))
    assert set(closet.live(60).raw) == expected
    assert all(TABLE[alarm].scope is Scope.ROOM for alarm in expected)


@pytest.mark.parametrize("how", [{"blind": True}, {"stage": Stage.EMPTY}])
def test_without_air_and_in_an_empty_room_all_is_unknown_and_nothing_normal(
    how: dict[str, Any],
) -> None:
    closet = Closet()
    closet.live(600)
    closet.runs(HUMIDIFIER, 6, for_s=6)
    for name, value in how.items():
        setattr(closet, name, value)
    closet.tank_empty = True
    closet.runs(HUMIDIFIER, 6, for_s=6)
    assert {raw.side for raw in closet.findings.raw.values()} == {Side.UNKNOWN}
    assert closet.memory.doses.effect.failures == 0


def test_a_dose_begun_before_the_air_was_lost_is_not_judged_after_it() -> None:
    closet = Closet()
    closet.live(600)
    closet.runs(HUMIDIFIER, 6, for_s=6)
    closet.tank_empty = True
    effect = closet.memory.doses.effect
    for _ in range(5):
        closet.live(6, HUMIDIFIER)
        closet.blind = True
        closet.live(20)
        closet.blind = False
        closet.live(200)
    assert closet.memory.doses.effect == effect


def test_where_nothing_is_new_memory_and_findings_are_the_very_same() -> None:
    closet = Closet()
    closet.live(1200)
    memory, findings = closet.memory, closet.findings
    seen = Seen(
        stage=Stage.HANG,
        relays=dict.fromkeys(closet.relays, False),
        air=closet.seen,
        outside=None,
        humidity=HUMIDITY,
        temperature=None,
        uptime_s=closet.uptime_s,
    )
    again, same = watched(memory, seen)
    assert again is memory
    assert same is findings


numbers = st.floats(min_value=-20, max_value=50)
air = st.builds(
    AirSeen,
    temperature_c=st.floats(min_value=-10, max_value=50),
    humidity_pct=st.floats(min_value=1, max_value=100),
    taken_uptime_s=st.just(0.0),
)
ticks = st.lists(
    st.tuples(
        st.frozensets(st.sampled_from(RelayKind)),
        st.none() | air,
        st.none() | air,
        st.sampled_from([2.0, 6.0, 30.0, 200.0]),
        st.booleans(),
    ),
    max_size=60,
)


@given(ticks=ticks)
def test_whatever_comes_it_judges_and_never_judges_without_air(ticks: list[Any]) -> None:
    memory, uptime_s = starting_memory(uptime_s=0.0), 0.0
    for closed, seen_air, outside, step_s, again in ticks:
        uptime_s += step_s
        taken = seen_air and AirSeen(
            temperature_c=seen_air.temperature_c,
            humidity_pct=seen_air.humidity_pct,
            taken_uptime_s=uptime_s if not again else uptime_s - step_s,
        )
        memory, found = watched(
            memory,
            Seen(
                stage=Stage.HANG,
                relays={relay: relay in closed for relay in RelayKind},
                air=taken,
                outside=outside,
                humidity=HUMIDITY,
                temperature=TEMPERATURE,
                uptime_s=uptime_s,
            ),
        )
        assert set(found.raw) == ALWAYS.union(*OF_RELAY.values())
        if taken is None:
            assert {raw.side for raw in found.raw.values()} == {Side.UNKNOWN}
        assert all(
            map(math.isfinite, (v for raw in found.raw.values() for v in raw.figures.values()))
        )
