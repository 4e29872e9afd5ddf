"""`hangroom rehearse` as the keeper and other programs meet it."""

import json
import subprocess
import sys
from pathlib import Path
from shutil import copy
from typing import Any
from xml.etree import ElementTree as ET

import pytest
from rehearse.scenarios import CLOSET, fault

from hangroom.cli import main

REHEARSALS = sorted((Path(__file__).parents[1] / "rehearsals").glob("*.toml"))

# The contract of the command, as published in the design; keys are added, never dropped.
KEYS = {"scenario", "seed", "simulated_s", "cpu_s", "rooms", "alarms", "balance_residual"}
ROOM_KEYS = {
    "in_band_pct", "humidity_mean_pct", "humidity_sd_pct", "humidity_p99_pct", "temperature_mean_c",
    "switches_per_day", "on_pct", "water_g_per_day", "loss_pct_per_day", "fights_per_day",
    "unsafe_states",
}  # fmt: skip


def rehearsed(folder: Path, capsys: pytest.CaptureFixture[str], text: str) -> dict[str, Any]:
    path = folder / "scenario.toml"
    path.write_text(text, encoding="utf-8")
    assert main(["rehearse", str(path), "--json"]) == 0
    answer: dict[str, Any] = json.loads(capsys.readouterr().out)
    return answer


def test_the_json_holds_every_key_of_the_contract(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    answer = rehearsed(tmp_path, capsys, CLOSET)
    assert answer.keys() >= KEYS
    assert answer["rooms"].keys() == {"closet"}
    room = answer["rooms"]["closet"]
    assert room.keys() >= ROOM_KEYS
    assert room["switches_per_day"].keys() == {"humidifier", "exhaust-fan"}
    assert room["on_pct"].keys() == room["switches_per_day"].keys()
    assert answer["scenario"] == "test"
    assert answer["seed"] == 1
    assert answer["simulated_s"] == pytest.approx(8640)
    assert answer["cpu_s"] > 0
    assert isinstance(answer["alarms"], list)
    assert 0 <= answer["balance_residual"] <= 1e-9
    assert not (tmp_path / "scenario.svg").exists()


def test_the_same_seed_gives_the_same_run_and_another_seed_another(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first, again, other = (
        rehearsed(tmp_path, capsys, CLOSET.replace("seed = 1", f"seed = {seed}"))
        for seed in (1, 1, 2)
    )
    for answer in (first, again, other):
        del answer["cpu_s"], answer["seed"]
    assert first == again
    assert first != other


def test_settings_may_stand_in_a_file_of_their_own(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    inline = rehearsed(tmp_path, capsys, CLOSET)
    begins, ends = CLOSET.index("[settings.room"), CLOSET.index("[room.closet]")
    settings = CLOSET[begins:ends].replace("[settings.", "[")
    (tmp_path / "my.toml").write_text(settings, encoding="utf-8")
    apart = CLOSET[:begins] + '[settings]\nfile = "my.toml"\n' + CLOSET[ends:]
    assert rehearsed(tmp_path, capsys, apart)["rooms"] == inline["rooms"]


def test_a_series_of_outside_air_drives_the_room(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "air.csv").write_text(
        "hours,temperature_c,humidity_pct\n0,18,50\n1,18,50\n2,28,50\n3,28,50\n", encoding="utf-8"
    )
    text = CLOSET[: CLOSET.index("[ambient]")] + '[ambient]\ncsv = "air.csv"\n'
    warmer = rehearsed(tmp_path, capsys, text)["rooms"]["closet"]["temperature_mean_c"]
    plain = rehearsed(tmp_path, capsys, CLOSET)["rooms"]["closet"]["temperature_mean_c"]
    assert warmer > plain + 0.5


def test_in_words_it_tells_the_figures_and_leaves_a_picture_beside_the_scenario(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "scenario.toml"
    path.write_text(
        CLOSET
        + fault("door-open", at_h=1.0, for_h=0.1)
        + fault("clock-step", at_h=1.5, size=-3600),
        encoding="utf-8",
    )
    assert main(["rehearse", str(path)]) == 0
    told = capsys.readouterr().out
    for words in ("80 ± 2 %", "unsafe states    none", "door-open", "clock-jump, by -1 h"):
        assert words in told
    svg = ET.parse(tmp_path / "scenario.svg").getroot()  # noqa: S314 - our own file
    assert svg.tag == "{http://www.w3.org/2000/svg}svg"
    classes = {part.get("class") for part in svg.iter()}
    assert classes >= {"band", "true", "sensed", "temperature", "on", "fault"}


SILENT = CLOSET + fault("sensor-silent", at_h=1.0, for_h=0.5)


def test_alarms_stand_in_the_json_with_when_they_were_raised_and_cleared(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    alarms = {alarm["id"]: alarm for alarm in rehearsed(tmp_path, capsys, SILENT)["alarms"]}
    assert alarms["sensor-stale"].keys() >= {"id", "room", "raised_s", "cleared_s"}
    stale = alarms["sensor-stale"]
    assert (stale["room"], stale["priority"]) == ("closet", "high")
    assert 3600 < stale["raised_s"] < 5400 < stale["cleared_s"]


def test_alarms_are_told_in_words_with_what_to_do_and_drawn(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "scenario.toml"
    path.write_text(SILENT, encoding="utf-8")
    assert main(["rehearse", str(path)]) == 0
    told = capsys.readouterr().out
    assert "Closet, sensor-stale (A sensor does not answer; high priority)" in told
    assert "to do: check the sensor's wires; replace it" in told
    drawn = ET.parse(tmp_path / "scenario.svg").getroot()  # noqa: S314 - our own file
    assert "alarm" in {part.get("class") for part in drawn.iter()}
    assert "sensor-stale" in {part.text for part in drawn.iter()}


def test_a_name_with_marks_of_xml_still_makes_a_picture(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "scenario.toml"
    text = CLOSET.replace('"test"', "'<a & \"b\">'").replace('"Closet"', '"<i>&"')
    path.write_text(text, encoding="utf-8")
    picture = tmp_path / "elsewhere.svg"
    assert main(["rehearse", str(path), "--json", "--picture", str(picture)]) == 0
    json.loads(capsys.readouterr().out)
    texts = [part.text for part in ET.parse(picture).iter() if part.text]  # noqa: S314
    assert any('<a & "b">' in text for text in texts)


def test_a_picture_that_cannot_be_written_is_said_and_the_figures_stand(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "scenario.toml"
    path.write_text(CLOSET, encoding="utf-8")
    assert main(["rehearse", str(path), "--picture", str(tmp_path / "no" / "p.svg")]) == 1
    out, err = capsys.readouterr()
    assert "unsafe states" in out
    assert "--picture" in err


# Each with what must be said of it; all in one file at once as well.
BAD = [
    ('[scenario]\nname = "test"', '[scenario]\nnam = "test"', "did you mean 'name'?"),
    ("days = 0.1", "days = -1", "scenario.days is -1; give above 0"),
    ("seed = 1", "seed = 1.5", "scenario.seed is 1.5; give a whole number"),
    ("warmup_h = 0.5", 'warmup_h = "half"', "scenario.warmup_h is 'half'; give a number"),
    ("cooling_w = 100.0", "volume_m3 = -1.0", "room.closet: volume_m3 is -1"),
    ("humidifier_g_per_h = 300.0", "humidifer_g_per_h = 3", "'humidifier_g_per_h'?"),
    ("mass_kg = 5.0", "mass_kg = 0", "room.closet.load: load: mass_kg is 0"),
    ("humidity_pct = 50.0", "humidity_pct = 150", "ambient: humidity_pct is 150"),
    ("setpoint_pct = 80.0", "setpont_pct = 80.0", "'setpoint_pct'?"),
    ("pin = 4", "pin = 17", "pin 17 is already used"),
    ("", fault("tank-emty", at_h=1, for_h=1), "did you mean 'tank-empty'?"),
    ("", fault("fan-dead", at_h=-1, for_h=1), "at_h is -1"),
    ("", fault("fan-dead", at_h=1, for_h=0), "for_h is 0"),
    ("", fault("fan-dead", at_h=1, for_h=1, sise=2), "did you mean 'size'?"),
    ("", fault("sensor-bias", at_h=1, for_h=1), "size is 0"),
    ("", fault("fan-dead", at_h=1, for_h=1).replace("closet", "closte"), "did you mean 'closet'?"),
    ("", fault("fan-dead", at_h=1e5, for_h=1), "begins at hour 100000"),
    ("", "\n[room.attic]\nvolume_m3 = 1.0\n", "room.attic is not in the settings"),
    ("", '\n[settings.room.fridge]\ntitle = "F"\n', "the settings have a room 'fridge'"),
    ("", '\n[faults]\nroom = "closet"\n', "did you mean 'fault'?"),
]


def refused(path: Path, text: str, capsys: pytest.CaptureFixture[str]) -> str:
    path.write_text(text, encoding="utf-8")
    assert main(["rehearse", str(path)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    return err


@pytest.mark.parametrize(("good", "bad", "says"), BAD)
def test_a_fault_in_the_file_is_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], good: str, bad: str, says: str
) -> None:
    text = CLOSET.replace(good, bad, 1) if good else CLOSET + bad
    assert says in refused(tmp_path / "bad.toml", text, capsys)


def test_all_faults_of_a_file_are_named_at_once(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = CLOSET
    for good, bad, _ in BAD:
        text = text.replace(good, bad, 1) if good else text + bad
    said = refused(tmp_path / "bad.toml", text, capsys)
    # With days gone wrong, no end is known that a fault could begin after.
    missing = [says for _, _, says in BAD if says not in said]
    assert missing == []


def test_every_line_of_a_series_that_is_no_number_is_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "air.csv").write_text(
        "hours,temperature_c,humidity_pct\n0,18,50\n1,mild,50\n2,18,50\n3,18,damp\n",
        encoding="utf-8",
    )
    text = CLOSET[: CLOSET.index("[ambient]")] + '[ambient]\ncsv = "air.csv"\n'
    said = refused(tmp_path / "bad.toml", text + fault("door-ajar", at_h=1, for_h=1), capsys)
    assert "air.csv line 3" in said
    assert "air.csv line 5" in said
    assert "'door-ajar'" in said


@pytest.mark.parametrize(
    "text",
    [
        "", "= 1", "scenario = 3\nroom = 4\nfault = 5\nambient = 6\nsettings = 7", "room = []",
        "[settings]\nfile = 3", '[settings]\nfile = "none.toml"', "[room]\ncloset = 1\n[[room2]]",
        "fault = [1, 2]", "[ambient]\ncsv = 1", '[ambient]\ncsv = "none.csv"', "days = inf",
        "[scenario]\ndays = nan\nseed = true\nname = ''", "[settings.room]\ncloset = 3",
    ],
)  # fmt: skip
def test_whatever_stands_in_the_file_it_is_refused_in_words(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str
) -> None:
    assert refused(tmp_path / "bad.toml", text, capsys)


def test_the_command_itself_exits_with_2_and_no_traceback(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "hangroom", "rehearse", str(tmp_path / "none.toml")],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2
    assert "no such file" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("path", REHEARSALS, ids=lambda path: path.stem)
def test_the_examples_are_in_order_and_run(path: Path, tmp_path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    begins = text.index("[[fault]]") if "[[fault]]" in text else len(text)
    short = text[:begins]
    for line in ("days = 2.0", "days = 3.0", "days = 3.75"):
        short = short.replace(line, "days = 0.02")
    for line in ("warmup_h = 6.0", "warmup_h = 12.0", "warmup_h = 2.0"):
        short = short.replace(line, "warmup_h = 0.1")
    for weather in path.parent.glob("*.csv"):
        copy(weather, tmp_path)
    file = tmp_path / path.name
    file.write_text(short, encoding="utf-8")
    assert main(["rehearse", str(file), "--json"]) == 0
