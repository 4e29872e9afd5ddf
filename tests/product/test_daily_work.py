"""When somebody is asked about what hangs, asked again, left alone; by hand-worked days."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hangroom.product.daily_work import (
    LEAST_BETWEEN,
    WRITTEN,
    Asked,
    GroupWork,
    Left,
    Step,
    StickWork,
    Work,
    clock_can_be_right,
    is_snoozed,
    left,
    next_step,
    salt_check_is_due,
)

DAY = timedelta(days=1)
HOUR = timedelta(hours=1)
# Hung on the first at ten; due on the second and third at eight.
HUNG_AT = datetime(2026, 11, 1, 10, tzinfo=UTC)
DUE_AT = datetime(2026, 11, 2, 8, tzinfo=UTC)
AGAIN_AFTER = 26 * HOUR
AT_MOST = 12 * HOUR


def group(
    letter: str = "A",
    *entered_at: datetime | None,
    hung_at: datetime = HUNG_AT,
    looked_at: datetime | None = None,
) -> GroupWork:
    sticks = tuple(
        StickWork(tag=f"{letter}{place}", entered_at=at) for place, at in enumerate(entered_at, 1)
    )
    return GroupWork(letter=letter, hung_at=hung_at, looked_at=looked_at, sticks=sticks)


def work(*groups: GroupWork) -> Work:
    return Work(batch_number=1, room="closet", groups=groups)


def asked(
    at: datetime = DUE_AT, *, due_at: datetime = DUE_AT, until: datetime | None = None
) -> Asked:
    return Asked(due_at=due_at, counts_from_at=due_at - 3 * HOUR, asked_at=at, snoozed_until=until)


def step(
    of: Work | None, before: Asked | None, now: datetime, *, due_at: datetime = DUE_AT
) -> Step:
    return next_step(
        of,
        before,
        due_at=due_at,
        counts_from_at=due_at - 3 * HOUR,
        now=now,
        ask_again_after=AGAIN_AFTER,
        snooze_at_most=AT_MOST,
    )


NEVER = work(group("A", None, None))


def test_what_is_left_is_each_tagged_stick_not_entered_and_each_untagged_group_not_seen() -> None:
    seen_at = DUE_AT - 2 * HOUR
    there = work(
        group("A", seen_at, None), group("B"), group("C", looked_at=seen_at),
        group("D", None, hung_at=DUE_AT + HOUR),
    )  # fmt: skip
    assert left(there, due_at=DUE_AT, counts_from_at=seen_at) == Left(tags=("A2",), letters=("B",))
    later = seen_at + timedelta(seconds=1)
    assert left(there, due_at=DUE_AT, counts_from_at=later) == Left(
        tags=("A1", "A2"), letters=("B", "C")
    )


def test_a_tagged_group_that_was_looked_at_is_still_to_be_weighed() -> None:
    there = work(group("A", None, looked_at=DUE_AT))
    assert left(there, due_at=DUE_AT, counts_from_at=DUE_AT).tags == ("A1",)


@pytest.mark.parametrize(
    ("of", "before", "now", "due_at", "expected"),
    [
        pytest.param(None, None, DUE_AT, DUE_AT, Step.NOTHING, id="nothing hangs"),
        pytest.param(NEVER, None, DUE_AT, DUE_AT, Step.ASK, id="due"),
        pytest.param(
            work(group(hung_at=DUE_AT + HOUR)), None, DUE_AT + 2 * HOUR, DUE_AT, Step.NOTHING,
            id="hung since it came due",
        ),
        pytest.param(
            work(group("A", DUE_AT - HOUR / 2)), None, DUE_AT, DUE_AT, Step.NOTHING,
            id="weighed half an hour before",
        ),
        pytest.param(
            work(group("A", DUE_AT - 4 * HOUR)), None, DUE_AT, DUE_AT, Step.ASK,
            id="weighed in the night",
        ),
        pytest.param(NEVER, asked(), DUE_AT + HOUR, DUE_AT, Step.NOTHING, id="asked an hour ago"),
        # 26 h after it was hung is noon.
        pytest.param(
            NEVER, asked(), HUNG_AT + AGAIN_AFTER - HOUR / 60, DUE_AT, Step.NOTHING,
            id="a minute before 26 h",
        ),
        pytest.param(NEVER, asked(), HUNG_AT + AGAIN_AFTER, DUE_AT, Step.ASK_AGAIN, id="26 h"),
        pytest.param(
            NEVER, asked(HUNG_AT + AGAIN_AFTER), HUNG_AT + 40 * HOUR, DUE_AT, Step.NOTHING,
            id="once more is once",
        ),
        pytest.param(
            NEVER, asked(HUNG_AT + AGAIN_AFTER), DUE_AT + DAY, DUE_AT + DAY, Step.ASK,
            id="and then with the next look",
        ),
        pytest.param(
            NEVER, asked(DUE_AT + DAY, due_at=DUE_AT + DAY), DUE_AT + DAY + 4 * HOUR, DUE_AT + DAY,
            Step.NOTHING, id="a day later no second time",
        ),
        pytest.param(
            work(group("A", DUE_AT + HOUR)), asked(), DUE_AT + 2 * HOUR, DUE_AT, Step.DONE,
            id="weighed",
        ),
        pytest.param(
            work(group("A", DUE_AT - HOUR)), asked(), DUE_AT + 2 * HOUR, DUE_AT, Step.DONE,
            id="weighed before, typed after",
        ),
        pytest.param(None, asked(), DUE_AT + HOUR, DUE_AT, Step.GONE, id="pulled"),
        pytest.param(
            work(group("A", None, hung_at=DUE_AT + HOUR)), asked(), DUE_AT + 2 * HOUR, DUE_AT,
            Step.GONE, id="moved to another room and back",
        ),
        pytest.param(
            NEVER, asked(until=DUE_AT + 5 * HOUR), HUNG_AT + AGAIN_AFTER, DUE_AT, Step.NOTHING,
            id="put off beyond 26 h",
        ),
        pytest.param(
            NEVER, asked(until=DUE_AT + HOUR), DUE_AT + HOUR, DUE_AT, Step.ASK_AGAIN,
            id="put off until now",
        ),
        pytest.param(
            NEVER, asked(until=DUE_AT + DAY + HOUR), DUE_AT + DAY, DUE_AT + DAY, Step.NOTHING,
            id="put off over the next look",
        ),
        pytest.param(
            NEVER, asked(until=DUE_AT + DAY + HOUR), DUE_AT + DAY + HOUR, DUE_AT + DAY, Step.ASK,
            id="then the next look is asked for",
        ),
        pytest.param(
            NEVER, asked(until=DUE_AT + 30 * DAY), DUE_AT + HOUR, DUE_AT, Step.ASK_AGAIN,
            id="put off by a clock that was wrong",
        ),
        pytest.param(
            NEVER, asked(due_at=DUE_AT + DAY), DUE_AT + HOUR, DUE_AT, Step.NOTHING,
            id="the clock was set back",
        ),
    ],
)  # fmt: skip
def test_what_is_done_now(
    of: Work | None, before: Asked | None, now: datetime, due_at: datetime, expected: Step
) -> None:
    assert step(of, before, now, due_at=due_at) is expected


def test_nobody_is_asked_twice_within_two_hours_however_early_the_last_entries_were() -> None:
    """Weighed at half past six, 26 h later is half past eight: half an hour after the first."""
    there = work(group("A", DUE_AT - 25.5 * HOUR, hung_at=DUE_AT - 5 * DAY))
    assert step(there, asked(), DUE_AT + HOUR / 2) is Step.NOTHING
    assert step(there, asked(), DUE_AT + LEAST_BETWEEN) is Step.ASK_AGAIN


moments = st.datetimes(
    min_value=datetime(2026, 10, 30),  # noqa: DTZ001 - hypothesis adds the zone
    max_value=datetime(2026, 11, 5),  # noqa: DTZ001
    timezones=st.just(UTC),
)


@given(
    st.one_of(st.none(), moments),
    st.one_of(st.none(), st.tuples(moments, st.one_of(st.none(), moments))),
    moments,
    st.integers(0, 3),
)
def test_whatever_happened_nobody_is_asked_while_all_is_in_or_put_off(
    entered_at: datetime | None,
    before: tuple[datetime, datetime | None] | None,
    now: datetime,
    days: int,
) -> None:
    there, due_at = work(group("A", entered_at)), DUE_AT + days * DAY
    old = None if before is None else asked(before[0], until=before[1])
    got = step(there, old, now, due_at=due_at)
    if got in {Step.ASK, Step.ASK_AGAIN}:
        assert entered_at is None or entered_at < due_at - 3 * HOUR
        until = None if old is None else old.snoozed_until
        assert until is None or not now < until <= now + AT_MOST


def test_putting_off_ends_by_itself_and_is_bounded() -> None:
    until = DUE_AT + 3 * HOUR
    assert is_snoozed(until, now=DUE_AT, at_most=AT_MOST)
    assert not is_snoozed(until, now=until, at_most=AT_MOST)
    assert not is_snoozed(until, now=DUE_AT, at_most=2 * HOUR)
    assert not is_snoozed(None, now=DUE_AT, at_most=AT_MOST)


def test_a_clock_before_this_program_or_before_its_record_is_plainly_wrong() -> None:
    assert not clock_can_be_right(datetime(1970, 1, 1, tzinfo=UTC), seen=[])
    assert not clock_can_be_right(WRITTEN - HOUR, seen=[])
    assert clock_can_be_right(DUE_AT, seen=[])
    assert clock_can_be_right(DUE_AT, seen=[DUE_AT])
    assert not clock_can_be_right(DUE_AT, seen=[DUE_AT - DAY, DUE_AT + HOUR])


def test_a_salt_check_is_due_after_half_a_year_and_where_none_was_ever_made() -> None:
    """Half a year: opendata-stuttgart/sensors-software, issue 170, as `hangroom.terms` has it."""
    assert salt_check_is_due(None, now=DUE_AT)
    assert not salt_check_is_due(DUE_AT - 181 * DAY, now=DUE_AT)
    assert salt_check_is_due(DUE_AT - 183 * DAY, now=DUE_AT)
