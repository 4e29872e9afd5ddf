"""The air outside and a heater that reheats, as the settings ask for them."""

import tomllib

import pytest

from hangroom.cli.check import described
from hangroom.errors import SettingsError
from hangroom.settings import Settings, check_settings
from hangroom.terms import AirOutside, RelayKind

CLOSET = """
[room.closet]
title = "Closet"
[room.closet.humidity]
setpoint_pct = 76.0
[room.closet.sensor.rail]
kind = "dht22"
pin = 4
[room.closet.relay.fan]
kind = "fan"
role = "exhaust"
pin = 27
"""
COOLING = """
[room.closet.temperature]
setpoint_c = 13.0
[room.closet.relay.compressor]
kind = "cooling"
pin = 22
"""
REHEAT = """
[room.closet.relay.lamp]
kind = "heater"
role = "reheat"
pin = 24
"""
WALL = """
[outside.sensor.wall]
kind = "dht22"
pin = 5
"""
ESTIMATE = "[outside]\ntemperature_c = 12.0\nhumidity_pct = 70.0\n"


def read(text: str) -> Settings:
    return check_settings(tomllib.loads(text), source="my.toml")


def faults_of(text: str) -> list[str]:
    with pytest.raises(SettingsError) as refused:
        read(text)
    return refused.value.faults


def test_an_estimate_reaches_every_room_s_plan() -> None:
    settings = read(ESTIMATE + CLOSET)
    plan = settings.room["closet"].plan("closet", settings.outside)
    assert plan.outside_estimate == AirOutside(temperature_c=12.0, humidity_pct=70.0)


@pytest.mark.parametrize("text", [CLOSET, CLOSET + WALL])
def test_without_an_estimate_the_plan_has_none(text: str) -> None:
    settings = read(text)
    assert settings.room["closet"].plan("closet", settings.outside).outside_estimate is None


@pytest.mark.parametrize(
    ("text", "key", "remedy"),
    [
        pytest.param(
            "[outside]\ntemperature_c = 12.0\n" + CLOSET,
            "outside",
            "give both, or neither",
            id="half an estimate",
        ),
        pytest.param("[outside]\n" + CLOSET, "outside has neither", "give one", id="nothing there"),
        pytest.param(
            "[outside]\ntemperature_c = 12.0\nhumidity_pct = 0.0\n" + CLOSET,
            "outside.humidity_pct (0.0)",
            "greater than or equal to 1",
            id="air without any water",
        ),
        pytest.param(
            CLOSET + WALL.replace("pin = 5", "pin = 4"),
            "outside.sensor.wall.pin",
            "already used by room.closet.sensor.rail",
            id="a pin of a room",
        ),
        pytest.param(
            CLOSET + WALL.replace("pin = 5", "pin = 99"),
            "outside.sensor.wall.pin",
            "does not exist",
            id="a pin that is not there",
        ),
        pytest.param(
            CLOSET.replace("room.closet", "room.outside"),
            "room",
            "name that room otherwise",
            id="a room of that name",
        ),
        pytest.param(
            CLOSET + COOLING.replace("cooling", "heater") + REHEAT.replace("lamp", "lamp2"),
            "relay.lamp2 reheats",
            "with cooling",
            id="reheating without cooling",
        ),
        pytest.param(
            (CLOSET + COOLING + REHEAT)
            .replace("[room.closet.humidity]\nsetpoint_pct = 76.0\n", "")
            .replace('kind = "fan"\nrole = "exhaust"', 'kind = "fan"\nrole = "circulation"'),
            "relay.lamp reheats",
            "[humidity] table",
            id="reheating without a humidity",
        ),
        pytest.param(
            CLOSET + COOLING + REHEAT.replace('"heater"', '"cooling"'),
            "a cooling has no role 'reheat'",
            "name another",
            id="a compressor that reheats",
        ),
        pytest.param(
            CLOSET + COOLING + REHEAT.replace('"reheat"', '"exhaust"'),
            "a heater has no role 'exhaust'",
            "may 'reheat'",
            id="a heater that exhausts",
        ),
    ],
)
def test_what_does_not_fit_is_named_with_its_remedy(text: str, key: str, remedy: str) -> None:
    faults = [fault for fault in faults_of(text) if key in fault]
    assert len(faults) == 1
    assert faults[0].startswith("my.toml: ")
    assert remedy in faults[0]


def test_a_heater_that_reheats_may_run_for_longer_than_one_that_heats() -> None:
    """It is off as soon as cooling does not follow, and needs half of each cycle."""
    reheats = read(CLOSET + COOLING + REHEAT).room["closet"].plan("closet")
    heats = read(CLOSET + COOLING + REHEAT.replace('role = "reheat"\n', "")).room["closet"]
    assert (reheats.reheats, heats.plan("closet").reheats) == (True, False)
    longest_s = reheats.relays[RelayKind.HEATER].max_run_s
    usual_s = heats.plan("closet").relays[RelayKind.HEATER].max_run_s
    assert longest_s is not None
    assert usual_s is not None
    assert longest_s > usual_s


def test_the_check_tells_what_is_wired_outside() -> None:
    lines = described(read(ESTIMATE + CLOSET + WALL))
    at = lines.index("the air outside")
    assert lines[at + 1 : at + 3] == [
        "  sensor wall: dht22 on GPIO 5, read every 6 s",
        "  taken for 12 degC and 70 % while no sensor there tells",
    ]
    assert "the air outside" not in described(read(CLOSET))
