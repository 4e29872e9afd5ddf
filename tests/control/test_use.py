"""The sliding hour, against a count second by second."""

from collections.abc import Sequence
from itertools import accumulate

from hypothesis import given
from hypothesis import strategies as st

from hangroom.control.day import Day, carried_on, switches_in_the_day
from hangroom.control.use import (
    RelayMemory,
    ran_in_the_hour_s,
    refused,
    refused_in_the_hour,
    switches_since,
    told,
    until_next_start_s,
    until_ran_at_most_s,
)
from hangroom.terms import RelayKind

HOUR_S = 3600

# How long it stays in each position in turn, in whole seconds.
spells = st.lists(
    st.one_of(st.integers(1, 30), st.integers(300, 900), st.just(4000)), min_size=1, max_size=30
)
spells_to_open = spells.filter(lambda drawn: len(drawn) % 2 == 1)


def lived(spells: Sequence[int]) -> tuple[RelayMemory, list[bool]]:
    """Return the memory after all spells, off first, and the position in every second."""
    memory = RelayMemory(closed=False, changed_uptime_s=0.0)
    seconds: list[bool] = []
    for number, lasts_s in enumerate(spells):
        memory = told(memory, closed=number % 2 == 1, uptime_s=float(len(seconds)))
        seconds += [number % 2 == 1] * lasts_s
    return memory, seconds


@given(spells)
def test_the_running_of_the_last_hour_is_that_of_a_count_by_the_second(spells: list[int]) -> None:
    memory, seconds = lived(spells)
    ran_s = ran_in_the_hour_s(memory, uptime_s=float(len(seconds)))
    assert ran_s == sum(seconds[-HOUR_S:])


@given(spells)
def test_the_switches_of_the_last_hour_are_those_of_a_count_by_the_second(
    spells: list[int],
) -> None:
    memory, seconds = lived(spells)
    switched_s = list(accumulate(spells))[:-1]
    since_s = len(seconds) - HOUR_S
    assert switches_since(memory, since_s) == sum(at_s > since_s for at_s in switched_s)


@given(spells_to_open, st.integers(1, 5))
def test_the_next_start_is_free_once_fewer_than_the_most_lie_within_the_hour(
    spells: list[int], most: int
) -> None:
    memory, seconds = lived(spells)
    starts_s = list(accumulate(spells))[: len(spells) - 1 : 2]
    now_s = len(seconds)
    left_s = next(
        later_s
        for later_s in range(HOUR_S + 1)
        if sum(at_s > now_s + later_s - HOUR_S for at_s in starts_s) < most
    )
    assert until_next_start_s(memory, most, uptime_s=float(now_s)) == left_s


@given(spells_to_open, st.integers(0, 2000))
def test_there_is_room_again_once_enough_running_has_left_the_hour(
    spells: list[int], most_s: int
) -> None:
    memory, seconds = lived(spells)
    ran_s = [*accumulate(seconds, initial=0)]
    whole_s = ran_s[-1]
    left_s = next(
        later_s
        for later_s in range(HOUR_S + 1)
        if whole_s - ran_s[min(len(seconds), max(0, len(seconds) + later_s - HOUR_S))] <= most_s
    )
    assert until_ran_at_most_s(memory, float(most_s), uptime_s=float(len(seconds))) == left_s


def test_refused_starts_leave_the_count_after_an_hour() -> None:
    memory = RelayMemory(closed=False, changed_uptime_s=0.0)
    for uptime_s in (0.0, 1000.0, 3700.0):
        memory = refused(memory, uptime_s=uptime_s)
        memory = told(memory, closed=False, uptime_s=uptime_s)
    # Refused all the while is refused once.
    assert refused_in_the_hour(memory, uptime_s=3599.0) == 1
    assert refused_in_the_hour(memory, uptime_s=3600.0) == 0


def test_a_day_counts_the_switches_of_its_hours_and_forgets_older_ones() -> None:
    # A compressor that is switched every 10 min for two days: 144 times a day.
    kind = RelayKind.COOLING
    memory = RelayMemory(closed=False, changed_uptime_s=0.0)
    day = Day(hour_began_uptime_s=0.0)
    counts = []
    for minute in range(1, 2 * 1440 + 1):
        uptime_s = 60.0 * minute
        if minute % 10 == 5:
            memory = told(memory, closed=not memory.closed, uptime_s=uptime_s)
        day = carried_on(day, {kind: memory}, seen_since_uptime_s=0.0, uptime_s=uptime_s)
        counts.append(switches_in_the_day(day, {kind: memory}, uptime_s=uptime_s)[kind])
    assert counts[1439 - 60] == 138  # 23 h: nothing is left out
    assert all(138 <= count <= 144 for count in counts[1440:])


def test_an_hour_is_known_to_have_been_aired_only_if_the_air_was_known_all_through_it() -> None:
    fan = RelayMemory(closed=True, changed_uptime_s=2700.0)
    for seen_since_s, ratio in ((0.0, 0.25), (1.0, None), (None, None)):
        day = carried_on(
            Day(hour_began_uptime_s=0.0),
            {RelayKind.EXHAUST_FAN: fan},
            seen_since_uptime_s=seen_since_s,
            uptime_s=3600.0,
        )
        assert [hour.airing_ratio for hour in day.hours] == [ratio]
    no_fan = carried_on(Day(hour_began_uptime_s=0.0), {}, seen_since_uptime_s=0.0, uptime_s=3600.0)
    assert [hour.airing_ratio for hour in no_fan.hours] == [None]
