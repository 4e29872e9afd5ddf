"""The daemon's notebook: nothing lost while the disk is away, nothing doubled, nothing damaged."""

import json
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random

import pytest
from sqlite_utils import Database

from hangroom.errors import StoreError
from hangroom.store import journal as journal_module
from hangroom.store.history import last_seen_at, newest_readings
from hangroom.store.journal import Journal
from hangroom.terms import AirReading, Because, Command, RelayKind

NOW = datetime(2026, 11, 1, 6, tzinfo=UTC)
ROOMS = {"closet": ["rail", "floor"], "fridge": ["shelf"]}


@pytest.fixture
def journal(path: Path) -> Iterator[Journal]:
    opened = started(path)
    yield opened
    opened.close()


def started(path: Path) -> Journal:
    journal = Journal(path)
    journal.start(ROOMS, boot_id="b", version="1", now=NOW)
    return journal


def reading(
    second_s: float, *, temperature_c: float = 13.1, humidity_pct: float = 76.4
) -> AirReading:
    return AirReading(
        taken_at=NOW + timedelta(seconds=second_s),
        taken_uptime_s=500.25 + second_s,
        temperature_c=temperature_c,
        humidity_pct=humidity_pct,
    )


def count(db: Database, table: str) -> int:
    return int(db.execute(f"select count(*) from {table}").fetchone()[0])  # noqa: S608


def test_a_reading_comes_back_as_it_was(journal: Journal, db: Database) -> None:
    journal.note_reading("closet", "rail", reading(0), seen_uptime_s=0.0)
    journal.note_reading(
        "fridge", "shelf", reading(1, temperature_c=-0.1, humidity_pct=82.9), seen_uptime_s=0.0
    )
    assert journal.flush(now=NOW)
    assert newest_readings(db) == {
        "closet": reading(0),
        "fridge": reading(1, temperature_c=-0.1, humidity_pct=82.9),
    }


def test_of_several_sensors_a_room_shows_the_newest(journal: Journal, db: Database) -> None:
    journal.note_reading("closet", "floor", reading(5, humidity_pct=60.0), seen_uptime_s=0.0)
    journal.note_reading("closet", "rail", reading(2), seen_uptime_s=0.0)
    journal.flush(now=NOW)
    assert newest_readings(db)["closet"].humidity_pct == 60.0


def test_nothing_is_written_before_the_flush(journal: Journal, db: Database) -> None:
    journal.note_reading("closet", "rail", reading(0), seen_uptime_s=0.0)
    assert (count(db, "reading"), journal.unwritten_rows) == (0, 1)
    journal.flush(now=NOW)
    assert (count(db, "reading"), journal.unwritten_rows) == (1, 0)


def test_the_same_reading_noted_twice_is_one(journal: Journal, db: Database) -> None:
    for _ in range(2):
        journal.note_reading("closet", "rail", reading(0), seen_uptime_s=0.0)
    journal.flush(now=NOW)
    assert count(db, "reading") == 1


def test_a_commands_reason_and_figures_come_back(journal: Journal, db: Database) -> None:
    because = Because("too-dry", {"seen_pct": 71.23456, "limit_pct": 74.8})
    journal.note_command(
        "closet", Command(RelayKind.HUMIDIFIER, True, because), now=NOW, uptime_s=7.5
    )
    journal.flush(now=NOW)
    ((relay, closed, code, figures, uptime_ms),) = db.execute(
        "select relay, closed, code, figures, uptime_ms from command"
    )
    assert (relay, closed, code, uptime_ms) == ("humidifier", 1, "too-dry", 7500)
    assert json.loads(figures) == {"seen_pct": 71.235, "limit_pct": 74.8}


def test_faults_are_counted_from_running_totals_by_minute_and_reason(
    journal: Journal, db: Database
) -> None:
    for second_s, totals in (
        (0, {"checksum": 2}),
        (30, {"checksum": 3, "silent": 1}),
        (61, {"checksum": 7}),
    ):
        journal.note_faults("closet", "rail", totals, now=NOW + timedelta(seconds=second_s))
        journal.flush(now=NOW)
    rows = db.execute("select minute_ms, reason, times from sensor_fault order by 1, 2").fetchall()
    minute_ms = int(NOW.timestamp()) * 1000
    assert rows == [
        (minute_ms, "checksum", 3),
        (minute_ms, "silent", 1),
        (minute_ms + 60_000, "checksum", 4),
    ]


def test_the_daemons_last_sign_of_life_and_its_end_are_kept(journal: Journal, db: Database) -> None:
    journal.flush(now=NOW + timedelta(minutes=1))
    journal.note_event("clock-jump", now=NOW, figures={"jump_s": 3600.0})
    journal.flush(now=NOW + timedelta(minutes=2), ended="stopped")
    assert last_seen_at(db) == NOW + timedelta(minutes=2)
    assert db.execute("select ended from run").fetchall() == [("stopped",)]
    ((kind, figures, room_id, words),) = db.execute(
        "select kind, figures, room_id, words from event"
    ).fetchall()
    assert (kind, json.loads(figures)) == ("clock-jump", {"jump_s": 3600.0})
    assert (room_id, json.loads(words)) == (None, {})


def test_an_event_in_a_room_is_kept_with_its_words(journal: Journal, db: Database) -> None:
    words = {"by": "der Hüter", "why": "tank is out; 'later'"}
    journal.note_event("override", now=NOW, figures={"for_s": 60.0}, room="closet", words=words)
    journal.note_event("override", now=NOW, figures={}, room="a room that is gone")
    journal.flush(now=NOW)
    rows = db.execute("select name, words from event left join room on room.id = room_id")
    assert [(name, json.loads(said)) for name, said in rows.fetchall()] == [
        ("closet", words),
        (None, {}),
    ]


def test_a_second_run_finds_its_rooms_and_sensors_again(path: Path, db: Database) -> None:
    for _ in range(2):
        started(path).close()
    assert (count(db, "room"), count(db, "sensor"), count(db, "run")) == (2, 3, 2)


def test_what_cannot_be_written_waits_and_is_then_written_once(
    journal: Journal, path: Path, db: Database
) -> None:
    holder = sqlite3.connect(path, isolation_level=None)
    holder.execute("begin immediate")
    because = Because("too-dry", {})
    for second_s in range(10):
        journal.note_reading("closet", "rail", reading(second_s), seen_uptime_s=0.0)
        journal.note_command(
            "closet", Command(RelayKind.HUMIDIFIER, True, because), now=NOW, uptime_s=second_s
        )
    journal.note_faults("closet", "rail", {"checksum": 4}, now=NOW)
    began_s = time.monotonic()
    assert not journal.flush(now=NOW)
    # The loop waits for this: a closed relay's loan runs out after three ticks of 2 s.
    assert time.monotonic() - began_s < 2.0
    assert journal.unwritten_rows == 21
    assert count(db, "reading") == 0
    holder.execute("rollback")
    holder.close()
    assert journal.flush(now=NOW)
    assert journal.flush(now=NOW)
    assert [count(db, table) for table in ("reading", "command", "sensor_fault")] == [10, 10, 1]
    assert db.execute("select times from sensor_fault").fetchall() == [(4,)]


def test_memory_is_bounded_and_the_oldest_go_first(
    path: Path, db: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(journal_module, "MOST_ROWS_IN_MEMORY", 50)
    journal = started(path)
    for second_s in range(80):
        journal.note_reading("closet", "rail", reading(second_s), seen_uptime_s=0.0)
    assert journal.unwritten_rows == 50
    journal.flush(now=NOW)
    journal.close()
    first_ms, last_ms = db.execute("select min(taken_ms), max(taken_ms) from reading").fetchone()
    assert (first_ms, last_ms) == tuple(
        int((NOW + timedelta(seconds=second_s)).timestamp() * 1000) for second_s in (30, 79)
    )


def test_noting_and_flushing_after_the_file_was_let_go_never_raises(journal: Journal) -> None:
    journal.close()
    journal.close()
    journal.note_reading("closet", "rail", reading(0), seen_uptime_s=0.0)
    assert not journal.flush(now=NOW)
    assert journal.unwritten_rows == 1


def test_a_file_that_is_no_database_is_a_store_error(tmp_path: Path) -> None:
    path = tmp_path / "hangroom.db"
    path.write_text("nothing of the kind " * 500)
    journal = Journal(path)
    with pytest.raises(StoreError, match="restore a backup"):
        journal.start(ROOMS, boot_id="b", version="1", now=NOW)
    journal.close()


WRITER = """
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from hangroom.store.journal import Journal
from hangroom.terms import AirReading

journal = Journal(Path(sys.argv[1]))
start = datetime(2026, 11, 1, tzinfo=UTC) + timedelta(days=int(sys.argv[2]))
journal.start({"closet": ["rail"]}, boot_id="b", version="1", now=start)
for number in range(10**9):
    moment = start + timedelta(milliseconds=number)
    journal.note_reading("closet", "rail", AirReading(
        taken_at=moment, taken_uptime_s=number / 1000, temperature_c=13.0, humidity_pct=76.0), seen_uptime_s=0.0)
    if number % 20 == 19:
        assert journal.flush(now=moment)
        print(number + 1, flush=True)
"""


def written_before_the_kill(path: Path, turn: int, lives_s: float) -> int:
    """Let a writer write for a moment, kill it, and return how many rows it said are stored."""
    writer = subprocess.Popen(
        [sys.executable, "-c", WRITER, path, str(turn)], stdout=subprocess.PIPE, text=True
    )
    assert writer.stdout is not None
    said = writer.stdout.readline()
    time.sleep(lives_s)
    writer.kill()
    rest, _ = writer.communicate()
    assert writer.returncode == -signal.SIGKILL
    # The last line may be cut off by the kill.
    whole = [line for line in (said + rest).splitlines(keepends=True) if line.endswith("\n")]
    return int(whole[-1])


def test_twenty_kills_of_a_writer_damage_nothing_and_lose_nothing_written(
    path: Path, db: Database
) -> None:
    random, stored = Random(1), 0
    for turn in range(20):
        told = written_before_the_kill(path, turn, random.uniform(0.0, 0.05))
        assert db.execute("pragma quick_check").fetchall() == [("ok",)]
        assert not db.execute("pragma foreign_key_check").fetchall()
        new, stored = count(db, "reading") - stored, count(db, "reading")
        # What the writer was told is stored, is; and only whole flushes of 20 are there.
        assert new >= told
        assert new % 20 == 0
    assert count(db, "run") == 20
