"""A settings file with faults names every one of them: file, key, remedy, and never a traceback."""

import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hangroom.errors import SettingsError
from hangroom.settings import RoomTable, Settings, check_settings, read_settings

GOOD = """
[room.closet]
title = "Closet"
[room.closet.humidity]
setpoint_pct = 76.0
band_pct = 3.0
low_limit_pct = 55.0
high_limit_pct = 90.0
[room.closet.sensor.rail]
kind = "dht22"
pin = 9
[room.closet.relay.mist]
kind = "humidifier"
pin = 17
[room.closet.relay.fan]
kind = "fan"
role = "exhaust"
pin = 27
[room.fridge]
title = "Fridge"
[room.fridge.temperature]
setpoint_c = 4.0
band_c = 1.0
low_limit_c = 0.5
high_limit_c = 12.0
[room.fridge.sensor.shelf]
kind = "dht22"
pin = 16
[room.fridge.relay.compressor]
kind = "cooling"
pin = 22
"""

# One exchange in the good file, the key its message must name, a word of its remedy.
SINGLE_FAULTS = {
    "an unknown key, with the near one": (
        "band_pct = 3.0",
        "bandpct = 3.0",
        "room.closet.humidity",
        "did you mean 'band_pct'",
    ),
    "an unknown key that is near to none": (
        "band_pct = 3.0",
        "zzz = 3.0",
        "room.closet.humidity has no setting 'zzz'",
        "remove it",
    ),
    "an unknown key in a relay, with the near one": (
        'role = "exhaust"',
        'roles = "exhaust"\nrole = "exhaust"',
        "room.closet.relay.fan has no setting 'roles'",
        "did you mean 'role'",
    ),
    "an unknown table": ("\n[room.closet]", "[sight]\n[room.closet]", "'sight'", "mean 'site'"),
    "a missing key": (
        "setpoint_pct = 76.0",
        "",
        "room.closet.humidity.setpoint_pct is missing",
        "add it",
    ),
    "text for a number": (
        "setpoint_pct = 76.0",
        'setpoint_pct = "76"',
        "room.closet.humidity.setpoint_pct ('76')",
        "must be a valid number",
    ),
    "true for a number": (
        "setpoint_pct = 76.0",
        "setpoint_pct = true",
        "room.closet.humidity.setpoint_pct (True)",
        "must be a valid number",
    ),
    "true for a pin": ("pin = 17", "pin = true", "room.closet.relay.mist.pin (True)", "integer"),
    "half a pin": ("pin = 17", "pin = 17.5", "room.closet.relay.mist.pin (17.5)", "integer"),
    "a number for true": (
        "pin = 17",
        "pin = 17\nactive_high = 1",
        "room.closet.relay.mist.active_high (1)",
        "must be a valid boolean",
    ),
    "not a number": (
        "setpoint_pct = 76.0",
        "setpoint_pct = nan",
        "room.closet.humidity.setpoint_pct (nan)",
        "must be a finite number",
    ),
    "infinity": (
        "high_limit_c = 12.0",
        "high_limit_c = inf",
        "room.fridge.temperature.high_limit_c (inf)",
        "must be a finite number",
    ),
    "humidity beyond what there is": (
        "high_limit_pct = 90.0",
        "high_limit_pct = 101.0",
        "room.closet.humidity.high_limit_pct (101.0)",
        "less than or equal to 100",
    ),
    "an impossible band": (
        "band_pct = 3.0",
        "band_pct = 0.0",
        "room.closet.humidity.band_pct (0.0)",
        "greater than or equal to 0.5",
    ),
    "a negative band": (
        "band_c = 1.0",
        "band_c = -1.0",
        "room.fridge.temperature.band_c (-1.0)",
        "greater than or equal to 0.3",
    ),
    "low humidity limit inside the band": (
        "low_limit_pct = 55.0",
        "low_limit_pct = 74.0",
        "room.closet.humidity: low_limit_pct (74) must lie below the band (73 to 79)",
        "move the limit outwards",
    ),
    "high humidity limit inside the band": (
        "high_limit_pct = 90.0",
        "high_limit_pct = 78.0",
        "room.closet.humidity: high_limit_pct (78) must lie above the band (73 to 79)",
        "move the limit outwards",
    ),
    "low humidity limit on the edge of the band": (
        "low_limit_pct = 55.0",
        "low_limit_pct = 73.0",
        "room.closet.humidity: low_limit_pct (73)",
        "move the limit outwards",
    ),
    "low temperature limit inside the band": (
        "low_limit_c = 0.5",
        "low_limit_c = 3.5",
        "room.fridge.temperature: low_limit_c (3.5) must lie below the band (3 to 5)",
        "move the limit outwards",
    ),
    "high temperature limit inside the band": (
        "high_limit_c = 12.0",
        "high_limit_c = 4.5",
        "room.fridge.temperature: high_limit_c (4.5) must lie above the band (3 to 5)",
        "move the limit outwards",
    ),
    "two relays on one pin, in two rooms": (
        "pin = 22",
        "pin = 17",
        "room.fridge.relay.compressor.pin: pin 17 is already used by room.closet.relay.mist",
        "give each its own",
    ),
    "a sensor and a relay on one pin": (
        "pin = 16",
        "pin = 17",
        "room.fridge.sensor.shelf.pin: pin 17 is already used by room.closet.relay.mist",
        "give each its own",
    ),
    "a relay on the bus that the board itself holds up": (
        "pin = 22",
        "pin = 2",
        "room.fridge.relay.compressor.pin: GPIO 2 cannot carry",
        "use one of",
    ),
    "a relay that a restart would close": (
        "pin = 22",
        "pin = 5",
        "room.fridge.relay.compressor.pin: GPIO 5 cannot carry an active-high relay",
        "use one of",
    ),
    "a relay on a pin that is not there": (
        "pin = 22",
        "pin = 28",
        "room.fridge.relay.compressor.pin: GPIO 28 does not exist",
        "GPIO 0 to 27",
    ),
    "a sensor on the serial console": (
        "pin = 16",
        "pin = 14",
        "room.fridge.sensor.shelf.pin: GPIO 14 cannot carry a sensor",
        "use another",
    ),
    "two relays of one kind": (
        'kind = "humidifier"',
        'kind = "fan"\nrole = "exhaust"',
        "room.closet: relay.fan and relay.mist are both of kind exhaust-fan",
        "remove one",
    ),
    "a fan without its role": (
        'role = "exhaust"',
        "",
        "room.closet.relay.fan: a fan needs role",
        "'circulation'",
    ),
    "a role on what is no fan": (
        "pin = 17",
        'pin = 17\nrole = "exhaust"',
        "room.closet.relay.mist: a humidifier has no role 'exhaust'",
        "Remove it",
    ),
    "an unknown role": (
        'role = "exhaust"',
        'role = "intake"',
        "room.closet.relay.fan.role ('intake')",
        "must be 'exhaust', 'circulation' or 'reheat'",
    ),
    "a humidifier without a humidity to keep": (
        'kind = "cooling"',
        'kind = "humidifier"',
        "room.fridge has a humidifier or exhaust fan but no [humidity] table",
        "add one",
    ),
    "cooling without a temperature to keep": (
        'kind = "humidifier"',
        'kind = "cooling"',
        "room.closet has cooling or a heater but no [temperature] table",
        "add one",
    ),
    "an unknown time zone": (
        "\n[room.closet]",
        '[site]\ntimezone = "Middle/Nowhere"\n[room.closet]',
        "site.timezone: 'Middle/Nowhere' is no time zone",
        "write one like",
    ),
    "a time zone that climbs out of its folder": (
        "\n[room.closet]",
        '[site]\ntimezone = "../../etc/passwd"\n[room.closet]',
        "site.timezone:",
        "write one like",
    ),
    "a time of day that is none": (
        "\n[room.closet]",
        '[inspection]\nat = "24:00"\n[room.closet]',
        "inspection.at ('24:00') is no time of day",
        "write it like '08:00'",
    ),
    "a room's name that cannot be one": (
        "\n[room.closet]\n",
        '[room."My Closet"]\ntitle = "C"\nsensor.x = {kind = "dht22", pin = 10}\n[room.closet]\n',
        "room.My Closet is no name",
        "small letters",
    ),
    "a room's name that cannot be one and ends like a key for a time": (
        "\n[room.closet]\n",
        '[room.Flat]\ntitle = "C"\nsensor.x = {kind = "dht22", pin = 10}\n[room.closet]\n',
        "room.Flat is no name",
        "small letters",
    ),
    "an unknown key in a room named like a table": (
        "\n[room.closet]\n",
        '[room.humidity]\ntitle = "C"\nsensor.x = {kind = "dht22", pin = 10, pins = 1}\n[room.closet]\n',
        "room.humidity.sensor.x has no setting 'pins'",
        "did you mean 'pin'",
    ),
    "a sensor read too seldom for the room to see": (
        "pin = 16",
        "pin = 16\nread_every_s = 20.0",
        "read_every_s (20) must be at most half of reading_expires_s (30)",
        "read more often",
    ),
    "a longest run below the shortest": (
        "pin = 17",
        "pin = 17\nmin_on_s = 60.0\nmax_run_s = 30.0",
        "room.closet.relay.mist: max_run_s (30) is shorter than min_on_s (60)",
        "raise one or lower the other",
    ),
    "a shortest run above the default longest": (
        "pin = 17",
        "pin = 17\nmin_on_s = 600.0",
        "room.closet.relay.mist: max_run_s (120) is shorter than min_on_s (600)",
        "raise one or lower the other",
    ),
    "less running in an hour than one run takes": (
        "pin = 17",
        "pin = 17\nmin_on_s = 60.0\nmax_on_s_per_h = 30.0",
        "room.closet.relay.mist: max_on_s_per_h (30) is shorter than min_on_s (60)",
        "raise one or lower the other",
    ),
    "more running in an hour than it has": (
        "pin = 17",
        "pin = 17\nmax_on_s_per_h = 3601.0",
        "room.closet.relay.mist.max_on_s_per_h (3601.0)",
        "less than or equal to 3600",
    ),
    "no start in an hour": (
        "pin = 17",
        "pin = 17\nmax_starts_per_h = 0",
        "room.closet.relay.mist.max_starts_per_h (0)",
        "greater than or equal to 1",
    ),
    "stirring more often than the fan may start": (
        'title = "Fridge"',
        """title = "Fridge"
stir_every_s = 400.0
relay.air = { kind = "fan", role = "circulation", pin = 26 }""",
        "stir_every_s (400) asks for 9 starts an hour of relay.air, which may do 6",
        "stir less often",
    ),
    "a negative rest": (
        "pin = 17",
        "pin = 17\nmin_off_s = -1.0",
        "room.closet.relay.mist.min_off_s (-1.0)",
        "greater than or equal to 0",
    ),
    "a reading believed for longer than the humidifier may run blind": (
        'title = "Closet"',
        'title = "Closet"\nreading_expires_s = 31.0',
        "room.closet.reading_expires_s (31.0)",
        "less than or equal to 30",
    ),
    "a port that cannot be": (
        "\n[room.closet]",
        "[web]\nport = 70000\n[room.closet]",
        "web.port (70000)",
        "less than or equal to 65535",
    ),
    "an unknown stage": (
        'title = "Fridge"',
        'title = "Fridge"\nstage = "smoke"',
        "room.fridge.stage ('smoke')",
        "must be 'casing-dry'",
    ),
    "a room without a title": ('title = "Fridge"', "", "room.fridge.title is missing", "add it"),
}


def faults_of(path: Path) -> list[str]:
    with pytest.raises(SettingsError) as refused:
        read_settings(path)
    return refused.value.faults


def written(folder: Path, text: str) -> Path:
    path = folder / "my.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_the_file_the_faults_are_put_into_has_none(tmp_path: Path) -> None:
    assert set(read_settings(written(tmp_path, GOOD)).room) == {"closet", "fridge"}


@pytest.mark.parametrize(
    ("good", "bad", "key", "remedy"), SINGLE_FAULTS.values(), ids=list(SINGLE_FAULTS)
)
def test_one_fault_gives_one_message_with_file_key_and_remedy(
    tmp_path: Path, good: str, bad: str, key: str, remedy: str
) -> None:
    assert good in GOOD
    path = written(tmp_path, GOOD.replace(good, bad, 1))
    (fault,) = faults_of(path)
    assert fault.startswith(f"{path}: ")
    assert key in fault
    assert remedy in fault


def test_every_fault_of_a_file_is_told_at_once(tmp_path: Path) -> None:
    text = GOOD
    chosen = (
        "an unknown key, with the near one",
        "a missing key",
        "low temperature limit inside the band",
        "two relays on one pin, in two rooms",
        "a fan without its role",
        "an unknown time zone",
        "an unknown stage",
    )
    for name in chosen:
        good, bad, _, _ = SINGLE_FAULTS[name]
        assert good in text
        text = text.replace(good, bad, 1)
    path = written(tmp_path, text)
    faults = faults_of(path)
    assert len(faults) == len(set(faults)) >= len(chosen)
    assert all(fault.startswith(f"{path}: ") for fault in faults)
    for name in chosen:
        _, _, key, remedy = SINGLE_FAULTS[name]
        assert any(key in fault and remedy in fault for fault in faults), name


def test_a_file_without_rooms_is_told_to_have_one(tmp_path: Path) -> None:
    (fault,) = faults_of(written(tmp_path, '[site]\nname = "x"\n'))
    assert "room is missing; add it" in fault
    (fault,) = faults_of(written(tmp_path, "[room]\n"))
    assert "room" in fault
    assert "at least 1" in fault


def test_a_room_without_a_sensor_is_told_to_have_one(tmp_path: Path) -> None:
    (fault,) = faults_of(written(tmp_path, '[room.closet]\ntitle = "Closet"\n'))
    assert "room.closet.sensor is missing; add it" in fault
    (fault,) = faults_of(written(tmp_path, '[room.closet]\ntitle = "Closet"\nsensor = {}\n'))
    assert "room.closet.sensor" in fault
    assert "at least 1" in fault


def test_what_is_not_toml_is_told_with_its_line(tmp_path: Path) -> None:
    path = written(tmp_path, "[site]\nname = \n")
    (fault,) = faults_of(path)
    assert fault.startswith(f"{path}: is not TOML")
    assert "line 2" in fault
    assert "Mend that line" in fault


def test_a_number_too_long_for_python_is_not_toml_either(tmp_path: Path) -> None:
    (fault,) = faults_of(written(tmp_path, f"x = {'9' * 5000}"))
    assert "is not TOML" in fault


def test_a_missing_file_is_told_in_one_line(tmp_path: Path) -> None:
    path = tmp_path / "none.toml"
    (fault,) = faults_of(path)
    assert fault.startswith(f"{path}: there is no such file.")
    assert "\n" not in fault


def test_a_folder_in_place_of_the_file_is_told_in_one_line(tmp_path: Path) -> None:
    (fault,) = faults_of(tmp_path)
    assert fault.startswith(f"{tmp_path}: cannot be read")
    assert "Check the file" in fault


def test_a_file_in_another_encoding_is_told_in_one_line(tmp_path: Path) -> None:
    path = tmp_path / "my.toml"
    path.write_bytes('[site]\nname = "Räucherkammer"'.encode("latin-1"))
    (fault,) = faults_of(path)
    assert fault.startswith(f"{path}: cannot be read")
    assert "utf-8" in fault


# Whatever TOML can hold: its own value types, any text (TOML bars lone surrogates), any depth.
TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=8)
VALUES = st.recursive(
    st.one_of(
        st.booleans(),
        st.integers(),
        st.integers(min_value=10**400, max_value=10**401),
        st.integers(min_value=-1, max_value=30),
        st.floats(),
        st.sampled_from(["dht22", "fan", "humidifier", "exhaust", "C", "UTC", "08:00", "../x"]),
        TEXT,
        st.datetimes(),
        st.dates(),
        st.times(),
    ),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXT, inner, max_size=3),
    max_leaves=6,
)
SCALAR_KEYS = ["kind", "role", "pin", "active_high", "max_run_s", "setpoint_pct", "timezone", "at"]
KEYS = st.sampled_from([*Settings.model_fields, *RoomTable.model_fields, *SCALAR_KEYS])


def damaged(table: dict[str, Any], path: list[int], key: str, value: object) -> dict[str, Any]:
    """The table with one value put in some levels down."""
    step = path[0] if path else None
    inner = {name: part for name, part in table.items() if isinstance(part, dict)}
    if step is None or not inner:
        return {**table, key: value}
    name = sorted(inner)[step % len(inner)]
    return {**table, name: damaged(inner[name], path[1:], key, value)}


def faults_in(tables: dict[str, Any]) -> list[str]:
    """What a SettingsError says; any other exception goes through and fails the test."""
    try:
        check_settings(tables, source="any.toml")
    except SettingsError as refused:
        return refused.faults or ["an empty list of faults"]
    return []


@settings(max_examples=300)
@given(st.dictionaries(KEYS | TEXT, VALUES, max_size=4))
def test_no_tables_raise_anything_but_a_settings_error(tables: dict[str, Any]) -> None:
    assert all(fault.startswith("any.toml: ") for fault in faults_in(tables))


@settings(max_examples=500)
@given(st.lists(st.integers(0, 9), max_size=4), KEYS | TEXT, VALUES)
def test_a_good_file_damaged_anywhere_raises_nothing_but_a_settings_error(
    path: list[int], key: str, value: object
) -> None:
    tables = damaged(tomllib.loads(GOOD), path, key, value)
    assert all(fault.startswith("any.toml: ") for fault in faults_in(tables))
