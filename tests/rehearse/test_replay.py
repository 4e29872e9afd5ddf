"""The journal of a real run, decided again: the same commands, and a changed rule shows.

Invariant 8 of the design: every command is journalled with its reason, and replaying the journal
through the control core gives the same commands.
"""

import json
import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from rehearse.scenarios import CLOSET, fault

from hangroom.alarm_desk.desk import AlarmDesk
from hangroom.cli import main
from hangroom.cli.rehearsal import simulated_room
from hangroom.cli.rehearse import read_rehearsal
from hangroom.cli.simulated_rooms import outside, wired
from hangroom.control import humidity
from hangroom.control.snapshot import kept_as
from hangroom.loop import TICK_S, Loop
from hangroom.simulation.clock import SimulatedClock
from hangroom.store.database import connect, prepare_database
from hangroom.store.journal import Journal
from hangroom.store.memory import kept

LASTS_S = 2.4 * 3600
# It leaks a lot into dry air, so that much is decided in little time.
DRAUGHTY = CLOSET.replace("humidity_pct = 50.0", "humidity_pct = 30.0").replace(
    "[room.closet]\n", "[room.closet]\nach_per_h = 8.0\n"
)


def journal_of_two_runs(folder: Path) -> Path:
    """A closet with a dead sensor for a while, a changed setpoint, late ticks, and a restart."""
    (folder / "scenario.toml").write_text(
        DRAUGHTY + fault("sensor-silent", at_h=0.5, for_h=0.2), encoding="utf-8"
    )
    scenario, settings = read_rehearsal(folder / "scenario.toml")
    table = settings.room["closet"]
    path = prepare_database(folder)
    clock = SimulatedClock(start=datetime(2026, 11, 1, tzinfo=UTC), uptime_s=17.123)
    room = simulated_room("closet", 0, scenario, table, clock)
    clock.follow(room.advance)
    plan = table.plan("closet")
    assert plan.humidity
    drier = replace(plan, humidity=replace(plan.humidity, setpoint_pct=74.0))
    plans = {"closet": plan}
    for until_s in (LASTS_S / 2, LASTS_S):
        journal = Journal(path)
        journal.start({"closet": ["rail"]}, boot_id="boot", version="0.0.1", now=clock.now())
        with closing(connect(path)) as db:
            before = {kept_as("closet"): kept(db, kept_as("closet"))}
        loop = Loop(
            {"closet": replace(wired(room, table), plan=plans["closet"])},
            clock=clock,
            journal=journal,
            alarms=AlarmDesk(["closet"], clock=clock, journal=journal),
            boot_id="boot",
            version="0.0.1",
            plans_now=lambda plans, *_: {"closet": drier} if clock.uptime_s() > 3000 else plans,
            show=lambda _board: None,
            alive=lambda: None,
            clock_jumped=lambda: None,
            kept=before,
        )
        while clock.uptime_s() < until_s:
            loop.tick()
            # Every ten minutes the machine is busy for a moment.
            busy_s = 7.3 if clock.uptime_s() % 600 < TICK_S else 0.0
            clock.wait_until(clock.uptime_s() + TICK_S + busy_s)
        loop.open_all()
        loop.keep_memory()
        assert journal.flush(now=clock.now(), ended="stopped")
        journal.close()
        plans = {"closet": drier}
        clock.wait_until(clock.uptime_s() + 10.0)  # long enough for a new reading
    return path


@pytest.fixture(scope="module")
def database(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return journal_of_two_runs(tmp_path_factory.mktemp("replay"))


def replayed(database: Path, capsys: pytest.CaptureFixture[str]) -> list[dict[str, object]]:
    assert main(["replay", "--db", str(database), "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert isinstance(answer, list)
    return answer


def test_the_journal_of_a_run_decided_again_gives_the_same_commands(
    database: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    runs = replayed(database, capsys)
    assert [run["room"] for run in runs] == ["closet", "closet"]
    for run in runs:
        # Enough happened for the comparison to mean something, and late ticks were left out.
        assert isinstance(run["commands"], int)
        assert run["commands"] > 30
        assert isinstance(run["ticks"], int)
        assert 1500 < run["ticks"] < LASTS_S / 2 / 2
        assert run["differences"] == []


def test_a_changed_rule_shows_where_it_decides_otherwise(
    database: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(humidity, "HUMIDIFY_TO_SHARE", -0.9)
    first, _second = replayed(database, capsys)
    found = first["differences"]
    assert isinstance(found, list)
    assert found
    assert "humidifier" in {one["relay"] for one in found if one["switched"]}


def test_a_reading_that_is_missing_from_the_journal_shows(
    database: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    copy = tmp_path / "hangroom.db"
    with sqlite3.connect(database) as source, sqlite3.connect(copy) as target:
        source.backup(target)
        target.execute("delete from reading where seen_ms between 1200000 and 1260000")
    first, _second = replayed(copy, capsys)
    found = first["differences"]
    assert isinstance(found, list)
    assert found[0]["from_s"] == pytest.approx(1200 - 17, abs=35)


def test_it_says_in_words_what_it_found(
    database: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert main(["replay", "--db", str(database), "--room", "closet"]) == 0
    said = capsys.readouterr().out
    assert said.count("decided again today: the same, every one") == 2
    monkeypatch.setattr(humidity, "HUMIDIFY_TO_SHARE", -0.9)
    assert main(["replay", "--db", str(database), "--room", "closet"]) == 0
    said = capsys.readouterr().out
    assert "stretches differ" in said
    assert "humidifier: in the other position for" in said
    assert "with --json" in said


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--db", "nowhere.db"], "there is no such file"),
        (["--db", "{database}", "--room", "cellar"], "Rooms in it: closet."),
    ],
)
def test_what_cannot_be_replayed_is_bad_input(
    database: Path, arguments: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    filled = [argument.format(database=database) for argument in arguments]
    assert main(["replay", *filled]) == 2
    assert says in capsys.readouterr().err


OUTSIDE = """
[settings.outside.sensor.wall]
kind = "dht22"
pin = 5
"""


def test_what_the_sensors_outside_said_is_decided_by_again(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The air outside is about as moist as the room's, so that the gate opens and shuts."""
    text = CLOSET.replace("humidity_pct = 50.0", "humidity_pct = 76.5") + OUTSIDE
    (tmp_path / "scenario.toml").write_text(text, encoding="utf-8")
    scenario, settings = read_rehearsal(tmp_path / "scenario.toml")
    table, path = settings.room["closet"], prepare_database(tmp_path)
    clock = SimulatedClock(start=datetime(2026, 11, 1, tzinfo=UTC), uptime_s=17.123)
    room = simulated_room("closet", 0, scenario, table, clock)
    air = outside(settings.outside, clock=clock, ambient=scenario.ambient, seed=1)
    clock.follow(room.advance)
    clock.follow(air.advance)
    journal = Journal(path)
    sensors = {"closet": ["rail"], "outside": ["wall"]}
    journal.start(sensors, boot_id="boot", version="0.0.1", now=clock.now())
    loop = Loop(
        {"closet": wired(room, table, settings.outside)},
        clock=clock,
        journal=journal,
        alarms=AlarmDesk(["closet"], clock=clock, journal=journal),
        boot_id="boot",
        version="0.0.1",
        plans_now=lambda plans, *_: plans,
        show=lambda _board: None,
        alive=lambda: None,
        clock_jumped=lambda: None,
        outside=air.sensors,
    )
    while clock.uptime_s() < LASTS_S / 2:
        loop.tick()
        clock.wait_until(clock.uptime_s() + TICK_S)
    loop.open_all()
    assert journal.flush(now=clock.now(), ended="stopped")
    journal.close()
    (whole,) = replayed(path, capsys)
    assert whole["differences"] == []
    with sqlite3.connect(path) as db:
        codes = {code for (code,) in db.execute("select code from command")}
        assert {"airing", "outside-too-moist"} <= codes
        db.execute(
            "delete from reading where sensor_id in (select id from sensor where name = 'wall')"
        )
    (without,) = replayed(path, capsys)
    assert without["differences"]
