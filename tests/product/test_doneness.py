"""The straight-line estimate against a line drawn by hand."""

from datetime import UTC, datetime, timedelta
from math import isclose

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hangroom.product.doneness import Inspection, estimate

HUNG_AT = datetime(2026, 11, 1, 8, 0, tzinfo=UTC)


def looked(days: float, *yields_pct: float) -> Inspection:
    return Inspection(at=HUNG_AT + timedelta(days=days), yields_pct=yields_pct)


def days_after_hang(moment: datetime | None) -> float:
    assert moment is not None
    return (moment - HUNG_AT) / timedelta(days=1)


def test_a_straight_line_is_drawn_through_the_last_two_looks() -> None:
    # By hand: 88 as hung, 82 after a day, 78 after two. The last day cost 4 points; from 78 to 70
    # are 8 more: two days, day 4. Spread: the larger of the sticks' own (1, from 77 and 79) and
    # 6 % of the 10 lost (0.6). 80 % of a normal distribution lies within 1.2816 standard
    # deviations. Early: (8 - 1.2816) / 4 = 1.680 days. Late, at 55 % of the rate:
    # (8 + 1.2816) / 2.2 = 4.219 days.
    seen = estimate([looked(0, 88, 88), looked(1, 82, 82), looked(2, 77, 79)], target_yield_pct=70)
    assert seen
    assert (seen.yield_pct, seen.spread_pct, seen.loss_pct_per_day) == (78, 1, 4)
    assert not seen.arrived
    assert seen.weighed
    assert seen.window
    assert days_after_hang(seen.window.likely_at) == pytest.approx(4.0)
    assert days_after_hang(seen.window.earliest_at) == pytest.approx(2 + 1.6796, abs=1e-4)
    assert days_after_hang(seen.window.latest_at) == pytest.approx(2 + 4.2189, abs=1e-4)


def test_one_stick_has_the_spread_that_sticks_usually_have() -> None:
    # 6 % of the 10 points lost.
    seen = estimate([looked(0, 88), looked(2, 78)], target_yield_pct=70)
    assert seen
    assert isclose(seen.spread_pct, 0.6)


def test_uneven_times_between_looks_count_as_they_are() -> None:
    seen = estimate([looked(0, 88), looked(0.5, 85)], target_yield_pct=70)
    assert seen
    assert seen.loss_pct_per_day == pytest.approx(6.0)


@pytest.mark.parametrize("yield_pct", [70.0, 69.0])
def test_at_or_past_the_target_a_group_has_arrived(yield_pct: float) -> None:
    seen = estimate([looked(0, 88), looked(5, yield_pct)], target_yield_pct=70)
    assert seen
    assert seen.arrived
    assert seen.window is None


@pytest.mark.parametrize(
    "looks",
    [
        pytest.param([looked(0, 88), looked(1, 80), looked(2, 80.5)], id="weights rose"),
        pytest.param([looked(0, 88), looked(1, 80), looked(2, 80)], id="weights stayed"),
        pytest.param([looked(0, 88), looked(1, 80), looked(1, 79)], id="time stood still"),
        pytest.param([looked(0, 88), looked(2, 80), looked(1, 79)], id="time ran back"),
    ],
)
def test_without_a_loss_over_time_there_is_no_rate_and_no_window(looks: list[Inspection]) -> None:
    seen = estimate(looks, target_yield_pct=70)
    assert seen
    assert seen.loss_pct_per_day is None
    assert seen.window is None
    assert not seen.arrived


def test_before_any_weigh_in_the_usual_losses_give_a_window_and_no_likely_moment() -> None:
    # By hand: 2.8 to 12.4 % of hang weight a day, at a yield of 88: 2.464 to 10.912 points a day.
    # 18 points to lose: 18 / 10.912 = 1.650 days at the earliest, 18 / (2.464 x 0.55) = 13.28 late.
    seen = estimate([looked(0, 88, 88)], target_yield_pct=70)
    assert seen
    assert not seen.weighed
    assert seen.loss_pct_per_day is None
    assert seen.window
    assert seen.window.likely_at is None
    assert days_after_hang(seen.window.earliest_at) == pytest.approx(1.6496, abs=1e-4)
    assert days_after_hang(seen.window.latest_at) == pytest.approx(13.2822, abs=1e-4)


def test_where_nothing_was_weighed_nothing_is_said() -> None:
    assert estimate([], target_yield_pct=70) is None
    assert estimate([looked(0), looked(1)], target_yield_pct=70) is None


def test_a_look_without_weights_does_not_count() -> None:
    with_gap = estimate([looked(0, 88), looked(1), looked(2, 78)], target_yield_pct=70)
    assert with_gap == estimate([looked(0, 88), looked(2, 78)], target_yield_pct=70)


yields = st.lists(st.floats(30, 100), min_size=1, max_size=4).map(tuple)


@given(
    looks=st.lists(
        st.builds(
            Inspection,
            at=st.floats(0, 60).map(lambda days: HUNG_AT + timedelta(days=days)),
            yields_pct=yields,
        ),
        min_size=1,
        max_size=4,
    ),
    target_yield_pct=st.floats(20, 100),
)
def test_a_window_is_in_order_and_never_before_the_newest_look(
    looks: list[Inspection], target_yield_pct: float
) -> None:
    seen = estimate(looks, target_yield_pct=target_yield_pct)
    assert seen
    window = seen.window
    if window is None:
        return
    assert not seen.arrived
    likely_at = window.likely_at or window.earliest_at
    assert looks[-1].at <= window.earliest_at <= likely_at <= window.latest_at


def test_a_loss_too_small_to_arrive_by_gives_no_window() -> None:
    # A hundred-thousandth of a point in a day would put the target beyond the calendar.
    seen = estimate([looked(0, 88), looked(1, 88 - 1e-5)], target_yield_pct=50)
    assert seen
    assert seen.window is None
