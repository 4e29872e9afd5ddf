"""Records out to files and in again, weights and temperatures from files; faults told by line."""

import csv
import io
import json
import sys
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1]))

from store.record.full_batch import PNG, FullBatch

from hangroom.cli import main
from hangroom.store.batches import batch
from hangroom.store.database import connect, prepare_database
from hangroom.store.record.whole import batch_record


@dataclass(frozen=True, slots=True, kw_only=True)
class Ran:
    """How a command ended and what it said."""

    returncode: int
    stdout: str
    stderr: str


Run = Callable[..., Ran]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """Run a command in this process; `test_commands.py` starts others the way a shell does."""

    def ran(*arguments: str | Path) -> Ran:
        code = main([str(argument) for argument in arguments])
        said = capsys.readouterr()
        return Ran(returncode=code, stdout=said.out, stderr=said.err)

    return ran


@pytest.fixture
def folder(settings_file: Path) -> Path:
    """The settings' folder with the full batch in it, hung in the past."""
    folder = settings_file.parent / "data"
    db = connect(prepare_database(folder))
    FullBatch(db=db, folder=folder).enter()
    db.close()
    return folder


def everything(folder: Path) -> list[str]:
    """All that the database of a folder holds, as SQL."""
    db = connect(folder / "hangroom.db")
    try:
        return list(db.conn.iterdump())
    finally:
        db.close()


def other(settings_file: Path, tmp_path: Path) -> tuple[Path, Path]:
    """The same settings with another folder, and that folder."""
    folder = tmp_path / "other"
    text = settings_file.read_text(encoding="utf-8").replace(str(tmp_path / "data"), str(folder))
    path = tmp_path / "other.toml"
    path.write_text(text, encoding="utf-8")
    return path, folder


def test_a_record_goes_out_and_into_an_empty_folder_with_its_photo(
    run: Run, settings_file: Path, folder: Path, tmp_path: Path
) -> None:
    there, other_folder = other(settings_file, tmp_path)
    for kind, file in (("json", "all.json"), ("photos", "photos.zip")):
        out = run("export", kind, "--settings", settings_file, "--to", tmp_path / file)
        assert (out.returncode, out.stderr) == (0, "")
        into = run("import", kind, tmp_path / file, "--settings", there)
        assert (into.returncode, into.stderr) == (0, "")
    (photo,) = (other_folder / "photos").iterdir()
    assert photo.read_bytes() == PNG
    before = everything(other_folder)
    again = run("import", "json", tmp_path / "all.json", "--settings", there)
    assert "Stored: nothing." in again.stdout
    assert everything(other_folder) == before
    mine, theirs = connect(folder / "hangroom.db"), connect(other_folder / "hangroom.db")
    assert batch_record(mine, 1) == batch_record(theirs, 1)
    mine.close()
    theirs.close()


def test_the_spreadsheets_say_whose_each_row_is(
    run: Run, settings_file: Path, folder: Path, tmp_path: Path
) -> None:
    out = run("export", "csv", "--settings", settings_file, "--to", tmp_path / "all.zip")
    assert (out.returncode, out.stderr) == (0, "")
    with zipfile.ZipFile(tmp_path / "all.zip") as held:
        text = held.read("weigh_in.csv").decode("utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(text)))
    first = {name: rows[0][name] for name in ("batch", "group", "stick", "weight_g", "surface")}
    assert list(first.values()) == ["1", "A", "1A1", "71.4", "[]"]
    assert "68.30000000000001" in [row["weight_g"] for row in rows]
    assert folder.is_dir()


WEIGHTS = """tag;time;weight_g;squeeze;note
1a1;2024-11-05 09:10;64,2;3;"by hand; twice"
1B2;2024-11-04T08:20:00-05:00;73.9;;

"""


def test_weights_come_from_a_file_once(
    run: Run, settings_file: Path, folder: Path, tmp_path: Path
) -> None:
    (tmp_path / "w.csv").write_text(WEIGHTS, encoding="utf-8")
    ran = run("import", "weights", tmp_path / "w.csv", "--settings", settings_file)
    assert ran.stdout == "2 weigh-ins stored, 0 were here already.\n", ran.stderr
    db = connect(folder / "hangroom.db")
    found = batch(db, 1)
    db.close()
    assert found is not None
    newest = {
        stick.tag: stick.weigh_ins[-1]
        for group in found.groups
        for stick in group.tagged
        if stick.weigh_ins
    }
    # America/New_York, the example's zone, is at UTC-5 in November.
    assert newest["1A1"].taken_at.isoformat() == "2024-11-05T14:10:00+00:00"
    assert (newest["1A1"].weight_g, newest["1A1"].squeeze) == (64.2, 3)
    assert newest["1A1"].note == "by hand; twice"
    assert newest["1B2"].taken_at.isoformat() == "2024-11-04T13:20:00+00:00"
    before = everything(folder)
    ran = run("import", "weights", tmp_path / "w.csv", "--settings", settings_file)
    assert ran.stdout == "0 weigh-ins stored, 2 were here already.\n"
    assert everything(folder) == before


BAD_WEIGHTS = """tag,time,weight_g,squeeze
1A1,2024-11-05 09:10,-3,3
1A1,2024-11-05 09:20,seventy,3
1A1,05.11.2024,64.2,3
1A1,2999-11-05 09:10,64.2,3
1A1,2024-11-05 09:40,64.2,6
1A1,2024-11-03 01:30,64.2,3
1A1,2024-11-05 09:50,64,2,3
1A1,2024-11-05 09:55,64.2,2
1A1,2024-11-05 09:55,64.3,2
"""


def test_every_fault_of_a_file_is_told_with_its_line_and_nothing_is_stored(
    run: Run, settings_file: Path, folder: Path, tmp_path: Path
) -> None:
    """Line 7: on 2024-11-03 New York's clocks go from 2:00 back to 1:00 (tz database)."""
    (tmp_path / "w.csv").write_text(BAD_WEIGHTS, encoding="utf-8")
    before = everything(folder)
    ran = run("import", "weights", tmp_path / "w.csv", "--settings", settings_file)
    assert (ran.returncode, ran.stdout) == (2, "")
    assert "Traceback" not in ran.stderr
    told = [line.removeprefix(f"{tmp_path / 'w.csv'}: ") for line in ran.stderr.splitlines()]
    for number, says in enumerate(
        (
            "must be above 0",
            "'seventy' is no number",
            "is no time",
            "is in the future",
            "whole number from 1 to 5",
            "comes twice, or not at all",
            "5 columns, line 1 has 4",
            None,
            "on line 9 already",
        ),
        start=2,
    ):
        lines = [line for line in told if line.startswith(f"line {number}: ")]
        assert [says in line for line in lines if says] == [True] * (says is not None)
    assert told[-1] == "Nothing was stored."
    assert everything(folder) == before


def test_a_weight_in_pounds_is_asked_about_and_stored_when_confirmed(
    run: Run, settings_file: Path, folder: Path, tmp_path: Path
) -> None:
    """71 g are 0.1565 lb (453.59237 g each, by definition)."""
    (tmp_path / "w.csv").write_text("tag,time,weight_g\n1B2,2024-11-04 08:20,0.1565\n")
    command = ("import", "weights", tmp_path / "w.csv", "--settings", settings_file)
    before = everything(folder)
    ran = run(*command)
    assert ran.returncode == 2
    assert "line 2: 0.1565 g for 1B2: typed in pounds? It was 90.1 g. 70.98" in ran.stderr
    assert "--confirm" in ran.stderr
    assert everything(folder) == before
    ran = run(*command, "--confirm")
    assert ran.stdout.startswith("1 weigh-ins stored"), ran.stderr


TEMPERATURES = """Time,Temperature_F
2024-11-01 14:00,140
2024-11-01 14:05,151.7
2024-11-01 14:10,155.1
"""


def test_temperatures_come_from_a_file_in_fahrenheit_once(
    run: Run, settings_file: Path, folder: Path, tmp_path: Path
) -> None:
    (tmp_path / "t.csv").write_text(TEMPERATURES)
    command = (
        *("import", "temperatures", tmp_path / "t.csv", "--settings", settings_file),
        *("--batch", "1", "--part", "cook", "--probe", "thinnest stick", "--group", "B"),
    )
    assert run(*command).stdout == "3 readings stored with batch 1.\n"
    assert run(*command).stdout == "These 3 readings are with batch 1 already.\n"
    db = connect(folder / "hangroom.db")
    record = batch_record(db, 1)
    db.close()
    assert record is not None
    (series,) = (one for one in record.series if one.probe == "thinnest stick")
    assert series.group == "B"
    # 140 degF is 60 degC, by definition of the two scales.
    assert series.points[0].temperature_c == pytest.approx(60.0)


BAD_FILES = {
    "time,temperature_c\n2024-11-01 14:05,60\n2024-11-01 14:00,61\n": "line 3: it is not later",
    "time,temperature_c\n2024-11-01 14:05,155\n": "line 2: The internal temperature in degC is 155",
    "time,temperature\n2024-11-01 14:05,55\n": "line 1: there is no column 'temperature'",
    'time,temperature_c\n2024-11-01 14:05,"55': "line 2: it is no CSV",
    "time,temperature_c\n": "there is no reading",
    "": "line 1: the column 'time' is missing",
}


@pytest.mark.parametrize("text", BAD_FILES, ids=BAD_FILES.get)
def test_a_bad_file_of_temperatures_is_refused_with_the_reason(
    run: Run, settings_file: Path, folder: Path, text: str
) -> None:
    file = settings_file.with_name("t.csv")
    file.write_text(text)
    before = everything(folder)
    ran = run(
        *("import", "temperatures", file, "--settings", settings_file),
        *("--batch", "1", "--part", "cook", "--probe", "x"),
    )
    assert (ran.returncode, ran.stdout) == (2, "")
    assert BAD_FILES[text] in ran.stderr
    assert everything(folder) == before


NO_RECORDS = {
    b"\xff\xfe\x00": "no UTF-8 text",
    b"{": "no JSON",
    b"[" * 100_000: "no JSON",
    b"[]": "no hangroom record",
    json.dumps({"format": "hangroom record", "version": 9, "tables": {}}).encode(): "version 9",
}


@pytest.mark.parametrize("content", NO_RECORDS, ids=NO_RECORDS.get)
def test_a_file_that_is_no_record_is_refused(
    run: Run, settings_file: Path, folder: Path, content: bytes
) -> None:
    file = settings_file.with_name("x.json")
    file.write_bytes(content)
    before = everything(folder)
    ran = run("import", "json", file, "--settings", settings_file)
    assert (ran.returncode, ran.stdout) == (2, "")
    assert NO_RECORDS[content] in ran.stderr
    assert everything(folder) == before


def test_there_is_nothing_to_export_where_there_is_no_database(
    run: Run, settings_file: Path, tmp_path: Path
) -> None:
    ran = run("export", "json", "--settings", settings_file, "--to", tmp_path / "x.json")
    assert ran.returncode == 1
    assert "There is no database in" in ran.stderr
    assert not (tmp_path / "data").exists()


def test_a_file_that_cannot_be_written_is_one_line(
    run: Run, settings_file: Path, folder: Path, tmp_path: Path
) -> None:
    ran = run("export", "json", "--settings", settings_file, "--to", tmp_path / "no" / "x.json")
    assert ran.returncode == 1
    assert len(ran.stderr.splitlines()) == 1
    assert "Name another place with --to" in ran.stderr
    assert folder.is_dir()


def cells(data: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"))))


def test_air_relays_and_alarms_go_out_with_offset_and_units(
    run: Run, settings_file: Path, tmp_path: Path
) -> None:
    folder = settings_file.parent / "data"
    db = connect(prepare_database(folder))
    at_ms = 1_795_000_000_123  # 2026-11-18T11:06:40.123Z, by `date -u -d @1795000000`
    db.execute("insert into room (name) values ('closet')")
    db.execute("insert into sensor (room_id, name) values (1, '=rail')")
    for into, row in (
        (
            "reading (sensor_id, taken_ms, uptime_ms, temperature_c, humidity_pct)",
            (1, at_ms, 5, -0.5, 76.25),
        ),
        ("air_rollup", (1, 900, at_ms, 90, -1.0, -0.5, 0.25, 70.0, 76.25, 80.0)),
        ("relay_rollup", (1, "humidifier", at_ms, 12_500, 900_000)),
    ):
        marks = ", ".join("?" * len(row))
        db.execute(f"insert into {into} values ({marks})", row)  # noqa: S608 - above
    db.conn.commit()
    db.close()
    ran = run("export", "air", "--settings", settings_file, "--to", tmp_path / "air.zip")
    assert (ran.returncode, ran.stderr) == (0, "")
    with zipfile.ZipFile(tmp_path / "air.zip") as held:
        (reading,) = cells(held.read("readings.csv"))
        (mean,) = cells(held.read("means.csv"))
        (relay,) = cells(held.read("relays.csv"))
    said = "2026-11-18T11:06:40.123+00:00"
    # The sensor's name would run in a spreadsheet; the frost is a number.
    assert list(reading.items()) == [
        *(("taken_at", said), ("room", "closet"), ("sensor", "'=rail")),
        *(("temperature_c", "-0.5"), ("humidity_pct", "76.25")),
    ]
    assert (mean["starts_at"], mean["long_s"], mean["lowest_c"]) == (said, "900", "-1.0")
    assert (relay["starts_at"], relay["on_s"], relay["known_s"]) == (said, "12.5", "900.0")


def test_the_alarm_log_goes_out_line_by_line(run: Run, settings_file: Path, tmp_path: Path) -> None:
    folder = settings_file.parent / "data"
    db = connect(prepare_database(folder))
    db.execute(
        "insert into alarm_event (scope, sequence, at_ms, uptime_ms, alarm, event, tell,"
        " suppression, occurrences, by, reason, figures) values ('room/closet', 1, 1795000000123,"
        " 5, 'humidity-high', 'activated', 'annunciate', 'none', 1, 'Ann, \"the boss\"', '', '{\"seen_pct\": 91.5}')"
    )
    db.conn.commit()
    db.close()
    ran = run("export", "alarms", "--settings", settings_file, "--to", tmp_path / "a.csv")
    assert (ran.returncode, ran.stderr) == (0, "")
    (line,) = cells((tmp_path / "a.csv").read_bytes())
    assert line["at"] == "2026-11-18T11:06:40.123+00:00"
    assert (line["by"], line["figures_si"]) == ('Ann, "the boss"', "seen_pct 91.5")
