"""When the daily look is due. Clock changes of 2026 from the IANA time zone database."""

from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hangroom.product.daily_look import Due, counts_from, due_on, latest_due, next_due

BERLIN, NEW_YORK, SYDNEY = (
    ZoneInfo(name) for name in ("Europe/Berlin", "America/New_York", "Australia/Sydney")
)
AT = time(8, 0)

moments = st.datetimes(
    min_value=datetime(2026, 1, 1),  # noqa: DTZ001 - hypothesis adds the zone
    max_value=datetime(2027, 12, 31),  # noqa: DTZ001
    timezones=st.just(UTC),
)
zones = st.sampled_from([BERLIN, NEW_YORK, SYDNEY, ZoneInfo("Pacific/Kiritimati")])
clock_times = st.builds(time, st.integers(0, 23), st.sampled_from([0, 30]))


@pytest.mark.parametrize(
    ("zone", "day", "hour_utc"),
    [
        pytest.param(BERLIN, date(2026, 3, 28), "2026-03-28T07:00", id="Berlin, winter"),
        pytest.param(BERLIN, date(2026, 3, 29), "2026-03-29T06:00", id="Berlin, into summer"),
        pytest.param(BERLIN, date(2026, 10, 24), "2026-10-24T06:00", id="Berlin, summer"),
        pytest.param(BERLIN, date(2026, 10, 25), "2026-10-25T07:00", id="Berlin, into winter"),
        pytest.param(NEW_YORK, date(2026, 3, 7), "2026-03-07T13:00", id="New York, winter"),
        pytest.param(NEW_YORK, date(2026, 3, 8), "2026-03-08T12:00", id="New York, into summer"),
        pytest.param(NEW_YORK, date(2026, 11, 1), "2026-11-01T13:00", id="New York, into winter"),
        pytest.param(SYDNEY, date(2026, 4, 5), "2026-04-04T22:00", id="Sydney, into winter"),
        pytest.param(SYDNEY, date(2026, 10, 3), "2026-10-02T22:00", id="Sydney, winter"),
        pytest.param(SYDNEY, date(2026, 10, 4), "2026-10-03T21:00", id="Sydney, into summer"),
    ],
)
def test_the_look_stays_at_eight_by_the_keeper_s_clock(
    zone: ZoneInfo, day: date, hour_utc: str
) -> None:
    due_at = due_on(day, at=AT, zone=zone)
    assert due_at == datetime.fromisoformat(hour_utc).replace(tzinfo=UTC)
    assert due_at.utcoffset() == timedelta(0)


def test_a_time_that_the_clock_skips_is_due_as_long_after_midnight_as_usual() -> None:
    # 02:30 does not exist on 2026-03-29; two and a half hours after midnight it is 03:30 CEST.
    assert due_on(date(2026, 3, 29), at=time(2, 30), zone=BERLIN) == datetime(
        2026, 3, 29, 1, 30, tzinfo=UTC
    )


def test_of_a_time_that_comes_twice_the_first_counts() -> None:
    assert due_on(date(2026, 10, 25), at=time(2, 30), zone=BERLIN) == datetime(
        2026, 10, 25, 0, 30, tzinfo=UTC
    )


def test_a_look_is_due_from_its_very_moment_on() -> None:
    eight = datetime(2026, 1, 3, 7, 0, tzinfo=UTC)
    assert latest_due(eight, at=[AT], zone=BERLIN) == Due(day=date(2026, 1, 3), clock=AT, at=eight)
    just_before = eight - timedelta(microseconds=1)
    assert latest_due(just_before, at=[AT], zone=BERLIN) == Due(
        day=date(2026, 1, 2), clock=AT, at=eight - timedelta(days=1)
    )
    assert next_due(just_before, at=[AT], zone=BERLIN) == Due(
        day=date(2026, 1, 3), clock=AT, at=eight
    )
    assert next_due(eight, at=[AT], zone=BERLIN).day == date(2026, 1, 4)


@given(moments, clock_times, zones)
def test_now_lies_between_the_newest_look_and_the_next_and_no_day_between_them(
    now: datetime, at: time, zone: ZoneInfo
) -> None:
    due, following = latest_due(now, at=[at], zone=zone), next_due(now, at=[at], zone=zone)
    assert due.at <= now < following.at
    assert following.day - due.day == timedelta(days=1)
    # 23 to 25 hours apart, as no zone here moves by more than one.
    assert timedelta(hours=23) <= following.at - due.at <= timedelta(hours=25)


@given(moments, st.sets(clock_times, min_size=2, max_size=4), zones)
def test_of_several_times_a_day_each_comes_in_its_turn(
    now: datetime, at: set[time], zone: ZoneInfo
) -> None:
    """One after the other until as many have come as there are times: a whole day's worth."""
    here, seen = now, []
    for _ in at:
        due = next_due(here, at=list(at), zone=zone)
        seen.append(due)
        assert latest_due(due.at, at=list(at), zone=zone).at == due.at
        here = due.at
    apart = [later.at - earlier.at for earlier, later in pairwise(seen)]
    assert all(gap > timedelta(0) for gap in apart)
    # As many as there are times lie within a day; an hour more where the clock goes back.
    assert seen[-1].at - now <= timedelta(hours=25)


def test_a_weight_up_to_three_hours_before_a_look_counts_for_it() -> None:
    eight = datetime(2026, 1, 3, 7, 0, tzinfo=UTC)
    assert counts_from(eight, at=[AT], zone=BERLIN) == eight - timedelta(hours=3)


def test_of_two_looks_near_each_other_a_weight_counts_for_one() -> None:
    """At eight and at noon, the two hours before noon are noon's, those after eight are eight's."""
    noon = datetime(2026, 1, 3, 11, 0, tzinfo=UTC)
    assert counts_from(noon, at=[AT, time(12)], zone=BERLIN) == noon - timedelta(hours=2)


@pytest.mark.parametrize(
    ("now_utc", "yesterday_utc", "hours_between"),
    [
        # Before eight on the morning of the change: yesterday's look was by yesterday's clock.
        pytest.param("2026-03-29T05:00", "2026-03-28T07:00", 23, id="into summer"),
        pytest.param("2026-10-25T06:30", "2026-10-24T06:00", 25, id="into winter"),
    ],
)
def test_yesterday_s_look_was_at_eight_by_yesterday_s_clock(
    now_utc: str, yesterday_utc: str, hours_between: int
) -> None:
    now = datetime.fromisoformat(now_utc).replace(tzinfo=UTC)
    due = latest_due(now, at=[AT], zone=BERLIN)
    assert due.at == datetime.fromisoformat(yesterday_utc).replace(tzinfo=UTC)
    assert due.day == due.at.date()
    assert next_due(now, at=[AT], zone=BERLIN).at - due.at == timedelta(hours=hours_between)
