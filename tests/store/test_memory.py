"""What is kept for the next start: the newest body of each name, written with the minute."""

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlite_utils import Database

from hangroom.store.journal import Journal
from hangroom.store.memory import kept
from hangroom.store.replay import noted_runs, start_of
from hangroom.terms import RoomPlan, Stage

NOW = datetime(2026, 11, 1, 6, tzinfo=UTC)
# As exact as a float can be: a decision made again must come to the very same.
BODY = {"room": {"runs": [[0.1 + 0.2, 1e-17], [12345.678, 60.0]], "locked": None}, "boot_id": "b"}


@pytest.fixture
def journal(path: Path) -> Iterator[Journal]:
    opened = Journal(path)
    opened.start({"closet": ["rail"]}, boot_id="b", version="1", now=NOW)
    yield opened
    opened.close()


def test_a_body_comes_back_as_it_was_and_only_after_a_flush(journal: Journal, db: Database) -> None:
    journal.keep("room closet", BODY)
    assert kept(db, "room closet") is None
    assert journal.flush(now=NOW)
    assert kept(db, "room closet") == BODY


def test_the_newest_body_of_a_name_is_the_only_one(journal: Journal, db: Database) -> None:
    for number in range(3):
        journal.keep("room closet", {"number": number})
        journal.keep("alarms", {"number": -number})
        assert journal.flush(now=NOW)
    journal.keep("alarms", {"number": 10})
    journal.keep("alarms", {"number": 11})
    assert journal.flush(now=NOW)
    assert (kept(db, "room closet"), kept(db, "alarms")) == ({"number": 2}, {"number": 11})
    assert db.execute("select count(*) from control_memory").fetchone() == (2,)


def test_a_minute_without_a_change_leaves_the_memory_alone(journal: Journal, db: Database) -> None:
    journal.keep("alarms", BODY)
    journal.flush(now=NOW)
    db.execute("update control_memory set body = '{}'")
    db.conn.commit()
    assert journal.flush(now=NOW)
    assert kept(db, "alarms") == {}


def test_what_a_room_was_started_with_can_be_told_of_each_run(path: Path, db: Database) -> None:
    plan = RoomPlan(name="closet", stage=Stage.HANG, humidity=None, temperature=None, relays={})
    for number, given in enumerate((None, BODY, "damaged")):
        journal = Journal(path)
        journal.start({"closet": ["rail"]}, boot_id="b", version="1", now=NOW)
        journal.begin_ticks(start_uptime_s=10.0 * number, tick_s=2.0)
        if given is not None:
            journal.note_start("closet", given, gap_s=61.234)
        journal.note_plan("closet", plan, uptime_s=10.0 * number)
        assert journal.flush(now=NOW)
        journal.close()
    started = [start_of(db, run, "closet") for run in noted_runs(db)]
    assert started == [None, (BODY, 61.234), ("damaged", 61.234)]
