"""What is told of the controller, the disk, the backup and the telling itself."""

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from notices.house import CLOSET, START, House

from hangroom.alarm_table.row import AlarmId
from hangroom.alarm_table.words import Condition, Suppression
from hangroom.notices.watching import latest_weekly
from hangroom.store.backup.outcome import Good, Outcome, write_outcome
from hangroom.store.live import LiveAlarm

HOUR_S = 3600.0
BERLIN = ZoneInfo("Europe/Berlin")


def test_the_controllers_silence_is_told_once_and_its_return(house: House) -> None:
    box = house.channel("phone", least="high")
    house.clock.step_s = 5.0
    desk = house.begin()
    house.go_on(desk, 600)
    house.silent = True
    house.go_on(desk, 110)
    assert box.titles == []
    house.go_on(desk, 30)
    assert box.titles == ["Räucherkammer: The controller does not report"]
    for _ in range(3):
        house.go_on(house.begin(), HOUR_S)
    assert len(box.titles) == 1
    house.silent = False
    house.go_on(house.begin(), 60)
    assert box.titles[1:] == ["Räucherkammer: The controller reports again"]
    house.silent = True
    house.go_on(house.begin(), 600)
    assert len(box.titles) == 3


def test_no_silence_is_told_in_the_first_two_minutes_of_a_machine(house: House) -> None:
    box = house.channel("phone")
    house.silent = True
    house.go_on(house.begin(), 100)
    assert box.titles == []
    house.go_on(house.begin(), 200)
    assert box.titles == ["Räucherkammer: The controller does not report"]


@pytest.mark.parametrize("zone", ["Europe/Berlin", "Australia/Sydney"])
def test_still_running_comes_once_a_week_at_its_local_time_across_a_year(zone: str) -> None:
    """Both changes of the clock lie in the year, in a zone of each hemisphere."""
    found = set()
    at = datetime(2026, 1, 1, tzinfo=UTC)
    while at < datetime(2027, 1, 1, tzinfo=UTC):
        due = latest_weekly(at, weekday=6, at=time(12, 0), zone=ZoneInfo(zone))
        assert timedelta(0) <= at - due.astimezone(UTC) < timedelta(days=7, hours=1)
        found.add(due.astimezone(UTC))
        at += timedelta(hours=3)
    local = {moment.astimezone(ZoneInfo(zone)).strftime("%A %H:%M") for moment in found}
    assert local == {"Sunday 12:00"}
    assert len(found) == 53  # 52 Sundays of 2026, and the last of 2025


def test_still_running_reaches_every_channel_and_says_since_when(house: House) -> None:
    house.notices = {"alive_weekday": "sunday", "alive_at": "12:00"}
    box = house.channel("phone", least="high")
    house.clock.step_s = 60.0
    desk = house.begin()
    house.go_on(desk, 4 * 86400.0)
    assert box.titles == ["Räucherkammer: Still running, and telling you so"]
    assert box.got[0][0].astimezone(BERLIN).strftime("%a %H") == "Sun 12"
    text = box.got[0][2].text
    assert "Running since Thu 26 Nov 15:00." in text
    assert "Kämmerchen: 13.1 °C, 76 %" in text
    assert "Last good backup: none." in text


@pytest.mark.parametrize("refuses", [True, False])
def test_still_running_counts_what_failed_and_not_what_waits_its_turn(
    house: House, *, refuses: bool
) -> None:
    house.notices = {"alive_weekday": "thursday", "alive_at": "15:10"}
    well, phone = house.channel("well"), house.channel("phone")
    house.write_channels([("well", "low", "post://well"), ("phone", "high", "post://phone")])
    phone.refuses = lambda: "The receiver refused the connection." if refuses else ""
    house.clock.step_s = 20.0
    desk = house.begin()
    house.go_on(desk, 300)
    house.alarm(AlarmId.SENSOR_STALE)
    house.go_on(desk, 240)
    house.alarm(AlarmId.CLOCK_JUMP)  # low: waits five minutes for company
    house.go_on(desk, 600)
    told = "1 notice has not arrived on some channel; see Setup." in well.text
    assert "Running since Thu 26 Nov 15:00." in well.text
    assert (told, "not arrived" in well.text) == (refuses, refuses)


def test_the_ping_stops_with_the_controller(house: House) -> None:
    house.boxes["post://mail"] = house.channel("mail")
    house.write_channels([], more='ping_url = "https://watch.invalid/secret-of-the-ping"\n')
    house.clock.step_s = 10.0
    desk = house.begin()
    house.go_on(desk, HOUR_S)
    assert 4 <= len(house.postman.pings) <= 5
    house.silent = True
    house.go_on(desk, HOUR_S)
    assert len(house.postman.pings) <= 5


def on_board(alarm: AlarmId, scope: str, why: str = "") -> LiveAlarm:
    return LiveAlarm(
        alarm=alarm,
        scope=scope,
        condition=Condition.ACTIVE,
        acknowledged=False,
        latched=False,
        suppression=Suppression.NONE,
        occurrences=1,
        since_at=START,
        why=why,
    )


def test_a_disk_that_takes_nothing_is_told_from_the_board_and_so_is_what_is_on(
    house: House,
) -> None:
    """A database that may only be read stands for the full disk."""
    box = house.channel("mail")
    desk = house.begin()
    house.go_on(desk, 10)
    house._db.execute("pragma query_only = on")
    house.on_board = (on_board(AlarmId.LOG_FULL, "service", "not-written"),)
    house.go_on(desk, 600)
    assert box.titles == ["Räucherkammer: the record cannot be written"]
    house.on_board += (on_board(AlarmId.SENSOR_STALE, CLOSET),)
    house.go_on(desk, 600)
    assert len(box.titles) == 2
    assert "Kämmerchen: A sensor does not answer. Act now:" in box.got[1][2].text


def test_a_disk_that_takes_nothing_wakes_nobody_unless_something_urgent_is_on(
    house: House,
) -> None:
    house.notices |= {"quiet_from": "14:00", "quiet_until": "15:10"}  # it is 15:00
    box = house.channel("mail")
    desk = house.begin()
    house.go_on(desk, 10)
    house._db.execute("pragma query_only = on")
    house.on_board = (on_board(AlarmId.LOG_FULL, "service", "not-written"),)
    house.go_on(desk, 120)
    assert box.tries == []
    house.on_board += (on_board(AlarmId.SENSOR_STALE, CLOSET),)
    house.go_on(desk, 30)
    assert len(box.got) == 1
    house.on_board = house.on_board[:1]
    house.go_on(house.begin(), 120)  # a new process knows nothing of what was told
    assert len(box.got) == 1
    house.go_on(house.begin(), 600)  # until after the quiet hours
    assert len(box.got) == 2


def test_little_space_that_still_takes_everything_goes_the_usual_way(house: House) -> None:
    box = house.channel("mail")
    desk = house.begin()
    house.on_board = (on_board(AlarmId.LOG_FULL, "service", "little-space"),)
    house.go_on(desk, 600)
    assert box.tries == []


def test_a_store_that_fails_for_a_while_ends_nothing(
    house: House, caplog: pytest.LogCaptureFixture
) -> None:
    box = house.channel("mail")
    desk = house.begin()
    house.go_on(desk, 10)
    house._db.execute("pragma query_only = on")
    house.alarm(AlarmId.SENSOR_STALE)
    house.go_on(desk, 60)
    assert box.tries == []
    assert "cannot be used" in caplog.text
    house._db.execute("pragma query_only = off")
    house.go_on(desk, 60)
    assert len(box.got) == 1


def test_a_backup_that_failed_is_told_once_a_day_until_one_is_good(house: House) -> None:
    box = house.channel("mail")
    desk = house.begin()
    house.go_on(desk, 60)
    good = Good(made_at=START, folder="/mnt/b", file="b.zip", size=1, batches=1, photos=0)
    failed = Outcome(good=good, failed_at=house.clock.now(), fault="The stick is full.")
    write_outcome(house.folder, failed)
    house.go_on(desk, 600)
    assert box.titles == ["Räucherkammer: The backup failed"]
    assert "The stick is full.\nLast good backup: Thu 26 Nov 15:00." in box.text
    again = replace(good, made_at=house.clock.now())
    write_outcome(house.folder, replace(failed, good=again))
    house.go_on(desk, 600)
    assert len(box.titles) == 1


def test_a_first_start_on_a_clock_that_was_ahead_keeps_nothing_back(house: House) -> None:
    house.notices = {"alive_weekday": "sunday", "alive_at": "12:00"}
    box = house.channel("mail")
    house.clock.step_s = 60.0
    house.clock.set_wall(900 * 86400.0)
    desk = house.begin()
    house.go_on(desk, 600)
    house.clock.set_wall(-900 * 86400.0)
    house.go_on(desk, 4 * 86400.0)
    assert len(box.titles) == 1
    assert "Running since Thu 26 Nov" in box.text
