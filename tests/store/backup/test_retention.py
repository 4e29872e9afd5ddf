"""Which backups stay: against a calendar drawn by hand, and for any set of them whatever."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hangroom.store.backup.retention import DAYS, WEEKS, made_of, name_of, to_drop

# November 2026, as any wall calendar has it. The first is a Sunday, the thirtieth a Monday.
#
#   Mo Tu We Th Fr Sa Su
#                      1
#    2  3  4  5  6  7  8
#    9 10 11 12 13 14 15
#   16 17 18 19 20 21 22
#   23 24 25 26 27 28 29
#   30


def night(day: int, clock: str = "033000") -> str:
    return f"hangroom-202611{day:02}-{clock}.zip"


def nights(*days: int) -> set[str]:
    return {night(day) for day in days}


@pytest.mark.parametrize(
    ("there", "kept"),
    [
        # Seven days up to the 30th; then the Sundays of the four weeks before those.
        (nights(*range(1, 31)), nights(24, 25, 26, 27, 28, 29, 30, 22, 15, 8, 1)),
        # The 26th, a Thursday: 20 to 26; the week of the 20th has its Sunday among those.
        (nights(*range(1, 27)), nights(20, 21, 22, 23, 24, 25, 26, 15, 8, 1)),
        # Up to seven, nothing goes.
        (nights(1, 2, 3, 28, 29, 30), nights(1, 2, 3, 28, 29, 30)),
        # A Pi that was off for weeks: days count that have a backup, and not the calendar's.
        (nights(2, 3, 4, 5, 6, 9, 10, 11, 30), nights(4, 5, 6, 9, 10, 11, 30)),
        # Of one day the last.
        ({night(30), night(30, "120000"), night(30, "235959")}, {night(30, "235959")}),
    ],
)
def test_what_stays_is_what_the_calendar_says(there: set[str], kept: set[str]) -> None:
    newest = max(there)
    assert there - set(to_drop(there, just_made=newest)) == kept


def test_no_other_file_is_ever_named() -> None:
    others = [
        "hangroom-20261101-033000.zip.part",
        "hangroom-20261301-033000.zip",  # no such month
        "my hangroom-20261101-033000.zip",
        "hangroom-20261101-033000.ZIP",
        "photos.zip",
    ]
    there = [*others, *nights(*range(1, 31))]
    assert not set(others) & set(to_drop(there, just_made=night(30)))


def test_the_one_just_made_stays_although_the_clock_says_1970() -> None:
    made = "hangroom-19700101-000012.zip"
    assert made not in to_drop({made, *nights(*range(1, 31))}, just_made=made)


MOMENTS = st.integers(0, 150 * 24 * 60).map(
    lambda minute: datetime(2026, 7, 3, tzinfo=UTC) + timedelta(minutes=minute)
)


@given(st.sets(MOMENTS, min_size=1, max_size=60))
def test_days_and_weeks_are_always_there_if_they_ever_were(moments: set[datetime]) -> None:
    """Counted here by another way: what is left, day by day and week by week, back from the last."""
    names = {name_of(moment) for moment in moments}
    newest = max(names)
    left = names - set(to_drop(names, just_made=newest))
    assert newest in left

    def days(some: set[str]) -> list[str]:
        return sorted({name[9:17] for name in some}, reverse=True)

    latest = days(names)[:DAYS]
    assert days(left)[: len(latest)] == latest
    for day in latest:
        assert max(name for name in names if name[9:17] == day) in left
    # Before those days: of each of the four latest weeks that ended before them, its last.
    first = latest[-1]
    mondays: dict[str, set[str]] = {}
    for name in names:
        made = made_of(name)
        assert made is not None
        mondays.setdefault(f"{made - timedelta(days=made.weekday()):%Y%m%d}", set()).add(name)
    ended = [max(week) for _monday, week in sorted(mondays.items(), reverse=True)]
    whole = [name for name in ended if name[9:17] < first][:WEEKS]
    assert set(whole) <= left
    assert len(left) <= DAYS + WEEKS
