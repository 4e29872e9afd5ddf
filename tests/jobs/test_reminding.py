"""Reminders and summaries out of a real database: what is asked, in which words, and when not."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from jobs.fake_time import FakeHouse, FakeTime, read_the_clock
from planning.made_forecast import made_forecast

from hangroom.alarm_table.log import SERVICE, AlarmEvent, of_room
from hangroom.alarm_table.row import AlarmId
from hangroom.alarm_table.words import Event, Suppression, Tell
from hangroom.jobs import Jobs, Looking, daily_look, morning_summary
from hangroom.jobs.looking import RoomLooked
from hangroom.product.forecast import StickNow
from hangroom.store.batches import NewGroup, NewStick, add_batch, batches, pull_group
from hangroom.store.database import connect, prepare_database
from hangroom.store.forecasts import Cause, KeptForecast, keep_forecast
from hangroom.store.hanging import move_group
from hangroom.store.journal import Journal
from hangroom.store.record.entries import add_entry
from hangroom.store.record.looks import Look
from hangroom.store.record.skips import SkipReason, skip_key
from hangroom.store.reminders import Reminder, latest_reminders, open_reminders, snooze
from hangroom.store.summaries import newest_summary
from hangroom.store.weigh_ins import NewWeighIn, add_weigh_in
from hangroom.terms import AirReading, HumidityTarget, RoomPlan, Stage

BERLIN = ZoneInfo("Europe/Berlin")
HOUR = timedelta(hours=1)
LOOKING = Looking(
    at=(time(8),),
    zone=BERLIN,
    rooms={
        "closet": RoomLooked(title="Closet", has_tank=True, sensors=("rail",)),
        "fridge": RoomLooked(title="Fridge", sensors=("shelf",)),
    },
)


def berlin(day: int, hour: int, minute: int = 0) -> datetime:
    """Return a moment of January 2026, winter time all along, in UTC."""
    return datetime(2026, 1, day, hour, minute, tzinfo=BERLIN).astimezone(UTC)


HUNG_AT = berlin(2, 9)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return prepare_database(tmp_path)


def hang(
    path: Path, *tags: str, room: str = "closet", letter: str = "A", at: datetime = HUNG_AT
) -> int:
    """Hang an invented batch of one group; return its number."""
    db = connect(path)
    number = add_batch(
        db,
        name="pork and venison, juniper",
        started_at=at,
        groups=[
            NewGroup(
                letter=letter, finish="supple", target_yield_pct=72, sticks=14,
                tagged=[NewStick(tag=tag, green_weight_g=100.0) for tag in tags],
                room=room, hung_at=at,
            )
        ],
    )  # fmt: skip
    db.close()
    return number


def weigh(path: Path, at: datetime, *tags: str) -> None:
    db = connect(path)
    for tag in tags:
        assert add_weigh_in(db, NewWeighIn(key=f"{tag} {at}", tag=tag, taken_at=at, weight_g=77.0))
    db.close()


def look(path: Path, now: datetime, looking: Looking = LOOKING) -> list[Reminder]:
    return daily_look(path, looking, now=now)


def waiting(path: Path) -> list[Reminder]:
    db = connect(path)
    found = open_reminders(db)
    db.close()
    return found


def test_a_weight_at_half_past_seven_counts_for_the_look_of_eight(path: Path) -> None:
    hang(path, "A1")
    weigh(path, berlin(3, 7, 30), "A1")
    assert look(path, berlin(3, 8)) == []
    assert [one.due_date.day for one in look(path, berlin(4, 8))] == [4]


def test_a_weight_at_four_in_the_night_does_not(path: Path) -> None:
    hang(path, "A1")
    weigh(path, berlin(3, 4), "A1")
    assert len(look(path, berlin(3, 8))) == 1


def test_only_what_is_left_is_asked_for_and_it_is_done_when_all_is_in(path: Path) -> None:
    hang(path, "A1", "A2", "A3")
    weigh(path, berlin(3, 7, 50), "A1")
    [asked] = look(path, berlin(3, 8))
    assert asked.title == "Inspect batch 1, Closet: 2 sticks"
    assert "A2, A3." in asked.text
    weigh(path, berlin(3, 8, 20), "A2")
    assert look(path, berlin(3, 8, 25)) == []
    assert len(waiting(path)) == 1
    weigh(path, berlin(3, 8, 30), "A3")
    look(path, berlin(3, 8, 35))
    assert waiting(path) == []
    db = connect(path)
    assert [one.done_at for one in latest_reminders(db)] == [berlin(3, 8, 35)]
    db.close()


def test_a_group_without_a_tag_is_done_when_somebody_looked(path: Path) -> None:
    number = hang(path)
    [asked] = look(path, berlin(3, 8))
    assert asked.title == "Inspect batch 1, Closet: look at it"
    db = connect(path)
    entry = Look(
        key="l", entered_at=berlin(3, 9), entered_by="Ada", group="A", taken_at=berlin(3, 9),
        surface=frozenset(),
    )  # fmt: skip
    assert add_entry(db, number, entry)
    db.close()
    assert look(path, berlin(3, 9, 5)) == []
    assert waiting(path) == []


def test_what_was_moved_to_another_room_was_in_hands_and_is_asked_for_there_tomorrow(
    path: Path,
) -> None:
    hang(path, "A1")
    look(path, berlin(3, 8))
    db = connect(path)
    move_group(
        db, batches(db)[0].groups[0].number, room="fridge", at=berlin(3, 9), key="m", by="Ada",
        now=berlin(3, 9),
    )  # fmt: skip
    db.close()
    assert look(path, berlin(3, 10)) == []
    assert waiting(path) == []
    assert [one.room for one in look(path, berlin(4, 8))] == ["fridge"]


def test_what_was_pulled_is_asked_for_no_more(path: Path) -> None:
    hang(path, "A1")
    look(path, berlin(3, 8))
    db = connect(path)
    pull_group(db, batches(db)[0].groups[0].number, now=berlin(3, 9))
    db.close()
    assert look(path, berlin(3, 9, 30)) == []
    assert waiting(path) == []


def test_several_times_a_day_each_ask_for_themselves(path: Path) -> None:
    hang(path, "A1")
    twice = replace(LOOKING, at=(time(8), time(20)))
    assert len(look(path, berlin(3, 8), twice)) == 1
    weigh(path, berlin(3, 8, 20), "A1")
    assert look(path, berlin(3, 8, 30), twice) == []
    assert [one.due_clock for one in look(path, berlin(3, 20), twice)] == ["20:00"]


def test_what_a_room_asks_for_besides_is_said_once(path: Path) -> None:
    hang(path, "A1")
    hang(path, "B1", letter="B")
    hang(path, "C1", letter="C", room="fridge")
    first, second, third = look(path, berlin(3, 8))
    assert "tank level" in first.text
    assert "sensor rail was never checked" in first.text
    assert "tank level" not in second.text
    assert "Salt check" not in second.text
    assert "tank level" not in third.text  # it has no humidifier
    assert "sensor shelf" in third.text


def test_the_expected_weights_and_what_is_near_come_from_the_stored_forecast(path: Path) -> None:
    """Made at seven from 76.0 %; an hour on 0.2 % less, so 75.8 g of 100 g, and 1.2816 * 0.707."""
    hang(path, "A1")
    db = connect(path)
    forecast = made_forecast(
        now_h=22.0, p10_h=40.0,
        curve=tuple(replace(p, at_h=p.at_h - 26.0) for p in made_forecast().curve),
        sticks=(StickNow(tag="A1", yield_ratio=0.76, yield_sd_ratio=0.005),),
    )  # fmt: skip
    kept = KeptForecast(
        made_at=berlin(3, 7), cause=Cause.HOURLY, hung_at=HUNG_AT, room="closet", recipe="juniper",
        diameter_mm=20.0, plan=(), before=None, weighings=1, forecast=forecast,
    )  # fmt: skip
    keep_forecast(db, batches(db)[0].groups[0].number, kept)
    db.close()
    [asked] = look(path, berlin(3, 8))
    assert "A1 (expect 74.9 to 76.7 g)" in asked.text
    # 10 of 100 are there after 40 h: at one in the night, before the next look.
    assert "A, supple, is near its target: yield 75.8 ± 0.6 %" in asked.text


def test_a_forecast_that_has_grown_old_expects_nothing(path: Path) -> None:
    test_the_expected_weights_and_what_is_near_come_from_the_stored_forecast(path)
    db = connect(path)
    db.execute("delete from reminder")
    db.conn.commit()
    db.close()
    [asked] = look(path, berlin(3, 10, 30))
    assert "expect" not in asked.text
    assert "near its target" not in asked.text


def test_a_clock_that_is_behind_what_an_earlier_program_noted_asks_nobody(path: Path) -> None:
    hang(path, "A1")
    journal = Journal(path)
    for at in (berlin(9, 12), berlin(4, 7)):  # the second boot's clock lost five days
        journal.start({"closet": ["rail"]}, boot_id="b", version="0", now=at)
        journal.flush(now=at)
    assert look(path, berlin(4, 8)) == []
    assert morning_summary(path, LOOKING, now=berlin(4, 8)) is None
    assert len(look(path, berlin(9, 12, 30))) == 1  # put right
    journal.close()


def test_a_clock_that_was_a_month_ahead_leaves_no_look_unasked(path: Path) -> None:
    hang(path, "A1")
    [ahead] = look(path, berlin(3, 9) + timedelta(days=31))
    morning_summary(path, LOOKING, now=berlin(3, 9) + timedelta(days=31))
    assert [one.due_date.day for one in look(path, berlin(3, 9))] == [3]  # put right
    assert [one.due_at for one in waiting(path)] == [berlin(3, 8)]
    made = morning_summary(path, LOOKING, now=berlin(3, 9))
    db = connect(path)
    assert made is not None
    assert newest_summary(db) == made
    db.close()
    weigh(path, berlin(3, 9, 10), "A1")
    assert [one.due_date for one in look(path, ahead.due_at)] == [ahead.due_date]


def test_what_was_hung_by_a_clock_a_month_ahead_is_not_left_alone_for_a_month(
    path: Path,
) -> None:
    hang(path, "A1", at=HUNG_AT + timedelta(days=31))
    assert [len(look(path, berlin(day, 8))) for day in (3, 4, 5)] == [1, 1, 1]  # put right
    weigh(path, berlin(5, 9), "A1")
    assert look(path, berlin(5, 9, 5)) == []
    assert waiting(path) == []


@pytest.mark.parametrize("tags", [("A1",), ()])
def test_a_look_noted_by_a_clock_a_month_ahead_answers_none_to_come(
    path: Path, tags: tuple[str, ...]
) -> None:
    number = hang(path, *tags)
    ahead = berlin(3, 9) + timedelta(days=31)
    db = connect(path)
    key = skip_key("A1", SkipReason.FELL, sent="s") if tags else "l"
    noted = Look(
        key=key, entered_at=ahead, entered_by="Ada", group="A", taken_at=ahead, surface=frozenset()
    )
    assert add_entry(db, number, noted)
    db.close()
    assert [one.due_date.day for one in look(path, berlin(4, 8))] == [4]  # put right


def test_a_clock_that_is_set_back_by_an_hour_asks_for_no_look_twice(path: Path) -> None:
    hang(path, "A1")
    assert len(look(path, berlin(3, 8, 10))) == 1
    assert look(path, berlin(3, 7, 10)) == []
    assert look(path, berlin(3, 8)) == []
    assert [one.times_asked for one in waiting(path)] == [1]


# Through the scheduler: what is missed, put off, and answered late.


@pytest.fixture
def now(monkeypatch: pytest.MonkeyPatch) -> FakeTime:
    now = FakeTime(HUNG_AT)
    read_the_clock(now, monkeypatch)
    return now


def asked_on(path: Path, now: FakeTime, until: datetime) -> list[datetime]:
    """Let the daemon's jobs run until then; return when somebody was asked, by local time."""
    house = FakeHouse(now, without=("forecasts", "what hangs", "morning summary"))
    jobs = Jobs(
        path, looking=LOOKING, now=now.wall, hangs=lambda _: None, look_every_min=15,
        scheduler=house.scheduler,
    )  # fmt: skip
    asked: list[datetime] = []

    def note() -> None:
        for one in waiting(path):
            if one.asked_at not in asked:
                asked.append(one.asked_at)

    moment = HUNG_AT
    while moment < until:
        moment += timedelta(minutes=15)
        now.plan(moment + timedelta(seconds=1), note)
    now.plan(until + HOUR, jobs.stop)
    jobs.start()
    house.run()
    assert house.faults == []
    return [at.astimezone(BERLIN).replace(tzinfo=None, microsecond=0) for at in asked]


def local(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2026, 1, day, hour, minute)  # noqa: DTZ001 - the keeper's own clock


def test_a_look_that_nobody_makes_is_asked_for_after_26_hours_and_then_daily(
    path: Path, now: FakeTime
) -> None:
    hang(path, "A1")  # on the second at nine: 26 h later it is eleven
    assert asked_on(path, now, berlin(5, 12)) == [
        local(3, 8), local(3, 11), local(4, 8), local(5, 8),
    ]  # fmt: skip
    [last] = waiting(path)
    assert (last.times_asked, last.since_at) == (4, berlin(3, 8))
    assert last.text.startswith("Due since Sat; asked 4 times.")


def test_a_look_that_is_put_off_is_asked_for_when_that_is_over(path: Path, now: FakeTime) -> None:
    hang(path, "A1")

    def put_off() -> None:
        db = connect(path)
        with db.atomic():
            assert snooze(db, until=now.wall() + 6 * HOUR, by="Ada") == 1
        db.close()

    now.plan(berlin(3, 8, 32), put_off)
    assert asked_on(path, now, berlin(4, 7)) == [local(3, 8), local(3, 14, 45)]


def test_entries_end_a_look_that_was_put_off(path: Path, now: FakeTime) -> None:
    hang(path, "A1")

    def put_off() -> None:
        db = connect(path)
        with db.atomic():
            snooze(db, until=now.wall() + 6 * HOUR, by="Ada")
        db.close()

    now.plan(berlin(3, 8, 32), put_off)
    now.plan(berlin(3, 9), lambda: weigh(path, now.wall(), "A1"))
    assert asked_on(path, now, berlin(4, 7)) == [local(3, 8)]
    assert waiting(path) == []


# The morning's summary.

CLOSET = RoomPlan(
    name="closet",
    stage=Stage.HANG,
    humidity=HumidityTarget(setpoint_pct=76, band_pct=3, low_limit_pct=50, high_limit_pct=92),
    temperature=None,
    relays={},
)


@pytest.fixture
def night(path: Path) -> Callable[[], None]:
    """Fill the night before the third with readings, two alarms, and half an hour of silence."""

    def fill() -> None:
        journal = Journal(path)
        rooms = {"closet": ["rail"], "fridge": ["shelf"]}
        journal.start(rooms, boot_id="b", version="0", now=berlin(2, 20))
        journal.note_plan("closet", CLOSET, uptime_s=0.0)
        minutes = [m for m in range(0, 9 * 60, 2) if not 300 <= m < 330]
        for minute in minutes:
            at = berlin(2, 22) + timedelta(minutes=minute)
            # Out of the band of 73 to 79 %, below it for an hour and above it for another: 12 of the
            # 51 stretches that were read.
            reading = AirReading(
                taken_at=at, taken_uptime_s=minute * 60.0, temperature_c=13.0,
                humidity_pct=71.0 if minute < 60 else 81.0 if minute >= 480 else 76.0,
            )  # fmt: skip
            journal.note_reading("closet", "rail", reading, seen_uptime_s=0.0)
        for scope, alarm, at in (
            (of_room("closet"), AlarmId.HUMIDITY_HIGH, berlin(3, 6, 10)),
            (SERVICE, AlarmId.DAEMON_RESTARTED, berlin(2, 23)),
            (of_room("closet"), AlarmId.HUMIDITY_LOW, berlin(2, 21)),  # before the night
        ):
            event = AlarmEvent(
                sequence=1, at=at, uptime_s=0.0, alarm=alarm, event=Event.ACTIVATED,
                tell=Tell.ANNUNCIATE, suppression=Suppression.NONE, occurrences=1,
            )  # fmt: skip
            journal.note_alarm(scope, event)
        assert journal.flush(now=berlin(3, 7))
        journal.close()

    return fill


def test_the_morning_tells_the_night_the_groups_and_the_day(
    path: Path, night: Callable[[], None]
) -> None:
    hang(path, "A1", "A2")
    weigh(path, berlin(2, 20), "A1")
    night()
    assert morning_summary(path, LOOKING, now=berlin(3, 6, 59)) is None
    made = morning_summary(path, LOOKING, now=berlin(3, 7))
    assert made is not None
    assert made.title == "Sat 3 Jan: 2 sticks to weigh, 2 alarms over night"
    assert made.text.splitlines() == [
        # 39 of 51 stretches of ten minutes lie in the band: 76 %.
        "Closet, 22:00 to 07:00: humidity 71.0 to 81.0 %, 76 % of the time in the band of 76 ± 3 %; 13.0 to 13.0 °C. Nothing was read for 30 min of it.",
        "Fridge, 22:00 to 07:00: no reading at all; look at its sensor.",
        "Controller, 23:00: alarm, The controller was restarted.",
        "Closet, 06:10: alarm, Too humid.",
        "Batch 1 A, supple: yield 77.0 % of green weight when weighed (Fri); target 72 %, no forecast yet.",
        "To do, at 08:00: weigh A1, A2 of batch 1, Closet.",
        "To do: salt check of sensor rail, Closet.",
        "To do: salt check of sensor shelf, Fridge.",
    ]
    assert morning_summary(path, LOOKING, now=berlin(3, 9)) is None  # once a day
    db = connect(path)
    assert newest_summary(db) == made
    db.close()


def test_the_morning_tells_the_alarms_that_somebody_was_told_of(path: Path) -> None:
    hang(path, "A1")
    journal = Journal(path)
    journal.start({}, boot_id="b", version="0", now=berlin(2, 20))
    design, none = Suppression.BY_DESIGN, Suppression.NONE
    for hour, alarm, event, tell, why in (
        # Suppressed while it came on, told once that had ended; told again four hours later.
        (22, AlarmId.TEMPERATURE_HIGH, Event.ACTIVATED, Tell.NOTHING, design),
        (23, AlarmId.TEMPERATURE_HIGH, Event.UNSUPPRESSED, Tell.ANNUNCIATE, none),
        (27, AlarmId.TEMPERATURE_HIGH, Event.RE_ALARMED, Tell.ANNUNCIATE_AGAIN, none),
        # Suppressed all night.
        (24, AlarmId.HUMIDITY_LOW, Event.ACTIVATED, Tell.NOTHING, design),
        # On since the evening.
        (21, AlarmId.SENSORS_DISAGREE, Event.ACTIVATED, Tell.ANNUNCIATE, none),
        (25, AlarmId.SENSORS_DISAGREE, Event.RE_ALARMED, Tell.ANNUNCIATE_AGAIN, none),
        (29, AlarmId.SENSORS_DISAGREE, Event.RE_ALARMED, Tell.ANNUNCIATE_AGAIN, none),
    ):
        told = AlarmEvent(
            sequence=1, at=berlin(2, 0) + hour * HOUR, uptime_s=0.0, alarm=alarm, event=event,
            tell=tell, suppression=why, occurrences=1,
        )  # fmt: skip
        journal.note_alarm(of_room("closet"), told)
    assert journal.flush(now=berlin(3, 7))
    journal.close()
    made = morning_summary(path, LOOKING, now=berlin(3, 7))
    assert made is not None
    assert "2 alarms over night" in made.title
    assert [line for line in made.text.splitlines() if "alarm" in line] == [
        "Closet, 23:00: alarm, Too warm.",
        "Closet, 01:00: alarm still on, The sensors disagree.",
    ]


def test_no_summary_is_made_while_nothing_hangs(path: Path, night: Callable[[], None]) -> None:
    night()
    assert morning_summary(path, LOOKING, now=berlin(3, 7)) is None


def test_a_summary_made_late_asks_for_what_is_due_since_the_look(path: Path) -> None:
    hang(path, "A1")
    look(path, berlin(3, 8))
    made = morning_summary(path, LOOKING, now=berlin(3, 11))
    assert made is not None
    assert "To do, due since 08:00 today: weigh A1 of batch 1, Closet." in made.text


def test_after_days_without_power_one_summary_is_made_of_today(path: Path, now: FakeTime) -> None:
    hang(path, "A1")
    house = FakeHouse(now, without=("forecasts", "what hangs", "daily look"))
    jobs = Jobs(
        path, looking=LOOKING, now=now.wall, hangs=lambda _: None, scheduler=house.scheduler
    )
    now.plan(berlin(3, 12), jobs.stop)
    now.plan(berlin(6, 15), jobs.start)
    now.plan(berlin(7, 12), jobs.stop)
    jobs.start()
    house.run()
    assert house.faults == []
    db = connect(path)
    days = [day for (day,) in db.execute("select day from morning_summary order by day")]
    db.close()
    # Hung on the second at nine: that morning's is made late, as for any that was missed.
    assert days == ["2026-01-02", "2026-01-03", "2026-01-06", "2026-01-07"]
