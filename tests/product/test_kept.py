"""Cooked sticks over several rooms, beside what was measured by then.

FDA Food Code 2009-2022, 1-201.10(B), table B: at pH above 5.0 no temperature control is asked below
water activity 0.88 only; 3-501.16: 41 degF. All series are invented.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hangroom.errors import InputError
from hangroom.product.findings import Answer
from hangroom.product.kept import Kept, judge_kept
from hangroom.product.stays import Measurement, Stay, StickState, in_turn, known_at
from hangroom.product.storage import Measured, Packing, Warmth
from hangroom.product.temperatures import Point, celsius

HOUR = 3600.0
COLD_F, ROOM_F = 38.0, 68.0


def stay(
    from_h: float, to_h: float, air_f: float | None, state: StickState = StickState.COOKED
) -> Stay:
    """A stay with a reading every quarter of an hour, from before it until after it."""
    points = (
        ()
        if air_f is None
        else tuple(
            Point((from_h - 0.25 + 0.25 * i) * HOUR, celsius(air_f))
            for i in range(int(4 * (to_h - from_h)) + 3)
        )
    )
    return Stay(from_s=from_h * HOUR, to_s=to_h * HOUR, state=state, points=points)


def taken(at_h: float, aw: float | None = None, ph: float | None = None) -> Measurement:
    return Measurement(at_s=at_h * HOUR, measured=Measured(aw=aw, ph=ph))


def answers(kept: Kept) -> list[Answer]:
    return [finding.answer for finding in kept.findings]


NOT_SHOWN, MET, NOT_MET = Answer.NOT_SHOWN, Answer.MET, Answer.NOT_MET


@pytest.mark.parametrize(
    ("stays", "measurements", "cell", "hours", "warm_h", "unmeasured_warm_h"),
    [
        pytest.param([stay(0, 72, COLD_F)], [], NOT_SHOWN, MET, 0, 0, id="three cold days, nothing measured"),
        pytest.param([stay(0, 72, ROOM_F)], [], NOT_SHOWN, NOT_SHOWN, 72, 72, id="three warm days, nothing measured"),
        pytest.param([stay(0, 24, COLD_F), stay(24, 48, ROOM_F), stay(48, 72, COLD_F)], [], NOT_SHOWN, NOT_SHOWN, 24, 24, id="fridge, closet, fridge"),
        pytest.param([stay(48, 72, ROOM_F), stay(0, 24, ROOM_F)], [], NOT_SHOWN, NOT_SHOWN, 48, 48, id="two warm stays, entered last first"),
        pytest.param([stay(0, 72, ROOM_F)], [taken(0, 0.93, 6.0)], NOT_MET, NOT_MET, 72, 0, id="measured damp at the start"),
        pytest.param([stay(0, 72, ROOM_F)], [taken(0, 0.87, 6.0)], MET, MET, 72, 0, id="measured dry at the start"),
        pytest.param([stay(0, 72, ROOM_F)], [taken(48, 0.87, 6.0)], MET, NOT_SHOWN, 72, 48, id="dry on the third day says nothing of the first two"),
        pytest.param([stay(0, 72, ROOM_F)], [taken(48, 0.93, 6.0)], NOT_MET, NOT_MET, 72, 48, id="damp on the third day"),
        pytest.param([stay(0, 72, ROOM_F)], [taken(0, 0.93, 6.0), taken(48, 0.87)], MET, NOT_MET, 72, 0, id="damp and warm first, dry later"),
        pytest.param([stay(0, 48, COLD_F), stay(48, 72, ROOM_F)], [taken(48, 0.87, 6.0)], MET, MET, 24, 0, id="cold until measured dry"),
        pytest.param([stay(0, 24, ROOM_F), stay(24, 48, COLD_F)], [taken(24, 0.93, 6.0)], NOT_MET, NOT_SHOWN, 24, 24, id="damp when measured, and cold from then on"),
        pytest.param([stay(0, 72, ROOM_F)], [taken(0, ph=6.0)], NOT_SHOWN, NOT_SHOWN, 72, 0, id="pH alone settles nothing at 6.0"),
        pytest.param([stay(0, 72, ROOM_F)], [taken(0, ph=4.1)], MET, MET, 72, 0, id="pH alone settles it at 4.1"),
        pytest.param([stay(0, 24, COLD_F), stay(26, 48, COLD_F)], [], NOT_SHOWN, NOT_SHOWN, 0, 0, id="two hours between rooms"),
        pytest.param([stay(0, 24, COLD_F), stay(24.5, 48, COLD_F)], [], NOT_SHOWN, MET, 0, 0, id="carried over in half an hour"),
        pytest.param([stay(0, 24, ROOM_F)], [taken(0, 0.89, 4.9), taken(25, 0.91, 6.0)], NOT_MET, MET, 24, 0, id="dry while it hung, damp when measured later"),
        pytest.param([stay(0, 24, None)], [], NOT_SHOWN, NOT_SHOWN, 0, 0, id="no reading of the room"),
    ],
)  # fmt: skip
def test_hours_are_summed_over_the_stays_beside_what_was_measured_by_then(
    *,
    stays: list[Stay],
    measurements: list[Measurement],
    cell: Answer,
    hours: Answer,
    warm_h: float,
    unmeasured_warm_h: float,
) -> None:
    kept = judge_kept(stays, measurements)
    assert answers(kept)[:2] == [cell, hours]
    assert kept.hours.warm_h == pytest.approx(warm_h)
    assert kept.unmeasured_warm_h == pytest.approx(unmeasured_warm_h)


def test_room_temperature_is_told_plainly_with_what_would_change_it() -> None:
    kept = judge_kept([stay(0, 72, ROOM_F)])
    hours, room = kept.findings[1:]
    assert "72.0 h above 41 °F" in hours.because
    assert "A measurement speaks for the hours after it only." in hours.would_settle
    assert room.what == "hanging at 68 °F (20.0 °C)"
    assert room.answer is NOT_SHOWN
    assert "Practice holds cured sticks at room temperature for days." in room.because
    assert "Published guidance does not support that for a stick that is not acid" in room.because
    for change in ("Measured on a stick", "below 0.88", "a room at 41 °F"):
        assert change in room.would_settle
    assert kept.warm_room == room
    assert judge_kept([stay(0, 72, COLD_F)]).warm_room is None


def test_a_room_of_the_trades_drying_is_told_as_that() -> None:
    room = judge_kept([stay(0, 72, 55.0)]).findings[2]
    assert "Trade practice hangs cured sticks at 45 to 60 °F." in room.because
    assert "Published guidance does not support that" in room.because
    assert "at room temperature for days" not in room.because


def test_the_warmest_of_several_rooms_is_the_one_told_of() -> None:
    kept = judge_kept([stay(0, 24, 55.0), stay(24, 48, ROOM_F), stay(48, 72, COLD_F)])
    assert [finding.what for finding in kept.findings[2:]] == ["hanging at 68 °F (20.0 °C)"]


def test_warm_hours_before_a_measurement_are_told_apart_from_those_after() -> None:
    hours = judge_kept([stay(0, 72, ROOM_F)], [taken(48, 0.87, 6.0)]).findings[1]
    assert "48.0 h above 41 °F" in hours.because
    assert "Besides, 24.0 h above 41 °F (5.0 °C) with measured values" in hours.because


def test_a_warm_damp_stick_that_was_measured_raises_the_growth_warnings() -> None:
    # Borneman et al. 2009 at pH 6.0 and 0.93 is far above one in twenty.
    kept = judge_kept([stay(0, 72, ROOM_F)], [taken(0, 0.93, 6.0)])
    assert ["S. aureus" in finding.what for finding in kept.findings[3:]] == [True, False]
    assert len(judge_kept([stay(0, 72, COLD_F)], [taken(0, 0.93, 6.0)]).findings) == 2


def test_a_warm_room_is_not_held_against_a_stick_measured_dry_before_it_came_there() -> None:
    for stays in ([stay(48, 72, ROOM_F)], [stay(0, 48, COLD_F), stay(48, 72, ROOM_F)]):
        kept = judge_kept(stays, [taken(48, 0.87, 6.0)])
        assert [finding.answer for finding in kept.findings] == [MET, MET]


def test_a_door_that_stood_open_for_a_quarter_hour_is_no_warm_room() -> None:
    quarter = [Point(0.25 * i * HOUR, celsius(50.0 if i == 8 else 38.0)) for i in range(97)]
    once = Stay(from_s=0.0, to_s=24 * HOUR, state=StickState.COOKED, points=tuple(quarter))
    kept = judge_kept([once])
    # Two intervals touch the warm reading: half an hour, which is told.
    assert kept.hours.warm_h == pytest.approx(0.5)
    assert len(kept.findings) == 3
    minutes = [Point(60.0 * i, celsius(50.0 if i == 8 else 38.0)) for i in range(1441)]
    brief = Stay(from_s=0.0, to_s=24 * HOUR, state=StickState.COOKED, points=tuple(minutes))
    assert judge_kept([brief]).hours.warm_h == pytest.approx(2 / 60)
    assert len(judge_kept([brief]).findings) == 2


def test_raw_sticks_are_not_counted_here_and_no_stay_is_not_shown() -> None:
    kept = judge_kept([stay(0, 3, ROOM_F, StickState.RAW)])
    assert kept.hours == Warmth(0.0, 0.0)
    assert answers(kept) == [NOT_SHOWN, NOT_SHOWN]
    assert "No stay" in kept.findings[1].because


def test_what_was_packed_after_the_heat_is_judged_by_the_other_table() -> None:
    # Table A: water activity 0.92 and pH 6.2 ask for nothing; table B does.
    for packing, answer in ((Packing.PACKED_HOT, MET), (Packing.OPEN, NOT_MET)):
        kept = judge_kept([stay(0, 72, ROOM_F)], [taken(0, 0.92, 6.2)], packing)
        assert answers(kept)[:2] == [answer, answer]


def test_sticks_in_two_rooms_at_once_are_refused() -> None:
    with pytest.raises(InputError, match=r"Stay 2 of the cooked sticks begins 1\.0 h before"):
        judge_kept([stay(0, 24, COLD_F), stay(23, 48, COLD_F)])
    with pytest.raises(InputError, match="length of the stay"):
        stay(4, 2, None)


def test_the_newest_of_each_value_is_what_is_known() -> None:
    series = [taken(48, aw=0.90), taken(1, aw=0.95, ph=5.9), taken(24, ph=5.8)]
    assert known_at(series, 0.0) == Measured()
    assert known_at(series, 24 * HOUR) == Measured(aw=0.95, ph=5.8)
    assert known_at(series, 1e9) == Measured(aw=0.90, ph=5.8)


spans = st.lists(
    st.tuples(st.integers(0, 8), st.integers(1, 60), st.sampled_from([None, COLD_F, ROOM_F])),
    min_size=1,
    max_size=5,
)
values = st.lists(
    st.tuples(
        st.integers(0, 150),
        st.sampled_from([None, 0.86, 0.89, 0.91, 0.95]),
        st.sampled_from([None, 4.1, 4.5, 4.9, 6.0]),
    ),
    max_size=3,
)


def asks_for_nothing(known: Measured) -> bool:
    """Table B's cells without temperature control, said as routes; half measured is not enough."""
    aw = 1.0 if known.aw is None else known.aw
    ph = 9.0 if known.ph is None else known.ph
    return aw < 0.88 or ph < 4.2 or (aw <= 0.90 and ph <= 5.0) or (aw <= 0.92 and ph <= 4.6)


@given(spans, values)
def test_a_pass_is_every_quarter_hour_cold_or_measured_and_one_hour_unread_at_most(
    pieces: list[tuple[int, int, float | None]],
    taken_at: list[tuple[int, float | None, float | None]],
) -> None:
    stays: list[Stay] = []
    air: list[float | None] = []
    for gap, long, air_f in pieces:
        air += [None] * (gap if air else 0) + [air_f] * long
        stays.append(stay((len(air) - long) / 4, len(air) / 4, air_f))
    series = [taken(quarter / 4, aw, ph) for quarter, aw, ph in taken_at]
    # The same rule said quarter by quarter.
    asked = [not asks_for_nothing(known_at(series, i * HOUR / 4)) for i in range(len(air))]
    warm = [air_f == ROOM_F for air_f in air]
    unread = [air_f is None for air_f in air]
    kept = judge_kept(stays, series)
    assert kept.hours == Warmth(sum(warm) / 4, sum(unread) / 4)
    passes = not any(a and w for a, w in zip(asked, warm, strict=True)) and (
        sum(a and u for a, u in zip(asked, unread, strict=True)) <= 4 or not any(asked)
    )
    assert (answers(kept)[1] is MET) == passes
    assert kept.unmeasured_warm_h == pytest.approx(
        sum(w and known_at(series, i * HOUR / 4) == Measured() for i, w in enumerate(warm)) / 4
    )


def test_stays_of_one_state_come_in_turn_with_the_move_between() -> None:
    later, earlier = stay(25, 48, COLD_F), stay(0, 24, COLD_F)
    move = Stay(from_s=24 * HOUR, to_s=25 * HOUR, state=StickState.COOKED)
    raw = stay(0, 3, ROOM_F, StickState.RAW)
    assert in_turn([later, earlier, raw], StickState.COOKED) == (earlier, move, later)
    assert in_turn([raw], StickState.COOKED) == ()
