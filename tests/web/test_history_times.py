"""Times of History: what is asked for, in how long stretches, and the marks of its axis."""

from datetime import UTC, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hangroom.store.room_past import HungBatch
from hangroom_web.history.ticks import MOST_WORDS, ticks
from hangroom_web.history.window import LENGTHS, Range, window_of

NOW = datetime(2026, 11, 26, 14, 52, 4, tzinfo=UTC)
BERLIN = ZoneInfo("Europe/Berlin")
HOUR = timedelta(hours=1)


@given(
    since=st.datetimes(
        datetime(2001, 1, 1),  # noqa: DTZ001 - hypothesis adds the zone
        datetime(2026, 11, 26),  # noqa: DTZ001
        timezones=st.just(UTC),
    ),
    long_s=st.integers(1, 7 * 366 * 86_400),
    points=st.integers(10, 1440),
    read_every_s=st.floats(2, 60),
)
def test_any_time_is_covered_by_at_most_as_many_stretches_as_wanted(
    since: datetime, long_s: int, points: int, read_every_s: float
) -> None:
    until = since + timedelta(seconds=long_s)
    window = window_of(
        {"since": since.isoformat(), "until": until.isoformat(), "points": str(points)},
        now=NOW,
        hung=[],
        most=100,
        read_every_s=read_every_s,
    )
    assert window.stretches <= points
    assert window.since <= since
    assert window.since + window.stretches * window.stretch >= min(until, NOW)
    assert since - window.since < window.stretch
    assert window.stretch_s >= 2 * read_every_s or window.stretches == 1
    assert window.since.timestamp() % window.stretch_s == 0
    assert min(until, NOW) <= window.until <= NOW
    assert window.live == (window.until == NOW)


@pytest.mark.parametrize("name", LENGTHS)
def test_a_range_ends_now_and_is_as_long_as_its_button_says(name: Range) -> None:
    window = window_of({"range": name}, now=NOW, hung=[], most=721, read_every_s=6.0)
    assert window.live
    assert window.until == NOW
    assert timedelta() <= window.until - window.since - LENGTHS[name] < window.stretch


def test_a_range_that_ended_ends_at_a_whole_stretch() -> None:
    asked = {"range": "6h", "end": "2026-11-20T12:00:00+01:00"}
    window = window_of(asked, now=NOW, hung=[], most=400, read_every_s=6.0)
    assert not window.live
    assert window.until == datetime(2026, 11, 20, 11, 0, tzinfo=UTC)


def test_a_batch_that_is_pulled_ends_where_it_was_pulled() -> None:
    hung = [
        HungBatch(number=4, name="b", from_at=NOW - 30 * HOUR, to_at=None),
        HungBatch(number=3, name="a", from_at=NOW - 90 * HOUR, to_at=NOW - 40 * HOUR),
    ]
    newest = window_of({"range": "batch"}, now=NOW, hung=hung, most=721, read_every_s=6.0)
    assert (newest.batch, newest.live) == (4, True)
    older = window_of(
        {"range": "batch", "batch": "3"}, now=NOW, hung=hung, most=721, read_every_s=6.0
    )
    assert not older.live
    assert timedelta() <= older.until - (NOW - 40 * HOUR) < older.stretch


def test_the_day_the_clock_goes_back_has_25_hours_on_its_axis() -> None:
    """Germany, 25 October 2026: 03:00 summer time becomes 02:00 (Directive 2000/84/EC)."""
    start = datetime(2026, 10, 25, 0, 0, tzinfo=BERLIN)
    end = datetime(2026, 10, 26, 0, 0, tzinfo=BERLIN)
    since, until = start.astimezone(UTC), end.astimezone(UTC)
    assert until - since == 25 * HOUR
    six = ticks(since, since + 6 * HOUR, BERLIN)
    assert [tick.words for tick in six] == [
        "Sun 25", "01:00", "02:00", "02:00", "03:00", "04:00", "05:00",
    ]  # fmt: skip
    assert all(b.at - a.at == HOUR for a, b in pairwise(six))
    days = ticks(since - 24 * HOUR, until + 24 * HOUR, BERLIN)
    at = [tick.at for tick in days if tick.at.astimezone(BERLIN).hour == 0]
    assert until in at
    assert since in at


def test_the_day_the_clock_goes_ahead_skips_the_hour_that_is_not_there() -> None:
    """Germany, 29 March 2026: 02:00 becomes 03:00."""
    since = datetime(2026, 3, 29, 0, 0, tzinfo=BERLIN).astimezone(UTC)
    words = [tick.words for tick in ticks(since, since + 5 * HOUR, BERLIN)]
    assert words == ["Sun 29", "01:00", "03:00", "04:00", "05:00", "06:00"]


@given(
    since=st.datetimes(
        datetime(2001, 1, 1),  # noqa: DTZ001 - hypothesis adds the zone
        datetime(2026, 11, 26),  # noqa: DTZ001
        timezones=st.just(UTC),
    ),
    long_h=st.integers(1, 24 * 800),
    zone=st.sampled_from(["UTC", "Europe/Berlin", "Australia/Lord_Howe", "Asia/Kathmandu"]),
)
def test_marks_stand_at_round_local_times_and_their_words_have_room(
    since: datetime, long_h: int, zone: str
) -> None:
    found = ticks(since, since + long_h * HOUR, ZoneInfo(zone))
    assert sum(bool(tick.words) for tick in found) <= MOST_WORDS + 1
    for tick in found:
        assert since <= tick.at <= since + long_h * HOUR
        assert tick.at.astimezone(ZoneInfo(zone)).minute == 0
