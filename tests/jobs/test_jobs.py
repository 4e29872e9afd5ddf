"""The daily look and the scheduler that asks for it, across gaps and clock changes."""

import sqlite3
import time as machine
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, date, datetime, time, timedelta
from itertools import count
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from apscheduler.schedulers.background import BackgroundScheduler
from apscheduler.triggers.cron import CronTrigger

from hangroom.control.alarms.batch_conditions import HangingBatch, HangingGroup
from hangroom.jobs import LATE_BY_AT_MOST_S, Jobs, Looking, daily_look, hanging, tidy
from hangroom.product.daily_look import latest_due
from hangroom.store.batches import NewGroup, NewStick, add_batch, batches, pull_group
from hangroom.store.database import connect, prepare_database
from hangroom.store.record.entries import add_entry
from hangroom.store.record.looks import Look
from hangroom.store.weigh_ins import NewWeighIn, add_weigh_in

AT = time(8, 0)
BERLIN = ZoneInfo("Europe/Berlin")
# The scheduler itself goes by the machine's clock, so that its tests have to as well.
STARTED_AT = datetime.now(UTC)
LAST_DUE = latest_due(STARTED_AT, at=[AT], zone=BERLIN).day.isoformat()
HUNG_AT = datetime(2026, 1, 2, 9, 0, tzinfo=UTC)
KEYS = count()
JOBS = {"daily look", "morning summary", "what hangs", "forecasts", "tidy", "roll-ups"}


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return prepare_database(tmp_path)


def hang(path: Path, *, tag: str = "A1", hung_at: datetime = HUNG_AT) -> int:
    """Hang an invented batch of one group with one tagged stick; return its number."""
    db = connect(path)
    number = add_batch(
        db,
        name="Pork and venison",
        started_at=hung_at,
        groups=[
            NewGroup(
                letter="A",
                finish="supple",
                target_yield_pct=76,
                sticks=14,
                tagged=[NewStick(tag=tag, green_weight_g=88.0)],
                room="closet",
                hung_at=hung_at,
            )
        ],
    )
    db.close()
    return number


def weigh(path: Path, at: datetime, *, tag: str = "A1") -> None:
    db = connect(path)
    assert add_weigh_in(db, NewWeighIn(key=str(next(KEYS)), tag=tag, taken_at=at, weight_g=77.0))
    db.close()


def look(
    path: Path,
    now: datetime,
    *,
    at: time = AT,
    zone: ZoneInfo = BERLIN,
    again_after: timedelta = timedelta(days=30),
) -> list[int]:
    """Return the numbers of the batches asked for; once more for a look only where a test says."""
    looking = Looking(at=(at,), zone=zone, ask_again_after=again_after)
    return [one.batch_number for one in daily_look(path, looking, now=now)]


def due_dates(path: Path) -> list[str]:
    db = connect(path)
    dates = [row[0] for row in db.execute("select due_date from reminder order by due_date")]
    db.close()
    return dates


def berlin(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2026, 1, day, hour, minute, tzinfo=BERLIN)


def test_a_batch_that_hangs_is_reminded_of_once_a_day(path: Path) -> None:
    number = hang(path)
    assert look(path, berlin(3, 8)) == [number]
    assert look(path, berlin(3, 8)) == []
    assert look(path, berlin(3, 23)) == []
    assert look(path, berlin(4, 7, 59)) == []
    assert look(path, berlin(4, 8)) == [number]
    assert due_dates(path) == ["2026-01-03", "2026-01-04"]


def test_every_batch_has_a_reminder_of_its_own(path: Path) -> None:
    numbers = {hang(path, tag="A1"), hang(path, tag="B1")}
    weigh(path, berlin(3, 8, 30), tag="B1")
    assert look(path, berlin(3, 9)) == [1]
    assert set(look(path, berlin(4, 9))) == numbers


def test_nothing_is_asked_while_nothing_hangs(path: Path) -> None:
    assert look(path, berlin(3, 8)) == []
    hang(path)
    db = connect(path)
    pull_group(db, batches(db)[0].groups[0].number, now=berlin(2, 20))
    db.close()
    assert look(path, berlin(3, 8)) == []


def test_a_batch_hung_after_today_s_look_is_not_asked_for_until_tomorrow(path: Path) -> None:
    number = hang(path, hung_at=berlin(3, 9))
    assert look(path, berlin(3, 20)) == []
    assert look(path, berlin(4, 8)) == [number]


def test_nothing_is_asked_where_the_entries_are_already_in(path: Path) -> None:
    hang(path)
    weigh(path, berlin(3, 8, 20))
    assert look(path, berlin(3, 9)) == []
    assert due_dates(path) == []


def test_after_three_days_off_exactly_one_look_is_asked_for(path: Path) -> None:
    number = hang(path)
    assert look(path, berlin(3, 8)) == [number]
    assert look(path, berlin(6, 11)) == [number]
    assert due_dates(path) == ["2026-01-03", "2026-01-06"]


def test_a_clock_that_was_wrong_by_an_hour_asks_for_no_day_twice(path: Path) -> None:
    number = hang(path)
    assert look(path, berlin(3, 8, 30)) == [number]
    assert look(path, berlin(3, 7, 30)) == []
    assert look(path, berlin(3, 8, 0)) == []


# Nights in which clocks are changed in 2026, from the IANA time zone database.
CHANGES = [
    ("Europe/Berlin", date(2026, 3, 29)),
    ("Europe/Berlin", date(2026, 10, 25)),
    ("America/New_York", date(2026, 3, 8)),
    ("America/New_York", date(2026, 11, 1)),
    ("Australia/Sydney", date(2026, 4, 5)),
    ("Australia/Sydney", date(2026, 10, 4)),
]


def scheduler_of(jobs: Jobs) -> BackgroundScheduler:
    # Looks inside on purpose: what a job promises is known to the scheduler alone.
    assert jobs._scheduler is not None
    return jobs._scheduler


@pytest.fixture
def handed_over() -> list[Sequence[HangingBatch]]:
    """What the scheduler's threads told the alarms of."""
    return []


@pytest.fixture
def new_jobs(
    path: Path, handed_over: list[Sequence[HangingBatch]]
) -> Iterator[Callable[..., Jobs]]:
    made = []

    def make(*, at: time = AT, zone: ZoneInfo = BERLIN, look_every_min: int = 5) -> Jobs:
        jobs = Jobs(
            path,
            looking=Looking(at=(at,), zone=zone),
            now=lambda: STARTED_AT,
            hangs=handed_over.append,
            look_every_min=look_every_min,
        )
        made.append(jobs)
        return jobs

    yield make
    for jobs in made:
        jobs.stop()


def wait_for(done: Callable[[], bool]) -> None:
    until_s = machine.monotonic() + 10.0
    while not done():
        assert machine.monotonic() < until_s, "the scheduler did not come to it"
        machine.sleep(0.01)


def firings(trigger: CronTrigger, zone: ZoneInfo, first: date, last: date) -> Iterator[datetime]:
    """Yield the moments (UTC) at which the scheduler calls for the look, some ms late as it is."""
    now = datetime.combine(first, time(0, 0), tzinfo=zone).astimezone(UTC)
    before = None
    while True:
        before = trigger.get_next_fire_time(before, now.astimezone(zone))
        now = max(now, before.astimezone(UTC)) + timedelta(milliseconds=5)
        if now.astimezone(zone).date() > last:
            return
        yield now


@pytest.mark.parametrize("at", [time(8, 0), time(0, 0), time(0, 30), time(2, 0), time(2, 30)])
@pytest.mark.parametrize(("name", "day"), CHANGES)
def test_no_clock_change_skips_a_day_s_look_or_asks_for_it_twice(
    path: Path, new_jobs: Callable[..., Jobs], name: str, day: date, at: time
) -> None:
    zone = ZoneInfo(name)
    jobs = new_jobs(at=at, zone=zone, look_every_min=60)
    jobs.start()
    trigger = scheduler_of(jobs).get_job("daily look").trigger
    jobs.stop()  # before anything hangs of which it could remind by today's date
    hung_at = datetime.combine(day - timedelta(days=2), time(12, 0), tzinfo=zone)
    hang(path, hung_at=hung_at)
    asked_on = [
        now.astimezone(zone).date()
        for now in firings(trigger, zone, day - timedelta(days=1), day + timedelta(days=2))
        if look(path, now, at=at, zone=zone)
    ]
    assert asked_on == [day + timedelta(days=off) for off in (-1, 0, 1, 2)]
    assert due_dates(path) == [due.isoformat() for due in asked_on]


def test_every_job_names_its_zone_its_grace_and_its_limits(
    path: Path, new_jobs: Callable[..., Jobs]
) -> None:
    hang(path, hung_at=STARTED_AT - timedelta(days=3))
    jobs = new_jobs()
    jobs.start()
    wait_for(lambda: due_dates(path) == [LAST_DUE])
    planned = {job.id: job for job in scheduler_of(jobs).get_jobs()}
    assert set(planned) == JOBS
    for job in planned.values():
        assert job.misfire_grace_time == LATE_BY_AT_MOST_S
        assert job.coalesce is True
        # The look whether a forecast is due leaves at once where one is being made.
        assert job.max_instances == (2 if job.id == "forecasts" else 1)
        assert str(job.trigger.timezone) == "Europe/Berlin"
        assert str(job.next_run_time.tzinfo) == "Europe/Berlin"
    assert planned["daily look"].next_run_time.minute % 5 == 0
    assert planned["tidy"].next_run_time.time() == time(4, 30)


def test_a_look_that_came_due_while_nothing_ran_is_caught_up_on_at_the_start(
    path: Path, new_jobs: Callable[..., Jobs]
) -> None:
    hang(path, hung_at=STARTED_AT - timedelta(days=3))
    new_jobs().start()
    wait_for(lambda: due_dates(path) == [LAST_DUE])


def test_rebuilding_plans_anew_and_asks_for_nothing_twice(
    path: Path, new_jobs: Callable[..., Jobs]
) -> None:
    hang(path, hung_at=STARTED_AT - timedelta(days=3))
    jobs = new_jobs()
    jobs.start()
    before = scheduler_of(jobs)
    wait_for(lambda: len(due_dates(path)) == 1)
    jobs.rebuild()
    assert not before.running
    after = scheduler_of(jobs)
    assert after.running
    assert {job.id for job in after.get_jobs()} == JOBS
    assert due_dates(path) == [LAST_DUE]


def test_a_locked_database_neither_holds_up_a_rebuild_nor_fails_it(
    path: Path, new_jobs: Callable[..., Jobs]
) -> None:
    # The loop calls this between two ticks, with relays on a loan of three.
    hang(path, hung_at=STARTED_AT - timedelta(days=3))
    jobs = new_jobs()
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("begin immediate")
    began_s = machine.monotonic()
    jobs.start()
    jobs.rebuild()
    assert machine.monotonic() - began_s < 2.0  # the loop's tick; the database's patience is 5 s
    other.execute("rollback")
    other.close()
    wait_for(lambda: due_dates(path) == [LAST_DUE])


def test_stopping_twice_is_harmless_and_so_is_stopping_before_the_start(
    new_jobs: Callable[..., Jobs],
) -> None:
    jobs = new_jobs()
    jobs.stop()
    jobs.start()
    running = scheduler_of(jobs)
    jobs.stop()
    jobs.stop()
    assert not running.running


def test_tidying_folds_the_log_back_into_the_database(path: Path) -> None:
    db = connect(path)
    db.execute("create table filler (text)")
    db.execute("insert into filler values (?)", ("x" * 100_000,))
    db.conn.commit()
    log = path.with_name(path.name + "-wal")
    assert log.stat().st_size > 0
    tidy(path)
    assert log.stat().st_size == 0
    db.close()


def test_what_hangs_is_told_with_how_long_nobody_looked(path: Path) -> None:
    number = hang(path)
    [batch] = hanging(path, now=HUNG_AT + timedelta(hours=27))
    assert (batch.number, batch.unseen_s) == (number, 27 * 3600.0)
    assert batch.groups == (HangingGroup(letter="A", yield_pct=None, target_yield_pct=76.0),)
    weigh(path, HUNG_AT + timedelta(hours=20))
    [batch] = hanging(path, now=HUNG_AT + timedelta(hours=27))
    assert batch.unseen_s == 7 * 3600.0
    # 77 g of 88 g when it was green.
    assert batch.groups[0].yield_pct == pytest.approx(87.5)


def test_what_a_clock_a_month_ahead_noted_is_no_look_of_the_days_to_come(path: Path) -> None:
    number = hang(path)
    weigh(path, HUNG_AT + timedelta(days=31))
    db = connect(path)
    ahead = HUNG_AT + timedelta(days=30)
    look_ = Look(
        key="ahead", entered_at=ahead, entered_by="keeper", group="A", taken_at=ahead, squeeze=3
    )
    assert add_entry(db, number, look_)
    db.close()
    [batch] = hanging(path, now=HUNG_AT + timedelta(hours=27))
    assert batch.unseen_s == 27 * 3600.0


def test_a_look_without_a_scale_is_a_look(path: Path) -> None:
    number = hang(path)
    db = connect(path)
    looked_at = HUNG_AT + timedelta(hours=24)
    look_ = Look(
        key="look",
        entered_at=looked_at,
        entered_by="keeper",
        group="A",
        taken_at=looked_at,
        squeeze=3,
    )
    assert add_entry(db, number, look_)
    db.close()
    [batch] = hanging(path, now=HUNG_AT + timedelta(hours=27))
    assert batch.unseen_s == 3 * 3600.0


def test_a_group_s_yield_is_the_mean_of_its_sticks_at_the_newest_look(path: Path) -> None:
    db = connect(path)
    add_batch(
        db,
        name="Pork and venison",
        started_at=HUNG_AT,
        groups=[
            NewGroup(
                letter="B",
                finish="dry",
                target_yield_pct=62,
                sticks=3,
                tagged=[NewStick(tag=tag, green_weight_g=100.0) for tag in ("B1", "B2", "B3")],
                room="closet",
                hung_at=HUNG_AT,
            )
        ],
    )
    for tag, days, weight_g in (
        ("B1", 1, 90.0), ("B2", 1, 90.0), ("B3", 1, 90.0), ("B1", 2, 80.0), ("B2", 2.1, 70.0),
    ):  # fmt: skip
        taken_at = HUNG_AT + timedelta(days=days)
        entry = NewWeighIn(key=f"{tag} {days}", tag=tag, taken_at=taken_at, weight_g=weight_g)
        assert add_weigh_in(db, entry)
    db.close()
    [batch] = hanging(path, now=HUNG_AT + timedelta(days=3))
    assert batch.groups[0].yield_pct == pytest.approx(75.0)  # B3 was left out the second day


def test_what_was_pulled_does_not_hang(path: Path) -> None:
    db = connect(path)
    add_batch(
        db,
        name="Pork and venison",
        started_at=HUNG_AT,
        groups=[
            NewGroup(
                letter=letter,
                finish="dry",
                target_yield_pct=62,
                sticks=3,
                tagged=[],
                room="closet",
                hung_at=HUNG_AT,
            )
            for letter in "AB"
        ],
    )
    group_a, group_b = batches(db)[0].groups
    pull_group(db, group_a.number, now=HUNG_AT + timedelta(days=1))
    [batch] = hanging(path, now=HUNG_AT + timedelta(days=2))
    assert [group.letter for group in batch.groups] == ["B"]
    pull_group(db, group_b.number, now=HUNG_AT + timedelta(days=1))
    assert hanging(path, now=HUNG_AT + timedelta(days=2)) == ()
    db.close()


def test_the_alarms_are_told_what_hangs_at_the_start_and_every_ten_minutes(
    path: Path,
    new_jobs: Callable[..., Jobs],
    handed_over: list[Sequence[HangingBatch]],
) -> None:
    number = hang(path, hung_at=STARTED_AT - timedelta(days=3))
    jobs = new_jobs()
    jobs.start()
    wait_for(lambda: bool(handed_over))
    assert [batch.number for batch in handed_over[0]] == [number]
    trigger = scheduler_of(jobs).get_job("what hangs").trigger
    first = trigger.get_next_fire_time(None, datetime(2026, 1, 3, 8, 1, tzinfo=BERLIN))
    assert trigger.get_next_fire_time(first, first) - first == timedelta(minutes=10)
