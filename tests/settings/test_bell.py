"""The bell's pins are held to the same table as relays' and sensors'."""

import copy
import tomllib
from importlib.resources import files
from typing import Any

import pytest

from hangroom.alarm_table.row import Priority
from hangroom.errors import SettingsError
from hangroom.pins import wired_pins
from hangroom.settings import check_settings
from hangroom.terms import Wiring

EXAMPLE = tomllib.loads(
    files("hangroom.settings").joinpath("example.toml").read_text(encoding="utf-8")
)
BELL = {"buzzer": {"pin": 24}, "lamp": {"pin": 25}, "button": {"pin": 26}}


def with_bell(**bell: Any) -> dict[str, Any]:  # noqa: ANN401 - as TOML gives it
    return {**copy.deepcopy(EXAMPLE), "bell": bell}


def test_a_bell_is_read_and_all_its_pins_are_known_to_the_off_path() -> None:
    bell = {**BELL, "lamp": {"pin": 6, "active_high": False}, "least": "medium"}
    read = check_settings(with_bell(**bell), source="t").bell
    assert read is not None
    assert read.least is Priority.MEDIUM
    assert read.buzzer is not None
    assert read.buzzer.wiring() == Wiring(pin=24, active_high=True)
    wired = [row for row in wired_pins(with_bell(**bell)) if row[0].startswith("bell")]
    assert wired == [("bell.buzzer", 24, True), ("bell.lamp", 6, False), ("bell.button", 26, None)]


def test_without_the_table_there_is_none() -> None:
    tables = {key: table for key, table in EXAMPLE.items() if key != "bell"}
    assert check_settings(tables, source="t").bell is None


@pytest.mark.parametrize(
    ("bell", "said"),
    [
        ({"buzzer": {"pin": 17}}, "bell.buzzer.pin: pin 17 is already used by room.closet.relay"),
        ({"lamp": {"pin": 4, "active_high": False}}, "already used by room.closet.sensor.rail"),
        ({**BELL, "button": {"pin": 24}}, "bell.button.pin: pin 24 is already used by bell.buzzer"),
        ({"buzzer": {"pin": 3}}, "GPIO 3 cannot carry an active-high buzzer: a 1.8 kohm"),
        ({"lamp": {"pin": 5}}, "close the lamp each time the Pi starts"),
        ({**BELL, "button": {"pin": 14}}, "GPIO 14 cannot carry a button: it is the serial"),
        ({**BELL, "button": {"pin": 99}}, "bell.button.pin: GPIO 99 does not exist"),
        ({"button": {"pin": 26}}, "bell has neither a buzzer nor a lamp"),
        ({"buzzer": {"pin": 24}, "least": "low"}, "least = 'low' needs a lamp"),
        ({**BELL, "least": "loud"}, "bell.least"),
        ({**BELL, "siren": {"pin": 24}}, "bell has no setting 'siren'"),
        ({**BELL, "button": {"pin": 26, "active_high": True}}, "no setting 'active_high'"),
        ({**BELL, "buzzer": {"pin": True}}, "bell.buzzer.pin"),
    ],
)
def test_a_fault_is_named_with_its_place(bell: dict[str, Any], said: str) -> None:
    with pytest.raises(SettingsError) as refused:
        check_settings(with_bell(**bell), source="t")
    assert said in str(refused.value)
