"""Reading back for pictures: a spike of one sample stays, a gap stays a gap."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlite_utils import Database

from hangroom.store.history import (
    AirBetween,
    Bucket,
    Switching,
    air_between,
    air_buckets,
    last_seen_at,
    switchings,
    warmest_by_stretch,
)
from hangroom.store.journal import Journal
from hangroom.store.migrations import MIGRATIONS
from hangroom.store.moments import from_ms, to_ms
from hangroom.terms import AirReading, Because, Command, RelayKind

START = datetime(2026, 11, 1, tzinfo=UTC)
MINUTE = timedelta(minutes=1)


@pytest.fixture
def journal(path: Path) -> Iterator[Journal]:
    opened = Journal(path)
    opened.start({"closet": ["rail"], "fridge": ["shelf"]}, boot_id="b", version="1", now=START)
    yield opened
    opened.close()


@cache
def closet() -> Database:
    """The tables with one closet and its sensor, made once: making them takes longer than a test."""
    db = Database(memory=True)
    MIGRATIONS.apply(db)
    db.execute("insert into room (id, name) values (1, 'closet')")
    db.execute("insert into sensor (id, room_id, name) values (1, 1, 'rail')")
    return db


def note(journal: Journal, minute: float, humidity_pct: float, *, room: str = "closet") -> None:
    journal.note_reading(
        room,
        "rail" if room == "closet" else "shelf",
        AirReading(
            taken_at=START + minute * MINUTE,
            taken_uptime_s=minute * 60,
            temperature_c=humidity_pct / 10,
            humidity_pct=humidity_pct,
        ),
        seen_uptime_s=0.0,
    )


def buckets(db: Database, *, until: float = 60) -> list[Bucket]:
    return air_buckets(db, "closet", since=START, until=START + until * MINUTE, bucket_s=600)


def test_a_spike_of_one_sample_is_seen_in_its_bucket(journal: Journal, db: Database) -> None:
    for tenth in range(600):
        note(journal, tenth / 10, 97.5 if tenth == 321 else 76.0)
    journal.flush(now=START)
    found = buckets(db)
    assert [bucket.starts_at for bucket in found] == [START + 10 * n * MINUTE for n in range(6)]
    assert [bucket.highest_pct for bucket in found] == [76.0, 76.0, 76.0, 97.5, 76.0, 76.0]
    assert [bucket.lowest_pct for bucket in found] == [76.0] * 6
    assert found[3].highest_c == 9.75


@given(st.lists(st.tuples(st.integers(0, 3599), st.integers(40, 990)), max_size=40))
def test_the_warmest_of_each_stretch_is_what_a_walk_over_the_readings_finds(
    readings: list[tuple[int, int]],
) -> None:
    db = closet()
    db.execute("delete from reading")
    taken = dict(readings)
    for second, tenths in taken.items():
        db.execute(
            "insert into reading (sensor_id, taken_ms, uptime_ms, temperature_c, humidity_pct)"
            " values (1, ?, 0, ?, 70)",
            (to_ms(START) + second * 1000, tenths / 10),
        )
    # An hour in stretches of seven minutes: the last one is cut short where the hour ends.
    expected = [
        (first + 210.0, max(inside) / 10)
        for first in range(0, 3600, 420)
        if (
            inside := [c for second, c in taken.items() if first <= second < min(first + 420, 3600)]
        )
    ]
    found = warmest_by_stretch(db, "closet", since=START, until=START + 60 * MINUTE, stretch_s=420)
    assert found == expected
    assert warmest_by_stretch(db, "attic", since=START, until=START + MINUTE, stretch_s=60) == []


def test_the_air_of_a_time_is_that_of_its_readings_alone(journal: Journal, db: Database) -> None:
    for minute, pct in ((-1, 10.0), (0, 60.0), (20, 75.0), (40, 90.0), (60, 99.0)):
        note(journal, minute, pct)
    journal.flush(now=START)
    air = air_between(db, "closet", since=START, until=START + 60 * MINUTE)
    # By hand: 60, 75 and 90 %RH, and a tenth of each in degC.
    assert air == AirBetween(
        lowest_c=6.0, mean_c=7.5, highest_c=9.0, lowest_pct=60.0, mean_pct=75.0, highest_pct=90.0
    )
    assert air_between(db, "fridge", since=START, until=START + 60 * MINUTE) is None


def test_a_stretch_without_readings_has_no_bucket(journal: Journal, db: Database) -> None:
    note(journal, 1, 76.0)
    note(journal, 31, 75.0)
    journal.flush(now=START)
    assert [bucket.starts_at for bucket in buckets(db)] == [START, START + 30 * MINUTE]


def test_only_the_asked_room_and_time_are_read(journal: Journal, db: Database) -> None:
    for minute in (-0.01, 0, 59.99, 60):
        note(journal, minute, 70.0 + minute / 100)
    note(journal, 5, 99.0, room="fridge")
    journal.flush(now=START)
    found = buckets(db)
    assert (found[0].lowest_pct, found[-1].highest_pct) == (70.0, 70.5999)
    assert len(found) == 2


def test_switchings_are_the_changes_of_position_oldest_first(
    journal: Journal, db: Database
) -> None:
    given_ = [
        (0, RelayKind.HUMIDIFIER, False, "started"),
        (1, RelayKind.EXHAUST_FAN, False, "started"),
        (2, RelayKind.HUMIDIFIER, False, "moist-enough"),
        (3, RelayKind.HUMIDIFIER, True, "too-dry"),
        (4, RelayKind.HUMIDIFIER, True, "humidifying"),
        (5, RelayKind.HUMIDIFIER, False, "dose-given"),
        (99, RelayKind.HUMIDIFIER, True, "too-dry"),
    ]
    for minute, relay, closed, code in given_:
        journal.note_command(
            "closet",
            Command(relay, closed, Because(code)),
            now=START + minute * MINUTE,
            uptime_s=minute * 60.0,
        )
    journal.flush(now=START)
    assert switchings(db, "closet", since=START, until=START + 60 * MINUTE) == [
        Switching(at=START + minute * MINUTE, relay=relay, closed=closed)
        for minute, relay, closed in (
            (0, "humidifier", False),
            (1, "exhaust-fan", False),
            (3, "humidifier", True),
            (5, "humidifier", False),
        )
    ]
    assert switchings(db, "fridge", since=START, until=START + 60 * MINUTE) == []


def test_a_daemon_that_never_ran_was_never_seen(db: Database) -> None:
    assert last_seen_at(db) is None


@given(st.datetimes(datetime(1970, 1, 1), datetime(2200, 1, 1), timezones=st.timezones()))  # noqa: DTZ001
def test_a_moment_comes_back_to_the_nearest_millisecond(moment: datetime) -> None:
    assert abs(from_ms(to_ms(moment)) - moment.astimezone(UTC)) <= timedelta(microseconds=500)


@given(st.integers(0, to_ms(datetime(2200, 1, 1, tzinfo=UTC))))
def test_milliseconds_come_back_exactly(ms: int) -> None:
    moment = from_ms(ms)
    assert to_ms(moment) == ms
    assert moment.utcoffset() == timedelta(0)


def test_a_known_moment_has_its_known_milliseconds() -> None:
    """The billennium of Unix time, 2001-09-09T01:46:40Z, is 10**9 s by definition of the epoch."""
    assert to_ms(datetime(2001, 9, 9, 1, 46, 40, tzinfo=UTC)) == 10**12
