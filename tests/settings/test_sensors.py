"""Sensors in the settings: each kind where it can hang, every slip named with its remedy."""

import tomllib
from collections.abc import Mapping

import pytest

from hangroom.cli.check import described
from hangroom.errors import SettingsError
from hangroom.sensor_kinds import KINDS, Driver
from hangroom.settings import SensorTable, Settings, check_settings

ROOM = '[room.closet]\ntitle = "Closet"\n'
RAIL = '[room.closet.sensor.rail]\nkind = "dht22"\npin = 4\n'


def settings(text: str) -> Settings:
    return check_settings(tomllib.loads(text), source="x.toml")


def sensor(keys: str) -> SensorTable:
    return settings(f"{ROOM}[room.closet.sensor.rail]\n{keys}").room["closet"].sensor["rail"]


def faults(text: str) -> list[str]:
    with pytest.raises(SettingsError) as refused:
        settings(text)
    return str(refused.value).splitlines()


@pytest.mark.parametrize(
    ("keys", "place", "driver"),
    [
        ('kind = "dht22"\npin = 4', "GPIO 4", Driver.BY_LIBRARY),
        ('kind = "dht22"\npin = 4\ndriver = "kernel"', "GPIO 4", Driver.KERNEL),
        ('kind = "sht31"', "I2C bus 1, address 0x44", Driver.BY_LIBRARY),
        ('kind = "sht31"\naddress = 0x45', "I2C bus 1, address 0x45", Driver.BY_LIBRARY),
        ('kind = "sht45"\nbus = 3', "I2C bus 3, address 0x44", Driver.BY_LIBRARY),
        ('kind = "sht45"\ndriver = "kernel"', "I2C bus 1, address 0x44", Driver.KERNEL),
        ('kind = "bme280"', "I2C bus 1, address 0x76", Driver.BY_LIBRARY),
        ('kind = "bme280"\naddress = 0x77', "I2C bus 1, address 0x77", Driver.BY_LIBRARY),
    ],
)
def test_each_kind_says_where_its_wires_belong(keys: str, place: str, driver: Driver) -> None:
    table = sensor(keys)
    assert (table.place(), table.read_by()) == (place, driver)


def test_the_addresses_are_those_of_the_kernels_documentation_and_overlays() -> None:
    """hwmon/sht3x.rst: 0x44 or 0x45; hwmon/sht4x.rst: 0x44; overlay i2c-sensor: bme280@76."""
    assert KINDS["sht31"].addresses == (0x44, 0x45)
    assert KINDS["sht45"].addresses[0] == 0x44
    assert KINDS["bme280"].addresses == (0x76, 0x77)


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ('kind = "dht22"', "a dht22 hangs on a GPIO of its own; add pin, its BCM number"),
        ('kind = "dht22"\npin = 4\nbus = 1', "has no bus; remove it"),
        ('kind = "dht22"\npin = 4\naddress = 0x44', "has no address; remove it"),
        ('kind = "sht31"\npin = 4', "has no pin of its own; remove pin"),
        ('kind = "sht31"\naddress = 44', "address 44 (0x2c) is none that a sht31 can have"),
        ('kind = "sht31"\naddress = 44', "write address = 0x44 (it can have 0x44 or 0x45)"),
        ('kind = "sht31"\naddress = 4', "write address = 0x44 or 0x45."),
        ('kind = "bme280"\naddress = 0x44', "write address = 0x76 or 0x77."),
        ('kind = "sht45"\naddress = 0x7f', "address 127 (0x7f) is none"),
        ('kind = "sht45"\naddress = "0x44"', "address ('0x44'): must be a valid integer"),
        ('kind = "sht45"\nbus = -1', "bus (-1): must be greater than or equal to 0"),
        ('kind = "sht45"\nbus = true', "bus (True): must be a valid integer"),
        ('kind = "sht85"', "kind ('sht85'): must be 'dht22', 'sht31', 'sht45' or 'bme280'"),
        ('kind = "sht31"\ndriver = "hwmon"', "driver ('hwmon'): must be 'library' or 'kernel'"),
        ('kind = "sht31"\nadress = 0x44', "has no setting 'adress'; did you mean 'address'?"),
    ],
)
def test_a_slip_is_named_with_its_remedy(keys: str, said: str) -> None:
    [fault] = faults(f"{ROOM}[room.closet.sensor.rail]\n{keys}")
    assert fault.startswith("x.toml: room.closet.sensor.rail")
    assert said in fault


def test_all_slips_of_all_sensors_are_named_at_once() -> None:
    said = faults(
        f"{ROOM}[room.closet.sensor.a]\nkind = 'dht22'\nbus = 1\naddress = 0x44\n"
        "[room.closet.sensor.b]\nkind = 'sht31'\npin = 5\naddress = 44\n"
        "[outside.sensor.c]\nkind = 'bme280'\naddress = 1\n"
    )
    assert [fault.split(":")[1].strip() for fault in said] == [
        "outside.sensor.c",
        *["room.closet.sensor.a"] * 3,
        *["room.closet.sensor.b"] * 2,
    ]


@pytest.mark.parametrize(
    ("second", "remedy"),
    [
        ('kind = "sht31"', "set this sensor's jumper for 0x45"),
        ('kind = "sht45"\naddress = 0x44\nbus = 1', "set this sensor's jumper for 0x45"),
        ('kind = "sht31"\ndriver = "kernel"', "set this sensor's jumper for 0x45"),
    ],
)
@pytest.mark.parametrize("where", ["room.closet", "room.fridge", "outside"])
def test_two_sensors_at_one_address_are_refused(second: str, remedy: str, where: str) -> None:
    fridge = '[room.fridge]\ntitle = "Fridge"\n[room.fridge.sensor.own]\nkind = "bme280"\n'
    [fault] = faults(
        f'{ROOM}[room.closet.sensor.rail]\nkind = "sht31"\n{fridge}'
        f"[{where}.sensor.second]\n{second}\n"
    )
    assert fault.startswith(f"x.toml: {where}.sensor.second: address 0x44 on bus 1 is already used")
    assert "by room.closet.sensor.rail" in fault
    assert remedy in fault


def test_a_taken_address_is_named_although_the_file_has_other_faults() -> None:
    said = faults(
        f'{ROOM}setpiont = 3\n[room.closet.sensor.rail]\nkind = "bme280"\n'
        '[room.closet.sensor.floor]\nkind = "bme280"\naddress = 0x76\n'
    )
    assert any("setpiont" in fault for fault in said)
    assert any("0x76 on bus 1 is already used" in fault for fault in said)


def test_where_every_address_of_its_kind_is_taken_another_bus_is_the_remedy() -> None:
    names = {"a": "0x76", "b": "0x77", "c": "0x77"}
    [fault] = faults(
        ROOM
        + "".join(
            f'[room.closet.sensor.{name}]\nkind = "bme280"\naddress = {address}\n'
            for name, address in names.items()
        )
    )
    assert fault.endswith("already used by room.closet.sensor.b; use another bus.")


def test_the_same_address_on_two_buses_is_fine() -> None:
    both = settings(
        f'{ROOM}[room.closet.sensor.rail]\nkind = "sht31"\n'
        '[room.closet.sensor.floor]\nkind = "sht31"\nbus = 3\n'
    )
    assert set(both.room["closet"].sensor) == {"rail", "floor"}


@pytest.mark.parametrize(
    "rubbish",
    [
        {"room": {"closet": {"sensor": {"a": 3, "b": {"kind": ["sht31"]}, "c": {"kind": "x"}}}}},
        {"room": {"closet": {"sensor": {"a": {"kind": "sht31", "bus": "1"}}}}},
        {"room": {"closet": {"sensor": {"a": {"kind": "sht31", "address": 4.5}}}}},
        {"outside": {"sensor": []}},
        {"outside": 7, "room": 7},
    ],
)
def test_tables_of_any_other_form_are_faults_and_no_crash(rubbish: Mapping[str, object]) -> None:
    with pytest.raises(SettingsError):
        check_settings(rubbish, source="x.toml")


def test_every_kind_may_hang_in_a_room_and_outside_and_the_check_says_where() -> None:
    text = ROOM
    for where in ("room.closet", "outside"):
        pin, bus = (4, 1) if where == "room.closet" else (16, 3)
        text += f'[{where}.sensor.dht]\nkind = "dht22"\npin = {pin}\n'
        for kind, address in (("sht31", 0x45), ("sht45", 0x44), ("bme280", 0x76)):
            text += f'[{where}.sensor.{kind}]\nkind = "{kind}"\nbus = {bus}\naddress = {address}\n'
        text += 'driver = "kernel"\n'  # of the last
    said = described(settings(text))
    assert "    sensor dht: dht22 on GPIO 4, read every 6 s".strip() in [s.strip() for s in said]
    for bus in (1, 3):
        assert f"  sensor sht31: sht31 on I2C bus {bus}, address 0x45, read every 6 s" in said
        assert (
            f"  sensor bme280: bme280 on I2C bus {bus}, address 0x76, read every 6 s "
            "through the kernel's files"
        ) in said
