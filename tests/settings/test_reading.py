"""A good settings file arrives whole: with control, with the page, in the keeper's zone."""

from dataclasses import replace
from datetime import UTC, datetime
from importlib.resources import as_file, files
from pathlib import Path

from hangroom.settings import Settings, check_settings, read_settings
from hangroom.terms import (
    HumidityTarget,
    RelayKind,
    RelayRules,
    RoomPlan,
    Stage,
    TemperatureTarget,
)
from hangroom.units import LengthUnit, TemperatureUnit, Units, WeightUnit


def example() -> Settings:
    with as_file(files("hangroom.settings").joinpath("example.toml")) as path:
        return read_settings(path)


def test_the_shipped_example_reads() -> None:
    assert {name: room.title for name, room in example().room.items()} == {
        "closet": "Closet",
        "fridge": "Fridge",
    }


def test_the_shipped_examples_rooms_are_wired_as_it_says() -> None:
    wired = {
        relay.switches(): relay.pin
        for room in example().room.values()
        for relay in room.relay.values()
    }
    assert wired == {
        RelayKind.HUMIDIFIER: 17,
        RelayKind.EXHAUST_FAN: 27,
        RelayKind.COOLING: 22,
        RelayKind.CIRCULATION_FAN: 23,
    }


def test_a_file_that_begins_with_a_byte_order_mark_reads(tmp_path: Path) -> None:
    """Some editors put one at the start of a UTF-8 file, where nobody sees it."""
    text = files("hangroom.settings").joinpath("example.toml").read_text(encoding="utf-8")
    path = tmp_path / "my.toml"
    path.write_text(text, encoding="utf-8-sig")
    assert read_settings(path) == example()


def test_the_plan_carries_every_value_of_the_room() -> None:
    settings = check_settings(
        {
            "room": {
                "closet": {
                    "title": "Closet",
                    "stage": "casing-dry",
                    "humidity": {
                        "setpoint_pct": 71.0,
                        "band_pct": 2.5,
                        "low_limit_pct": 51.0,
                        "high_limit_pct": 91.0,
                    },
                    "temperature": {
                        "setpoint_c": 13.0,
                        "band_c": 1.5,
                        "low_limit_c": 9.0,
                        "high_limit_c": 17.0,
                    },
                    "sensor": {"rail": {"kind": "dht22", "pin": 9}},
                    "relay": {
                        "mist": {
                            "kind": "humidifier",
                            "pin": 17,
                            "min_on_s": 3.0,
                            "min_off_s": 61,
                            "max_run_s": 121.0,
                            "max_starts_per_h": 23,
                            "max_on_s_per_h": 899.0,
                            "lockout_s": 1199.0,
                        },
                        "out": {
                            "kind": "fan",
                            "role": "exhaust",
                            "pin": 27,
                            "min_on_s": 31.0,
                            "min_off_s": 91.0,
                            "max_run_s": 7201.0,
                            "max_starts_per_h": 19,
                        },
                        "round": {
                            "kind": "fan",
                            "role": "circulation",
                            "pin": 23,
                            "min_on_s": 0.0,
                            "min_off_s": 0.0,
                            "max_starts_per_h": 7,
                            "lockout_s": 0.0,
                        },
                        "heat": {
                            "kind": "heater",
                            "pin": 24,
                            "max_run_s": 1000.0,
                            "max_starts_per_h": 11,
                            "max_on_s_per_h": 3600.0,
                        },
                    },
                    "reading_expires_s": 29.0,
                    "settle_s": 119.0,
                    "stir_for_s": 299.0,
                    "stir_every_s": 1799.0,
                }
            }
        },
        source="here",
    )
    plan = settings.room["closet"].plan("closet")
    # Stages and food limits have tests of their own.
    assert replace(plan, stages={}, temperature_limits=None) == RoomPlan(
        name="closet",
        stage=Stage.CASING_DRY,
        humidity=HumidityTarget(
            setpoint_pct=71.0, band_pct=2.5, low_limit_pct=51.0, high_limit_pct=91.0
        ),
        temperature=TemperatureTarget(
            setpoint_c=13.0, band_c=1.5, low_limit_c=9.0, high_limit_c=17.0
        ),
        relays={
            RelayKind.HUMIDIFIER: RelayRules(
                min_on_s=3.0,
                min_off_s=61.0,
                max_run_s=121.0,
                max_starts_per_h=23,
                max_on_s_per_h=899.0,
                lockout_s=1199.0,
            ),
            RelayKind.EXHAUST_FAN: RelayRules(
                min_on_s=31.0, min_off_s=91.0, max_run_s=7201.0, max_starts_per_h=19
            ),
            # Zero is a value, not the lack of one: the defaults must not come through here.
            RelayKind.CIRCULATION_FAN: RelayRules(
                min_on_s=0.0, min_off_s=0.0, max_starts_per_h=7, lockout_s=0.0
            ),
            # All of the hour is no limit.
            RelayKind.HEATER: RelayRules(
                min_on_s=30.0, min_off_s=60.0, max_run_s=1000.0, max_starts_per_h=11
            ),
        },
        reading_expires_s=29.0,
        settle_s=119.0,
        stir_for_s=299.0,
        stir_every_s=1799.0,
    )


def test_units_and_zone_are_the_keepers() -> None:
    settings = check_settings(
        {
            "site": {"timezone": "Europe/Berlin"},
            "units": {"temperature": "F", "weight": "oz", "length": "in"},
            "room": {"c": {"title": "C", "sensor": {"s": {"kind": "dht22", "pin": 9}}}},
        },
        source="here",
    )
    assert settings.units.units() == Units(
        temperature=TemperatureUnit.FAHRENHEIT, weight=WeightUnit.OUNCE, length=LengthUnit.INCH
    )
    # Central European Summer Time: two hours ahead of UTC in July (tz database).
    noon = datetime(2026, 7, 1, 12, tzinfo=UTC).astimezone(settings.zone())
    assert noon.hour == 14


def test_the_live_board_lies_with_the_database_unless_told_otherwise() -> None:
    room = {"room": {"c": {"title": "C", "sensor": {"s": {"kind": "dht22", "pin": 9}}}}}
    here = check_settings({**room, "store": {"folder": "/a"}}, source="here")
    there = check_settings({**room, "store": {"folder": "/a", "live_folder": "/b"}}, source="here")
    assert (here.live_folder(), there.live_folder()) == (Path("/a"), Path("/b"))
