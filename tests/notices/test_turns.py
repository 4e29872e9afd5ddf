"""Whose turn it is: quiet hours, the ladder of tries, and rules that hold for any history."""

from datetime import UTC, datetime, time, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hangroom.notices.turns import (
    HOUR_S,
    MOST_OPEN,
    MOST_TRIES,
    Line,
    Rules,
    next_turn,
    retry_after_s,
)
from hangroom.product.notice import Kind, Notice, Stamp, Urgency
from hangroom.store.deliveries import Message, State, Waiting

NOW = datetime(2026, 11, 26, 14, 0, tzinfo=UTC)


def stamp(before_s: float = 0.0, boot: str = "now") -> Stamp:
    return Stamp(boot_id=boot, uptime_s=1e6 - before_s, at=NOW - timedelta(seconds=before_s))


def waiting(urgency: Urgency, before_s: float, number: int = 1) -> Waiting:
    return Waiting(
        number=number,
        notice=Notice(
            key=str(number),
            kind=Kind.ALARM,
            urgency=urgency,
            reaches=urgency,
            title="t",
            text="x",
            made_at=NOW,
        ),
        made=stamp(before_s),
    )


def message(number: int, tries: int, before_s: float, state: State, *, high: bool) -> Message:
    return Message(
        number=number,
        token=str(number),
        channel="one",
        high=high,
        state=state,
        tries=tries,
        tried=stamp(before_s),
        why="",
    )


@pytest.mark.parametrize(
    ("quiet_from", "quiet_until", "local", "quiet"),
    [
        ("22:00", "06:30", "21:59", False),
        ("22:00", "06:30", "22:00", True),
        ("22:00", "06:30", "00:00", True),
        ("22:00", "06:30", "06:29", True),
        ("22:00", "06:30", "06:30", False),
        ("13:00", "15:00", "14:00", True),
        ("13:00", "15:00", "15:00", False),
        ("13:00", "15:00", "02:00", False),
    ],
)
def test_quiet_hours_may_reach_over_midnight(
    quiet_from: str, quiet_until: str, local: str, *, quiet: bool
) -> None:
    rules = Rules(
        quiet_from=time.fromisoformat(quiet_from), quiet_until=time.fromisoformat(quiet_until)
    )
    assert rules.is_quiet(time.fromisoformat(local)) == quiet


def test_the_ladder_ends_after_three_days_of_tries() -> None:
    """1, 5, 15, 60 min, then hourly up to 3 days: the task's own figures."""
    assert [retry_after_s(tries) / 60 for tries in range(1, 7)] == [1, 5, 15, 60, 60, 60]
    last_s = sum(retry_after_s(tries) for tries in range(1, MOST_TRIES))
    assert 71 * HOUR_S <= last_s <= 72 * HOUR_S
    assert last_s + retry_after_s(MOST_TRIES) > 72 * HOUR_S


URGENCIES = st.sampled_from(list(Urgency))
AGES_S = st.floats(0.0, 7200.0)
WAITING = st.lists(st.builds(waiting, URGENCIES, AGES_S, st.integers(1, 9)), max_size=4)
MESSAGES = st.lists(
    st.builds(
        message,
        st.integers(1, 50),
        st.integers(1, 80),
        AGES_S,
        st.sampled_from([State.SENDING, State.WAITING]),
        high=st.booleans(),
    ),
    max_size=5,
    unique_by=lambda one: one.number,
)
RECENT = st.lists(
    st.builds(
        message,
        st.integers(51, 99),
        st.just(1),
        AGES_S,
        st.just(State.DELIVERED),
        high=st.just(False),
    ),
    max_size=8,
    unique_by=lambda one: one.number,
)


@settings(deadline=None)
@given(waits=WAITING, opened=MESSAGES, recent=RECENT, night=st.booleans())
def test_whatever_has_happened_the_rules_hold(
    waits: list[Waiting], opened: list[Message], recent: list[Message], *, night: bool
) -> None:
    line = Line(channel="one", waiting=waits, open=opened, recent=recent)
    rules = Rules(quiet_from=time(22), quiet_until=time(6), most_per_hour=6)
    turn = next_turn([line], rules, now=stamp(), local=time(2 if night else 12))
    urgent = [one for one in waits if one.notice.urgency is Urgency.HIGH]
    if urgent:
        assert turn is not None
        assert turn.high
    if turn is None:
        return
    if turn.again:
        passed_s = stamp().since_s(turn.again.tried)
        assert passed_s >= retry_after_s(turn.again.tries)
    if turn.high:
        return
    assert not night
    others = [
        one
        for one in (*recent, *opened)
        if not one.high
        and stamp().since_s(one.tried) < HOUR_S
        and (turn.again is None or one.number != turn.again.number)
    ]
    assert len(others) < 6
    if turn.new:
        assert len([one for one in opened if not one.high]) < MOST_OPEN
        assert {one.number for one in turn.new} == {
            one.number for one in waits if one.notice.urgency is not Urgency.HIGH
        }


@pytest.mark.parametrize(
    ("then", "seconds"),
    [
        (Stamp(boot_id="now", uptime_s=1e6 - 50, at=NOW + timedelta(days=400)), 50.0),
        (Stamp(boot_id="old", uptime_s=5.0, at=NOW - timedelta(seconds=70)), 70.0),
        (Stamp(boot_id="old", uptime_s=9e9, at=NOW + timedelta(seconds=70)), float("inf")),
    ],
)
def test_within_a_run_of_the_machine_the_wall_clock_does_not_count(
    then: Stamp, seconds: float
) -> None:
    assert stamp().since_s(then) == seconds
