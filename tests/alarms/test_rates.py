"""What the alarm log asks of a person, against worked examples of the usual figures."""

from datetime import UTC, datetime, timedelta

import pytest

from hangroom.alarm_table.log import AlarmEvent
from hangroom.alarm_table.row import AlarmId
from hangroom.alarm_table.words import Event, Suppression, Tell
from hangroom.control.alarms.rates import (
    Flood,
    annunciations_per_day,
    chattering,
    floods,
    stale,
)

BEGAN = datetime(2026, 11, 1, tzinfo=UTC)
HIGH, LOW = AlarmId.HUMIDITY_HIGH, AlarmId.HUMIDITY_LOW


def after(**spans: float) -> datetime:
    return BEGAN + timedelta(**spans)


def happened(
    at: datetime,
    *,
    alarm: AlarmId = HIGH,
    event: Event = Event.ACTIVATED,
    tell: Tell = Tell.ANNUNCIATE,
    suppression: Suppression = Suppression.NONE,
) -> AlarmEvent:
    return AlarmEvent(
        sequence=0,
        at=at,
        uptime_s=0.0,
        alarm=alarm,
        event=event,
        tell=tell,
        suppression=suppression,
        occurrences=1,
    )


def test_only_what_was_told_for_the_first_time_counts_as_annunciated() -> None:
    log = [
        happened(after(hours=-1)),
        happened(after(hours=1)),
        happened(after(hours=2), tell=Tell.ANNUNCIATE_AGAIN),
        happened(after(hours=3), tell=Tell.NOTHING),
        happened(after(hours=30)),
        happened(after(hours=48)),
    ]
    assert annunciations_per_day(log, since=BEGAN, until=after(hours=48)) == 1.0


@pytest.mark.parametrize(
    ("seconds", "expected"),
    [
        ((0, 30, 60), {HIGH}),
        ((0, 30, 61), set()),
        ((0, 60), set()),
        ((0, 300, 310, 320), {HIGH}),
    ],
)
def test_an_alarm_chatters_with_3_annunciations_in_a_minute(
    seconds: tuple[int, ...], expected: set[AlarmId]
) -> None:
    log = [happened(after(seconds=s)) for s in seconds]
    others = [happened(after(seconds=s), alarm=LOW) for s in (10, 200)]
    assert chattering(sorted([*log, *others], key=lambda event: event.at)) == expected


def each_minute(*minutes: float) -> list[AlarmEvent]:
    return [happened(after(minutes=minute)) for minute in minutes]


def test_ten_in_ten_minutes_are_no_flood_and_eleven_are() -> None:
    tenth = [0.9 * n for n in range(10)]
    assert floods(each_minute(*tenth), until=after(hours=1)) == []
    (flood,) = floods(each_minute(*tenth, 9.9), until=after(hours=1))
    assert flood.began_at == after(minutes=9.9)


def test_a_flood_ends_when_fewer_than_five_are_left_in_ten_minutes() -> None:
    # One each half minute from 0 to 5: the seventh of eleven, at minute 3, is the fifth newest.
    burst = [n / 2 for n in range(11)]
    ended = Flood(began_at=after(minutes=5), ended_at=after(minutes=13))
    assert floods(each_minute(*burst), until=after(hours=1)) == [ended]
    assert floods(each_minute(*burst, 40), until=after(hours=1)) == [ended]
    lasting = Flood(began_at=after(minutes=5), ended_at=None)
    assert floods(each_minute(*burst), until=after(minutes=12.9)) == [lasting]
    # One more at minute 12 holds it open until the one of minute 3.5 has left as well.
    longer = Flood(began_at=after(minutes=5), ended_at=after(minutes=13.5))
    assert floods(each_minute(*burst, 12), until=after(hours=1)) == [longer]


def test_an_alarm_is_stale_when_active_for_more_than_a_day_and_not_suppressed() -> None:
    log = [
        happened(BEGAN),
        happened(BEGAN, alarm=LOW),
        happened(after(hours=1), event=Event.ACKNOWLEDGED, tell=Tell.SILENCE),
        happened(after(hours=2), alarm=LOW, event=Event.RETURNED_TO_NORMAL, tell=Tell.NOTHING),
        happened(
            after(hours=30),
            event=Event.SHELVED,
            tell=Tell.SILENCE,
            suppression=Suppression.SHELVED,
        ),
        happened(after(hours=54), event=Event.SHELF_ENDED),
    ]
    assert stale(log, at=after(hours=24)) == set()
    assert stale(log, at=after(hours=24.1)) == {HIGH}
    assert stale(log, at=after(hours=30)) == set()
    assert stale(log, at=after(hours=54)) == {HIGH}
