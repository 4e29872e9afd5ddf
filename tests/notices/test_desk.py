"""What is told, when and how often: by a fake clock through the process's own loop."""

from contextlib import closing
from datetime import timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from notices.house import START, House

from hangroom.alarm_table.row import AlarmId
from hangroom.alarm_table.words import Event, Suppression, Tell
from hangroom.notices.sending import Sent
from hangroom.notices.wording import Letter
from hangroom.product.notice import Kind, Stamp, Urgency
from hangroom.store.database import connect
from hangroom.store.notice_asks import ask_by_number, ask_for_test
from hangroom.store.notices import CHANNELS_FAULT, channels, keep_notices, mark

HOUR_S = 3600.0
BERLIN = ZoneInfo("Europe/Berlin")


def test_an_alarm_arrives_once_on_every_channel_that_wants_it(house: House) -> None:
    all_of_it = house.channel("mail", least="low")
    desk = house.begin()
    house.go_on(desk, 10)
    house.alarm()
    house.go_on(desk, 600)
    assert all_of_it.titles == ["Räucherkammer: Kämmerchen: too humid"]
    assert "measured 84.0 %, limit 81.0 %" in all_of_it.text.lower()
    assert [notice.urgency for notice in house.told()] == [Urgency.MEDIUM]


def test_a_channel_gets_only_what_is_urgent_enough_for_it(house: House) -> None:
    box = house.channel("phone", least="high")
    desk = house.begin()
    house.go_on(desk, 10)
    house.alarm(AlarmId.HUMIDITY_HIGH)
    house.alarm(AlarmId.SENSOR_STALE)
    house.go_on(desk, 1200)
    assert box.titles == ["Räucherkammer: Kämmerchen: a sensor does not answer"]


@pytest.mark.parametrize(
    "suppression", [Suppression.SHELVED, Suppression.OUT_OF_SERVICE, Suppression.BY_DESIGN]
)
def test_what_is_kept_quiet_is_never_told(house: House, suppression: Suppression) -> None:
    box = house.channel("mail")
    desk = house.begin()
    house.go_on(desk, 10)
    house.alarm(suppression=suppression)
    house.alarm(tell=Tell.NOTHING)
    house.alarm(event=Event.RETURNED_TO_NORMAL, suppression=suppression)
    house.go_on(desk, 1200)
    assert house.told() == []
    assert box.tries == []


def test_over_is_told_quietly_and_only_of_what_was_told_as_on(house: House) -> None:
    box = house.channel("mail")
    desk = house.begin()
    house.go_on(desk, 10)
    house.alarm(AlarmId.HUMIDITY_LOW, Event.RETURNED_TO_NORMAL)
    house.alarm(AlarmId.SENSOR_STALE)
    house.go_on(desk, 60)
    house.alarm(AlarmId.SENSOR_STALE, Event.RETURNED_TO_NORMAL)
    house.go_on(desk, 900)
    assert [notice.kind for notice in house.told()] == [Kind.ALARM, Kind.OVER]
    assert house.told()[1].urgency is Urgency.LOW
    assert box.titles[1] == "Räucherkammer: Kämmerchen: a sensor does not answer (over)"


def test_what_was_before_the_first_start_is_nobodys_news(house: House) -> None:
    box = house.channel("mail")
    house.alarm()
    house.go_on(house.begin(), 600)
    assert box.tries == []


def test_nor_is_it_where_the_database_was_held_at_that_moment(house: House) -> None:
    box = house.channel("mail")
    house.alarm()
    house._db.execute("pragma busy_timeout = 0")
    desk = house.begin()
    with closing(connect(house.path)) as other:
        other.execute("begin immediate")
        house.go_on(desk, 1)
        other.rollback()
    house.go_on(desk, 600)
    assert box.tries == []


def test_channels_that_could_not_be_stored_at_once_are_told_on_all_the_same(house: House) -> None:
    house.go_on(house.begin(), 10)
    box = house.channel("mail")
    house._db.execute("pragma busy_timeout = 0")
    desk = house.begin()
    with closing(connect(house.path)) as other:
        other.execute("begin immediate")
        house.go_on(desk, 10)
        other.rollback()
    house.alarm(AlarmId.SENSOR_STALE)
    house.go_on(desk, 60)
    assert len(box.got) == 1
    assert [channel.name for channel in channels(house._db)] == ["mail"]
    assert mark(house._db, CHANNELS_FAULT) == ""


def test_a_restart_at_any_moment_neither_loses_nor_doubles(house: House) -> None:
    box = house.channel("mail")
    house.go_on(house.begin(), 10)
    for alarm in (AlarmId.HUMIDITY_HIGH, AlarmId.SENSOR_STALE, AlarmId.TEMPERATURE_LOW):
        house.alarm(alarm)
        for _ in range(3):
            house.go_on(house.begin(), 7)
    house.go_on(house.begin(), 1200)
    assert len(house.told()) == 3
    assert sum(box.text.count(word) for word in ("oo humid", "not answer", "oo cold")) == 3


def test_one_killed_while_it_sends_sends_the_same_message_again(house: House) -> None:
    """It cannot know whether that was taken, so the receiver is given the same mark twice."""
    box = house.channel("mail")

    class KilledError(Exception):
        pass

    def die() -> str:
        raise KilledError

    house.go_on(house.begin(), 10)
    house.alarm(AlarmId.SENSOR_STALE)
    box.refuses, box.keeps = die, True
    with pytest.raises(KilledError):
        house.go_on(house.begin(), 60)
    before = house.clock.now()
    box.refuses = lambda: ""
    house.go_on(house.begin(), 600)
    assert len(box.got) == 1
    assert box.got[0][0] - before < timedelta(seconds=70)
    house.go_on(house.begin(), 2 * HOUR_S)
    assert len(box.tries) == 2


def test_a_dead_receiver_is_tried_after_1_5_15_60_min_and_then_hourly(house: House) -> None:
    """The ladder is the task's own."""
    box = house.channel("mail", refuses=lambda: "The receiver refused the connection.")
    house.clock.step_s = 10.0
    desk = house.begin()
    house.go_on(desk, 10)
    house.alarm(AlarmId.SENSOR_STALE)
    house.go_on(desk, 6 * HOUR_S)
    between = [(b - a).total_seconds() / 60 for a, b in pairwise(box.tries)]
    assert between[:7] == pytest.approx([1, 5, 15, 60, 60, 60, 60], abs=0.5)


def test_what_never_arrives_is_given_up_after_three_days_and_shown(house: House) -> None:
    box = house.channel("mail", refuses=lambda: "The receiver answered 550.")
    house.clock.step_s = 60.0
    desk = house.begin()
    house.go_on(desk, 10)
    house.alarm(AlarmId.SENSOR_STALE)
    house.go_on(desk, 80 * HOUR_S)
    assert box.tries[-1] - box.tries[0] == pytest.approx(
        timedelta(hours=72), abs=timedelta(hours=2)
    )
    assert (house.carried("mail").given_up, house.carried("mail").waiting) == (1, 0)


def test_all_that_a_dead_channel_missed_arrives_exactly_once(house: House) -> None:
    box = house.channel("mail", refuses=lambda: "The receiver refused the connection.")
    well = house.channel("push")
    house.clock.step_s = 10.0
    desk = house.begin()
    house.go_on(desk, 10)
    kinds = [alarm for alarm in AlarmId if alarm is not AlarmId.BATCH_PAST_TARGET][:20]
    for alarm in kinds:
        house.alarm(alarm)
        house.go_on(desk, 600)
    assert box.got == []
    box.refuses = lambda: ""
    house.go_on(desk, 3 * HOUR_S)
    for post in (box, well):
        titles = [
            line
            for _at, _token, letter, _u in post.got
            for line in f"{letter.title}\n{letter.text}".splitlines()
        ]
        for notice in house.told():
            found = [line for line in titles if notice.title in line]
            # A joined message names the first in its title too.
            joined = [line for line in found if " notices. " in line]
            assert len(found) - len(joined) == 1, notice.title
    assert house.carried("mail").waiting == 0


def test_a_joined_message_is_one_and_the_most_urgent_stands_first(house: House) -> None:
    box = house.channel("mail")
    desk = house.begin()
    house.go_on(desk, 10)
    house.alarm(AlarmId.SENSORS_DISAGREE)
    house.alarm(AlarmId.HUMIDITY_HIGH)
    house.go_on(desk, 900)
    assert box.titles == ["Räucherkammer: 2 notices. Kämmerchen: too humid"]


def test_quiet_hours_hold_back_all_but_the_urgent_and_end_in_one_message(house: House) -> None:
    house.notices |= {"quiet_from": "22:00", "quiet_until": "06:30"}
    box = house.channel("mail")
    house.clock.step_s = 10.0
    desk = house.begin()
    house.go_on(desk, 7.5 * HOUR_S)  # 22:30 in Berlin
    house.alarm(AlarmId.HUMIDITY_HIGH)
    house.alarm(AlarmId.SENSOR_STALE)
    house.go_on(desk, 3 * HOUR_S)
    house.alarm(AlarmId.TEMPERATURE_LOW)
    house.go_on(desk, 6 * HOUR_S)
    at = [moment.astimezone(BERLIN).strftime("%H:%M") for moment, *_ in box.got]
    assert at == ["22:30", "06:30"]
    assert "not answer" in box.titles[0]
    assert "2 notices" in box.titles[1]


def test_a_retry_of_the_evening_does_not_ring_at_night(house: House) -> None:
    house.notices |= {"quiet_from": "22:00", "quiet_until": "06:30"}
    box = house.channel("mail", refuses=lambda: "The receiver answered 451.")
    house.clock.step_s = 30.0
    desk = house.begin()
    house.go_on(desk, 6.5 * HOUR_S)
    house.alarm(AlarmId.HUMIDITY_HIGH)
    house.go_on(desk, HOUR_S)
    box.refuses = lambda: ""
    house.go_on(desk, 12 * HOUR_S)
    assert [moment.astimezone(BERLIN).strftime("%H:%M") for moment, *_ in box.got] == ["06:30"]


def test_no_more_than_six_an_hour_then_one_of_all_and_the_urgent_past_them(house: House) -> None:
    """EEMUA 191 and ISA-18.2 set rates for a full-time operator; six an hour is the task's own."""
    box = house.channel("mail")
    house.clock.step_s = 5.0
    desk = house.begin()
    house.go_on(desk, 10)
    for number in range(40):
        house.alarm(AlarmId.HUMIDITY_HIGH)
        if number == 30:
            house.alarm(AlarmId.SENSOR_STALE)
        house.go_on(desk, 60)
    house.go_on(desk, 2 * HOUR_S)
    plain = [at for at, _token, letter, _u in box.got if "not answer" not in letter.title]
    for at in plain:
        assert sum(timedelta(0) <= other - at < timedelta(hours=1) for other in plain) <= 6
    assert len(plain) == 7
    assert any("34 notices" in title for title in box.titles)
    urgent = next(at for at, _t, letter, _u in box.got if "not answer" in letter.title)
    assert urgent < plain[-1]


def test_a_refused_message_does_not_hold_up_the_rest_for_ever(house: House) -> None:
    box = house.channel("mail")
    house.clock.step_s = 10.0
    desk = house.begin()
    house.go_on(desk, 10)

    refused: list[str] = []
    send = box.send

    def picky(letter: Letter, urgency: Urgency, token: str) -> Sent:
        if not refused:
            refused.append(token)
        box.refuses = lambda: "The receiver answered 400." if token in refused else ""
        return send(letter, urgency, token)

    box.send = picky  # type: ignore[method-assign]
    house.alarm(AlarmId.HUMIDITY_HIGH)
    house.go_on(desk, 60)
    house.alarm(AlarmId.TEMPERATURE_LOW)
    house.alarm(AlarmId.SENSOR_STALE)
    house.go_on(desk, 30)
    assert box.titles == ["Räucherkammer: Kämmerchen: a sensor does not answer"]
    house.go_on(desk, 2 * HOUR_S)
    assert box.titles[1:] == ["Räucherkammer: Kämmerchen: too cold"]


@pytest.mark.parametrize("step_s", [-HOUR_S, HOUR_S, -40 * 365 * 86400.0, 3 * 86400.0])
def test_a_jump_of_the_wall_clock_moves_no_try(house: House, step_s: float) -> None:
    box = house.channel("mail", refuses=lambda: "The receiver refused the connection.")
    desk = house.begin()
    house.go_on(desk, 10)
    house.alarm(AlarmId.SENSOR_STALE)
    house.go_on(desk, 4)
    assert len(box.tries) == 1
    before_s = house.clock.uptime_s()
    house.clock.set_wall(step_s)
    house.go_on(desk, 20)
    # Within one run of the machine a new process goes by the same monotonic clock.
    house.go_on(house.begin(), 20)
    assert len(box.tries) == 1
    house.go_on(house.begin(), 40)
    assert len(box.tries) == 2
    assert house.clock.uptime_s() - before_s < 100


def test_after_a_restart_of_the_machine_a_clock_that_was_moved_back_blocks_nothing(
    house: House,
) -> None:
    box = house.channel("mail", refuses=lambda: "The receiver refused the connection.")
    desk = house.begin()
    house.go_on(desk, 10)
    for _ in range(7):
        house.alarm(AlarmId.HUMIDITY_HIGH)
        house.go_on(desk, 700)
    tried = len(box.tries)
    house.boot = "next-boot"
    house.clock.set_wall(-365 * 86400.0)
    box.refuses = lambda: ""
    house.go_on(house.begin(), 60)
    assert len(box.tries) > tried
    assert box.got


def test_a_file_that_cannot_be_read_for_a_while_loses_nothing(house: House) -> None:
    box = house.channel("mail")
    desk = house.begin()
    house.go_on(desk, 10)
    house.channels_file.chmod(0o644)
    house.go_on(desk, 10)
    house.alarm(AlarmId.SENSOR_STALE)
    house.go_on(desk, 600)
    assert box.tries == []
    assert house.carried("mail").waiting == 1
    house.channels_file.chmod(0o600)
    house.go_on(desk, 60)
    assert len(box.got) == 1


def test_what_waits_for_a_channel_that_is_taken_out_is_dropped(house: House) -> None:
    house.channel("mail", refuses=lambda: "The receiver refused the connection.")
    desk = house.begin()
    house.go_on(desk, 10)
    house.alarm(AlarmId.SENSOR_STALE)
    house.go_on(desk, 30)
    house.write_channels([])
    house.go_on(desk, 30)
    assert house.carried("mail").waiting == 0


def test_a_slow_receiver_delays_an_urgent_notice_elsewhere_by_one_try_at_most(
    house: House,
) -> None:
    slow = house.channel("slow", refuses=lambda: "Sending took longer than 20 s.", takes_s=20.0)
    well = house.channel("well")
    desk = house.begin()
    house.go_on(desk, 10)
    began = house.clock.now()
    house.alarm(AlarmId.SENSOR_STALE)
    house.go_on(desk, 120)
    assert well.got[0][0] - began <= timedelta(seconds=25)
    assert len(slow.tries) == 2
    assert began > START


def test_one_taken_out_and_put_back_begins_anew(house: House) -> None:
    box = house.channel("mail")
    desk = house.begin()
    house.go_on(desk, 10)
    house.alarm(AlarmId.HUMIDITY_HIGH)
    house.go_on(desk, 6)
    house.write_channels([])
    house.go_on(desk, 6)
    house.write_channels([("mail", "low", "post://mail")])
    house.go_on(desk, 900)
    assert box.tries == []
    house.alarm(AlarmId.SENSOR_STALE)
    house.go_on(desk, 60)
    assert len(box.got) == 1


def test_where_nothing_happens_nothing_is_written_to_the_card(house: House) -> None:
    house.channel("mail")
    desk = house.begin()
    house.go_on(desk, 10)
    house.alarm(AlarmId.SENSOR_STALE)
    house.go_on(desk, 600)
    written = house._db.conn.total_changes
    house.go_on(desk, 1200)
    assert house._db.conn.total_changes == written
    house.silent = True
    house.go_on(desk, 600)
    written = house._db.conn.total_changes
    house.go_on(desk, 1200)
    assert house._db.conn.total_changes == written


def test_the_same_fact_twice_is_one_notice_and_one_delivery(house: House) -> None:
    house.channel("mail")
    house.go_on(house.begin(), 10)
    house.alarm(AlarmId.SENSOR_STALE)
    house.go_on(house.begin(), 60)
    (notice,) = house.told()
    stamp = Stamp(boot_id="x", uptime_s=1.0, at=START)
    assert keep_notices(house._db, [notice, notice], channels(house._db), stamp=stamp) == 0
    assert len(house.told()) == 1
    assert house.carried("mail").waiting == 0


def test_a_test_that_is_asked_for_while_nothing_sends_is_not_sent_days_later(house: House) -> None:
    box = house.channel("mail")
    number = ask_for_test(house._db, key="one", asked_by="Ada", now=house.clock.now())
    house.clock.move(3600.0)
    house.go_on(house.begin(), 20)
    asked = ask_by_number(house._db, number)
    assert asked is not None
    assert asked.answer.startswith("Nothing was sent")
    assert box.tries == []
