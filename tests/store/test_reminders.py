"""Reminders as stored: one for each look, one open of a batch in a room; and an older database."""

import sqlite3
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from sqlite_utils import Database

from hangroom.store.batches import NewGroup, add_batch
from hangroom.store.clock_seen import seen_until
from hangroom.store.database import connect, prepare_database
from hangroom.store.journal import Journal
from hangroom.store.migrations import MIGRATIONS
from hangroom.store.reminders import (
    Ended,
    Reminder,
    ask_again,
    end,
    latest_reminders,
    open_reminders,
    remind,
    snooze,
)
from hangroom.store.summaries import Summary, keep_summary, newest_summary

HUNG_AT = datetime(2026, 11, 1, 10, tzinfo=UTC)
DUE_AT = datetime(2026, 11, 2, 8, tzinfo=UTC)
HOUR = timedelta(hours=1)
DAY = timedelta(days=1)


def reminder(number: int = 1, day: int = 2, **other: object) -> Reminder:
    due_at = DUE_AT + (day - 2) * DAY
    made = Reminder(
        batch_number=number,
        room="closet",
        due_date=date(2026, 11, day),
        due_clock="08:00",
        due_at=due_at,
        since_at=due_at,
        asked_at=due_at + HOUR,
        times_asked=1,
        title="Inspect batch 1, Closet: 3 sticks",
        text="Due since 08:00 today.",
    )
    return replace(made, **other)  # type: ignore[arg-type]  # a test names what a reminder has


@pytest.fixture
def batch(db: Database) -> int:
    return hang(db)


def hang(db: Database) -> int:
    group = NewGroup(
        letter="A", finish="supple", target_yield_pct=72, sticks=12, tagged=[], room="closet",
        hung_at=HUNG_AT,
    )  # fmt: skip
    return add_batch(db, name="juniper", started_at=HUNG_AT, groups=[group])


def test_a_reminder_comes_back_as_it_was_stored(db: Database, batch: int) -> None:
    assert remind(db, reminder(batch))
    assert open_reminders(db) == [reminder(batch)]
    assert latest_reminders(db) == [reminder(batch)]


@pytest.mark.usefixtures("batch")
def test_a_look_is_reminded_of_once_each_time_of_the_day_for_itself(db: Database) -> None:
    noon = reminder(due_clock="12:00", due_at=DUE_AT + 4 * HOUR)
    stored = [reminder(), reminder(), noon, reminder(day=3), reminder()]
    assert [remind(db, one) for one in stored] == [True, False, True, True, False]
    assert open_reminders(db) == [reminder(day=3)]


@pytest.mark.usefixtures("batch")
def test_of_a_batch_in_a_room_one_is_open_in_another_room_another(db: Database) -> None:
    for one in (reminder(), reminder(room="fridge"), reminder(day=3)):
        assert remind(db, one)
    assert open_reminders(db) == [reminder(room="fridge"), reminder(day=3)]
    ended = db.execute("select due_date, ended_why from reminder where ended_ms is not null")
    assert ended.fetchall() == [("2026-11-02", "missed")]


def test_a_batch_that_is_not_there_cannot_be_reminded_of(db: Database) -> None:
    assert not remind(db, reminder(7))
    assert latest_reminders(db) == []


@pytest.mark.usefixtures("batch")
def test_asking_again_changes_when_how_often_and_the_words(db: Database) -> None:
    remind(db, reminder())
    snooze(db, until=DUE_AT + 5 * HOUR, by="Ada")
    again = reminder(
        asked_at=DUE_AT + 5 * HOUR, times_asked=2, title="Still to inspect", text="Due since Mon."
    )
    ask_again(db, again)
    assert open_reminders(db) == [again]  # and put off no more


def test_putting_off_is_of_all_that_is_open_or_of_one_batch(db: Database, batch: int) -> None:
    other = hang(db)
    remind(db, reminder(batch))
    remind(db, reminder(other))
    until = DUE_AT + 3 * HOUR
    assert snooze(db, until=until, by="Ada", batch_number=other) == 1
    assert [one.snoozed_until for one in open_reminders(db)] == [None, until]
    assert snooze(db, until=until + HOUR, by="Ada") == 2
    assert [one.snoozed_until for one in open_reminders(db)] == [until + HOUR] * 2


@pytest.mark.usefixtures("batch")
def test_what_is_over_is_open_no_more_and_says_when_it_was_done(db: Database) -> None:
    remind(db, reminder())
    end(db, reminder(), Ended.DONE, now=DUE_AT + 2 * HOUR)
    assert open_reminders(db) == []
    assert [one.done_at for one in latest_reminders(db)] == [DUE_AT + 2 * HOUR]
    assert snooze(db, until=DUE_AT + 3 * HOUR, by="Ada") == 0


@pytest.mark.usefixtures("batch")
def test_what_was_pulled_is_not_called_done(db: Database) -> None:
    remind(db, reminder())
    end(db, reminder(), Ended.GONE, now=DUE_AT + 2 * HOUR)
    assert [one.done_at for one in latest_reminders(db)] == [None]


def test_reminders_of_an_older_program_are_kept_and_over(tmp_path: Path) -> None:
    """The step before this table's change is done, a row is written as that program did, then on."""
    path = tmp_path / "hangroom.db"
    db = connect(path)
    MIGRATIONS.apply(db, stop_before="m130_reminders_by_room_and_time")
    number = hang(db)
    db.execute(
        "insert into reminder (batch_id, due_date, due_ms, made_ms)"
        " select id, '2026-10-31', 1, 2 from batch where number = ?",
        (number,),
    )
    db.conn.commit()
    db.close()
    assert prepare_database(tmp_path) == path
    db = connect(path)
    assert open_reminders(db) == []
    assert [one.due_date for one in latest_reminders(db)] == [date(2026, 10, 31)]
    assert remind(db, reminder(number))
    db.close()


def test_a_day_has_one_summary_and_the_newest_is_shown(db: Database) -> None:
    first = Summary(day=date(2026, 11, 2), made_at=DUE_AT, title="Mon 2 Nov", text="a\nb")
    assert newest_summary(db) is None
    assert keep_summary(db, first)
    assert not keep_summary(db, replace(first, text="otherwise"))
    second = replace(first, day=date(2026, 11, 3), title="Tue 3 Nov")
    assert keep_summary(db, second)
    assert newest_summary(db) == second


def run(path: Path, started_at: datetime, *, ended_at: datetime | None = None) -> None:
    journal = Journal(path)
    journal.start({"closet": ["rail"]}, boot_id="b", version="0", now=started_at)
    if ended_at is not None:
        journal.flush(now=ended_at, ended="stopped")
    journal.close()


def test_until_when_an_earlier_program_lived_is_known_to_lie_behind(
    tmp_path: Path,
) -> None:
    path = prepare_database(tmp_path)
    db = connect(path)
    assert seen_until(db, now=DUE_AT) == []
    run(path, DUE_AT - 9 * DAY, ended_at=DUE_AT)
    assert seen_until(db, now=DUE_AT - 9 * DAY) == []  # its own life tells it nothing
    run(path, DUE_AT - 2 * DAY)
    assert seen_until(db, now=DUE_AT - 2 * DAY) == [DUE_AT]
    # After a day nobody has put the clock right: then it was the earlier one that ran ahead.
    assert seen_until(db, now=DUE_AT - DAY) == []
    db.close()


@pytest.mark.usefixtures("batch")
def test_two_reminders_of_one_look_are_refused_by_the_table_itself(db: Database) -> None:
    remind(db, reminder())
    with pytest.raises(sqlite3.IntegrityError):
        db.execute(
            "insert into reminder (batch_id, room, due_date, due_clock, due_ms, since_ms, made_ms,"
            " asked_ms, times_asked, title, text) select batch_id, room, due_date, due_clock,"
            " due_ms, since_ms, made_ms, asked_ms, 1, '', '' from reminder"
        )
