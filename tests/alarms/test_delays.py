"""Deadband and delays on one figure, by worked example and for any history of figures."""

from math import inf, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hangroom.control.alarms.delays import Delayed, Side, above, below, delayed, whether

BEYOND, DEADBAND, WITHIN, UNKNOWN = Side.BEYOND, Side.DEADBAND, Side.WITHIN, Side.UNKNOWN


@pytest.mark.parametrize(
    ("seen_pct", "expected"),
    [
        pytest.param(85.0, BEYOND, id="exactly at the limit is past it"),
        pytest.param(84.9, DEADBAND, id="just below the limit"),
        pytest.param(83.0, WITHIN, id="back by the whole deadband"),
        pytest.param(None, UNKNOWN, id="missing"),
        pytest.param(nan, UNKNOWN, id="no number"),
        pytest.param(-inf, UNKNOWN, id="no figure a sensor can give"),
    ],
)
def test_a_figure_lies_on_one_side_of_a_high_limit_with_its_deadband(
    seen_pct: float | None, expected: Side
) -> None:
    assert above(seen_pct, limit=85.0, deadband=2.0) is expected
    mirrored = None if seen_pct is None else 160.0 - seen_pct
    assert below(mirrored, limit=75.0, deadband=2.0) is expected


def test_without_a_deadband_there_is_nothing_between_the_two_sides() -> None:
    assert above(84.999, limit=85.0) is WITHIN
    assert whether(holds=None) is UNKNOWN


def run(*looks: tuple[float, Side], start: Delayed | None = None) -> list[bool]:
    """Return the condition after each look, with 300 s to come on and 120 s to go off."""
    state, seen = start or Delayed(), []
    for uptime_s, side in looks:
        state = delayed(state, side, on_delay_s=300.0, off_delay_s=120.0, uptime_s=uptime_s)
        seen.append(state.active)
    return seen


def test_a_condition_comes_on_when_it_has_lasted_for_its_delay() -> None:
    assert run((0, BEYOND), (299, BEYOND), (300, BEYOND)) == [False, False, True]


def test_a_dip_into_the_deadband_does_not_start_the_delay_anew() -> None:
    assert run((0, BEYOND), (150, DEADBAND), (300, BEYOND))[-1]


def test_a_dip_below_the_deadband_starts_the_delay_anew() -> None:
    assert not run((0, BEYOND), (150, WITHIN), (152, BEYOND), (300, BEYOND))[-1]


def test_the_deadband_alone_starts_nothing() -> None:
    assert not any(run((0, DEADBAND), (1000, DEADBAND), (9000, DEADBAND)))


ACTIVE = Delayed(active=True)


def test_a_condition_goes_off_when_it_has_been_within_for_its_delay() -> None:
    assert run((0, WITHIN), (119, DEADBAND), (120, WITHIN), start=ACTIVE) == [True, True, False]


def test_a_missing_figure_makes_the_way_to_normal_begin_anew() -> None:
    looks = ((0, WITHIN), (60, UNKNOWN), (120, WITHIN), (239, WITHIN), (240, WITHIN))
    assert run(*looks, start=ACTIVE) == [True, True, True, True, False]


def test_a_missing_figure_keeps_the_way_to_active_but_does_not_end_it() -> None:
    assert run((0, BEYOND), (400, UNKNOWN), (402, BEYOND)) == [False, False, True]


sides = st.lists(st.tuples(st.sampled_from([2.0, 30.0, 130.0, 400.0]), st.sampled_from(Side)))


@given(sides)
def test_a_missing_figure_never_moves_a_condition(history: list[tuple[float, Side]]) -> None:
    state, uptime_s = Delayed(), 0.0
    for passed_s, side in history:
        uptime_s += passed_s
        new = delayed(state, side, on_delay_s=300.0, off_delay_s=120.0, uptime_s=uptime_s)
        if side is UNKNOWN:
            assert new.active == state.active
        if new.active != state.active:
            assert side in ({BEYOND, DEADBAND} if new.active else {WITHIN, DEADBAND})
        state = new
