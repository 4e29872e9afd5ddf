"""The cook against the published tables; every cell stands here a second time, typed by itself."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hangroom.errors import InputError
from hangroom.product.cooking import (
    SmokerHumidity,
    judge_cook,
    judge_hold,
    judge_smoker_humidity,
    judge_trichinae,
    judge_warming,
)
from hangroom.product.findings import Answer, Standing
from hangroom.product.holds import SALMONELLA_6_5_LOG, SALMONELLA_7_0_LOG, TRICHINAE, HoldTable
from hangroom.product.temperatures import Point, celsius

# FSIS Appendix A, meat: "degF 6.5-log 7.0-log", minutes to 145 degF, seconds from 146 degF.
APPENDIX_A_MIN = "130 112 121  131 89 97  132 71 77  133 56 62  134 45 47  135 36 37  136 28 32  137 23 24  138 18 19  139 15 15  140 12 12  141 9 10  142 8 8  143 6 6  144 5 5  145 4 4"
APPENDIX_A_S = "146 169 182  147 134 144  148 107 115  149 85 91  150 67 72  151 54 58  152 43 46  153 34 37  154 27 29  155 22 23  156 17 19  157 14 15  158 0 0  159 0 0  160 0 0"


def rows(printed: str) -> list[tuple[int, int, int]]:
    figures = [int(word) for word in printed.split()]
    return list(zip(figures[::3], figures[1::3], figures[2::3], strict=True))


def at(*readings: tuple[float, float]) -> list[Point]:
    """Readings as (seconds, degF)."""
    return [Point(at_s, celsius(now_f)) for at_s, now_f in readings]


def cook(hold_f: float, hold_s: float) -> list[Point]:
    """Readings that show exactly one hold, and cooler air on both sides a second away."""
    return (
        at((-1, 100), (0, hold_f), (hold_s, hold_f), (hold_s + 1, 100))
        if hold_s > 0
        else at((-1, 100), (0, hold_f), (1, 100))
    )


@pytest.mark.parametrize(
    ("row_f", "six", "seven", "unit_s"),
    [(*row, 60) for row in rows(APPENDIX_A_MIN)] + [(*row, 1) for row in rows(APPENDIX_A_S)],
)
def test_every_cell_of_appendix_a_is_stored_as_printed(
    row_f: int, six: int, seven: int, unit_s: int
) -> None:
    assert SALMONELLA_6_5_LOG.hold_s(celsius(row_f)) == six * unit_s
    assert SALMONELLA_7_0_LOG.hold_s(celsius(row_f)) == seven * unit_s


def test_both_columns_have_the_slope_published_for_them() -> None:
    # z by least squares on log10 of the 130 to 157 degF rows: 10.01 and 10.02 degF. Goodfellow &
    # Brown 1978: D 61.5 min at 125 degF and 0.65 min at 145 degF, which is z 10.12 degF.
    for table, published_f in ((SALMONELLA_6_5_LOG, 10.01), (SALMONELLA_7_0_LOG, 10.02)):
        held = [(row_f, hold_s) for row_f, hold_s in table.holds_s.items() if hold_s > 0]
        slope, _ = np.polyfit(
            [row_f for row_f, _ in held], np.log10([hold_s for _, hold_s in held]), 1
        )
        assert -1 / slope == pytest.approx(published_f, abs=0.05)
        assert -1 / slope == pytest.approx(20 / math.log10(61.5 / 0.65), abs=0.15)


def test_the_table_is_not_regenerated_from_its_slope() -> None:
    # 145 degF is printed as 4 min; z 10 degF from 130 degF would give 3.54 min.
    assert SALMONELLA_6_5_LOG.holds_s[145] == 240
    regenerated_s = 60 * 112 * 10 ** ((130 - 145) / 10)
    assert regenerated_s == pytest.approx(60 * 3.54, abs=0.5)


@pytest.mark.parametrize(
    ("hold_f", "hold_s", "six", "seven"),
    [
        pytest.param(150, 60, Answer.NOT_MET, Answer.NOT_MET, id="60 s at 150 degF: 67 s asked"),
        pytest.param(150, 67, Answer.MET, Answer.NOT_MET, id="67 s at 150 degF: 72 s asked for 7-log"),
        pytest.param(150, 72, Answer.MET, Answer.MET, id="72 s at 150 degF"),
        pytest.param(152, 43, Answer.MET, Answer.NOT_MET, id="43 s at 152 degF: 46 s asked for 7-log"),
        pytest.param(158.0, 0, Answer.MET, Answer.MET, id="158 degF for a moment"),
        pytest.param(157.9, 0, Answer.NOT_MET, Answer.NOT_MET, id="just under 158 degF for a moment"),
        pytest.param(129.9, 86_400, Answer.NOT_MET, Answer.NOT_MET, id="a day at 129.9 degF earns nothing"),
        pytest.param(150.9, 67, Answer.MET, Answer.NOT_MET, id="150.9 degF counts as 150"),
        pytest.param(149.9, 72, Answer.NOT_MET, Answer.NOT_MET, id="149.9 degF counts as 149"),
        pytest.param(200, 0, Answer.MET, Answer.MET, id="hotter than the last row"),
    ],
)  # fmt: skip
def test_a_hold_is_judged_by_the_row_at_or_below_it(
    hold_f: float, hold_s: float, six: Answer, seven: Answer
) -> None:
    assert [finding.answer for finding in judge_cook(cook(hold_f, hold_s), poultry=False)] == [
        six,
        seven,
    ]


@pytest.mark.parametrize(("held_min", "answer"), [(29, Answer.NOT_MET), (30, Answer.MET)])
def test_trichinae_at_130_degrees_need_half_an_hour(held_min: int, answer: Answer) -> None:
    # 9 CFR 318.10(c)(1) as it stood until 2018. Readings every minute: a long hold in one step is a gap.
    held = [(60.0 * minute, 130.0) for minute in range(held_min + 1)]
    assert judge_trichinae(at((-1, 100), *held, (60 * held_min + 1, 100))).answer is answer


# 9 CFR 318.10(c)(1): degF and minutes.
@pytest.mark.parametrize(
    ("row_f", "minutes"),
    [
        (120, 1260),
        (122, 570),
        (124, 270),
        (126, 120),
        (128, 60),
        (130, 30),
        (132, 15),
        (134, 6),
        (136, 3),
        (138, 2),
        (140, 1),
        (142, 1),
        (144, 0),
        (143.9, 1),
        (121, 1260),
    ],
)
def test_every_cell_of_the_trichinae_table_is_stored_as_printed(
    row_f: float, minutes: float
) -> None:
    assert TRICHINAE.hold_s(celsius(row_f)) == minutes * 60


def test_appendix_a_is_the_stricter_table_wherever_both_have_a_row() -> None:
    for row_f in range(130, 158):
        trichinae_s, salmonella_s = (
            TRICHINAE.hold_s(celsius(row_f)),
            SALMONELLA_6_5_LOG.holds_s[row_f],
        )
        assert trichinae_s is not None
        assert salmonella_s >= trichinae_s


def test_two_short_holds_do_not_add_up() -> None:
    broken = at((0, 100), (10, 150), (50, 150), (51, 140), (52, 150), (92, 150), (93, 100))
    assert judge_hold(broken, SALMONELLA_6_5_LOG).answer is Answer.NOT_MET


def test_a_rising_core_is_credited_with_the_time_at_or_above_a_row() -> None:
    rising = at((0, 148), (30, 151), (60, 152), (90, 153), (100, 120))
    found = judge_hold(rising, SALMONELLA_6_5_LOG)
    assert found.answer is Answer.MET  # 60 s at or above 151 degF, 54 s asked
    assert "151 °F" in found.because


def test_hot_readings_far_apart_do_not_show_that_it_stayed_hot() -> None:
    far = at((-1, 100), (0, 145), (3600, 145), (3601, 100))
    found = judge_hold(far, SALMONELLA_6_5_LOG)
    assert found.answer is Answer.NOT_SHOWN
    assert "closer together" in found.would_settle


def test_readings_that_stop_while_the_stick_is_hot_are_not_shown_either_way() -> None:
    found = judge_hold(at((0, 100), (600, 150), (630, 150)), SALMONELLA_6_5_LOG)
    assert found.answer is Answer.NOT_SHOWN


def test_a_cook_that_was_not_measured_is_not_shown() -> None:
    assert {finding.answer for finding in judge_cook([], poultry=False)} == {Answer.NOT_SHOWN}
    assert judge_trichinae([]).answer is Answer.NOT_SHOWN


def test_the_meat_table_is_never_used_for_poultry() -> None:
    for finding in judge_cook(cook(160, 600), poultry=True):
        assert finding.answer is Answer.NOT_SHOWN
        assert "165 °F" in finding.would_settle


def test_a_hold_at_the_doubtful_low_end_is_met_with_the_doubt_beside_it() -> None:
    low = at((-1, 100), *[(60.0 * minute, 130.0) for minute in range(122)], (7261, 100))
    low_end, higher = (
        judge_hold(low, SALMONELLA_7_0_LOG),
        judge_hold(cook(150, 72), SALMONELLA_7_0_LOG),
    )
    assert low_end.answer is higher.answer is Answer.MET
    assert "did not reproduce" in low_end.because
    assert "did not reproduce" not in higher.because


@pytest.mark.parametrize(
    "series",
    [
        at((0, 100), (60, 120), (30, 140)),
        at((0, 100), (0, 120)),
        [Point(0.0, math.nan)],
        [Point(math.inf, 60.0)],
    ],
)
def test_a_series_out_of_order_or_with_no_number_is_refused(series: list[Point]) -> None:
    with pytest.raises(InputError, match="Reading"):
        judge_cook(series, poultry=False)
    with pytest.raises(InputError, match="Reading"):
        judge_warming(series)


readings = st.lists(st.tuples(st.floats(1, 2000), st.floats(90, 170)), max_size=25).map(
    lambda steps: at(
        *zip(
            itertools.accumulate(step_s for step_s, _ in steps),
            (now_f for _, now_f in steps),
            strict=True,
        )
    )
)


@given(readings, st.sampled_from([SALMONELLA_6_5_LOG, SALMONELLA_7_0_LOG, TRICHINAE]))
def test_met_means_that_one_row_was_held_by_readings_alone(
    points: list[Point], table: HoldTable
) -> None:
    # The same rule said the long way round: some unbroken run of readings, none further apart than
    # ten minutes, whose coldest reading earns a row that asks no longer than the run.
    shown = False
    for first, last in itertools.combinations_with_replacement(range(len(points)), 2):
        run = points[first : last + 1]
        asked_s = table.hold_s(min(point.temperature_c for point in run))
        close = all(b.at_s - a.at_s <= 600 for a, b in itertools.pairwise(run))
        shown |= asked_s is not None and close and run[-1].at_s - run[0].at_s >= asked_s
    assert (judge_hold(points, table).answer is Answer.MET) == shown


HOUR = 3600.0


# Humidity of 90 % or more for a quarter of the cook and never under an hour (FSIS, 1999/2012 text).
@pytest.mark.parametrize(
    ("parts", "answer"),
    [
        pytest.param([(HOUR, 92), (3 * HOUR, 40)], Answer.MET, id="one hour of four"),
        pytest.param([(HOUR, 92), (3.1 * HOUR, 40)], Answer.NOT_MET, id="less than a quarter"),
        pytest.param([(0.9 * HOUR, 95), (HOUR, 40)], Answer.NOT_MET, id="half of it, but under an hour"),
        pytest.param([(HOUR, 89.9), (3 * HOUR, 40)], Answer.NOT_MET, id="just too dry"),
        pytest.param([(HOUR, None), (3 * HOUR, 40)], Answer.NOT_SHOWN, id="the moist hour not measured"),
        pytest.param([(0.5 * HOUR, None), (3 * HOUR, 40)], Answer.NOT_MET, id="the gap is too short to matter"),
        pytest.param([], Answer.NOT_SHOWN, id="nothing recorded"),
    ],
)  # fmt: skip
def test_smoker_humidity(parts: list[tuple[float, float | None]], answer: Answer) -> None:
    found = judge_smoker_humidity([SmokerHumidity(lasted_s, pct) for lasted_s, pct in parts])
    assert found.answer is answer


def test_a_smoker_humidity_that_cannot_be_is_refused() -> None:
    for part in (SmokerHumidity(-1.0, 50.0), SmokerHumidity(60.0, 101.0)):
        with pytest.raises(InputError):
            judge_smoker_humidity([part])


def test_a_long_way_up_is_noticed_and_a_short_one_is_no_pass() -> None:
    # At most 6 h between 50 and 130 degF (2021 guideline, from memory).
    slow = judge_warming(at((0, 40), (HOUR, 60), (7.5 * HOUR, 120), (8 * HOUR, 150)))
    quick = judge_warming(at((0, 40), (HOUR, 60), (3 * HOUR, 120), (4 * HOUR, 150)))
    assert slow.answer is Answer.NOT_MET
    assert quick.answer is Answer.NOT_SHOWN
    assert quick.source.standing is Standing.MEMORY
    # Hours in the cold before it do not count, nor does cooling through the range afterwards.
    chilled_first = at((0, 38), (10 * HOUR, 38), (11 * HOUR, 60), (12 * HOUR, 140))
    assert judge_warming(chilled_first).answer is Answer.NOT_SHOWN
    assert (
        judge_warming(at((0, 40), (HOUR, 140), (2 * HOUR, 120), (20 * HOUR, 60))).answer
        is Answer.NOT_SHOWN
    )
