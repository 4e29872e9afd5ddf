"""What a killed daemon still knows of its alarms, through the real journal and its database."""

from contextlib import closing
from datetime import timedelta
from itertools import pairwise
from pathlib import Path

import pytest
from loop.alarm_house import HIGH, MOIST, SETTLED_S, ask, run, service, shown
from loop.fakes import FINE, START
from loop.killed import program

from hangroom.alarm_desk.banks import KEPT_AS
from hangroom.alarm_table.log import SERVICE, of_room
from hangroom.alarm_table.row import AlarmId
from hangroom.alarm_table.words import Condition, Event, Suppression
from hangroom.store.alarms import Logged, events_since, newest_events, newest_sequence
from hangroom.store.database import connect, prepare_database
from hangroom.store.requests import Kind, Outcome


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return prepare_database(tmp_path)


def log(path: Path) -> list[Logged]:
    with closing(connect(path)) as db:
        return events_since(db, START - timedelta(days=400))


def test_an_acknowledgement_survives_a_kill_two_seconds_later(path: Path) -> None:
    with program(path) as house:
        run(house, SETTLED_S)
        run(house, 400.0, MOIST)
        assert ask(house, Kind.ALARM_ACKNOWLEDGE, alarm=str(HIGH))[0] is Outcome.APPLIED
        since_at = shown(house)[HIGH].since_at
        house.tick(MOIST)
    with program(path, start=START + timedelta(hours=1)) as house:
        house.tick(MOIST)
        alarm = shown(house)[HIGH]
        assert (alarm.condition, alarm.acknowledged) == (Condition.ACTIVE, True)
        assert (alarm.since_at, alarm.figures["seen_pct"]) == (since_at, 82.0)
        run(house, 800.0, MOIST)
        assert shown(house)[HIGH].acknowledged  # the same occurrence is not told again


def test_a_shelf_survives_a_kill_and_ends_when_it_would_have(path: Path) -> None:
    with program(path) as house:
        run(house, SETTLED_S)
        ask(house, Kind.ALARM_SHELVE, alarm=str(HIGH), for_s=7200, why="a part is ordered")
        ends_at = house.clock.now() + timedelta(seconds=7200)
        house.tick(FINE)
    with program(path, start=START + timedelta(hours=1)) as house:
        house.tick(MOIST)
        alarm = shown(house)[HIGH]
        assert (alarm.suppression, alarm.held_by) == (Suppression.SHELVED, "keeper")
        assert alarm.held_until is not None
        assert abs(alarm.held_until - ends_at) < timedelta(milliseconds=1)


def test_numbers_go_on_rising_over_every_restart(path: Path) -> None:
    for hour in range(4):
        with program(path, start=START + timedelta(hours=hour)) as house:
            run(house, SETTLED_S)
            run(house, 400.0 + 30 * hour, MOIST)
    numbers = [line.event.sequence for line in log(path)]
    assert len(numbers) > 12
    assert all(after > before for before, after in pairwise(numbers))


def test_numbers_go_on_rising_when_what_was_kept_is_lost(path: Path) -> None:
    with program(path) as house:
        run(house, SETTLED_S)
        run(house, 400.0, MOIST)
    with closing(connect(path)) as db:
        newest = newest_sequence(db)
        db.execute("update control_memory set body = '[3]' where what = ?", (KEPT_AS,))
        db.conn.commit()
    with program(path, start=START + timedelta(hours=1)) as house:
        run(house, 800.0, MOIST)
        assert not shown(house)[HIGH].acknowledged
    later = [line.event.sequence for line in log(path)][newest:]
    assert later == list(range(newest + 1, newest + 1 + len(later)))
    assert later


def test_the_start_is_told_with_how_long_nothing_was_recorded(path: Path) -> None:
    with program(path) as house:
        run(house, 130.0)
        assert service(house) == {}  # nothing ran before
    with program(path, start=START + timedelta(minutes=10)) as house:
        run(house, 30.0)
        alarm = service(house)[AlarmId.DAEMON_RESTARTED]
    # The journal was last written 120 s after the start.
    assert alarm.figures == {"gap_s": pytest.approx(600.0 - 120.0, abs=2.0)}
    assert (alarm.condition, alarm.acknowledged) == (Condition.NORMAL, False)


def test_a_new_database_says_nothing_of_alarms(path: Path) -> None:
    with closing(connect(path)) as db:
        assert (newest_sequence(db), newest_events(db, SERVICE, most=9)) == (0, [])


def test_the_log_is_read_back_as_it_was_noted(path: Path) -> None:
    with program(path) as house:
        run(house, SETTLED_S)
        run(house, 400.0, MOIST)
        asked_at, asked_s = house.clock.now(), house.clock.uptime_s()
        ask(house, Kind.ALARM_SHELVE, alarm=str(HIGH), for_s=600, why="a part is ordered")
        house.tick(MOIST)
    with closing(connect(path)) as db:
        newest = newest_events(db, of_room("closet"), most=2)
        assert events_since(db, asked_at + timedelta(seconds=1)) == []
    shelved, told = (line.event for line in newest)
    assert (shelved.event, shelved.by) == (Event.SHELVED, "keeper")
    assert shelved.reason == "a part is ordered"
    assert (shelved.at, shelved.uptime_s) == (asked_at, asked_s)
    assert (told.event, told.alarm, told.occurrences) == (Event.ACTIVATED, HIGH, 1)
    assert told.figures == {"seen_pct": 82.0, "limit_pct": 81.0}
