"""The Food Code's tables, cell by cell, and what is said about rooms warmer than 41 degF."""

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hangroom.errors import InputError
from hangroom.product.findings import Answer
from hangroom.product.storage import (
    TABLE_A,
    TABLE_B,
    Cell,
    Measured,
    Packing,
    Warmth,
    judge_food_code,
    judge_warm_hanging,
    judge_warmth,
    warmth,
)
from hangroom.product.temperatures import Point, celsius

HOUR = 3600.0

# FDA Food Code 1-201.10(B) as adopted by Tennessee, Georgia and Texas. N: needs no control, P: product
# assessment. One figure well inside each row and column, and each printed edge in its own row.
TABLE_B_AW = [
    (0.70, 0),
    (0.8799, 0),
    (0.88, 1),
    (0.90, 1),
    (0.9001, 2),
    (0.92, 2),
    (0.9201, 3),
    (0.97, 3),
]
TABLE_B_PH = [(4.0, 0), (4.19, 0), (4.2, 1), (4.6, 1), (4.61, 2), (5.0, 2), (5.01, 3), (6.2, 3)]
TABLE_B_CELLS = ["NNNN", "NNNP", "NNPP", "NPPP"]
TABLE_A_AW = [(0.80, 0), (0.92, 0), (0.9201, 1), (0.95, 1), (0.9501, 2), (0.98, 2)]
TABLE_A_PH = [(4.0, 0), (4.6, 0), (4.61, 1), (5.6, 1), (5.61, 2), (6.2, 2)]
TABLE_A_CELLS = ["NNN", "NNP", "NPP"]
WORD = {"N": Answer.MET, "P": Answer.NOT_MET}


@pytest.mark.parametrize(("aw", "row"), TABLE_B_AW)
@pytest.mark.parametrize(("ph", "column"), TABLE_B_PH)
def test_every_cell_and_edge_of_table_b(aw: float, row: int, ph: float, column: int) -> None:
    assert judge_food_code(Measured(aw=aw, ph=ph)).answer is WORD[TABLE_B_CELLS[row][column]]


@pytest.mark.parametrize(("aw", "row"), TABLE_A_AW)
@pytest.mark.parametrize(("ph", "column"), TABLE_A_PH)
def test_every_cell_and_edge_of_table_a(aw: float, row: int, ph: float, column: int) -> None:
    found = judge_food_code(Measured(aw=aw, ph=ph), Packing.PACKED_HOT)
    assert found.answer is WORD[TABLE_A_CELLS[row][column]]


@pytest.mark.parametrize(
    ("aw", "ph", "answer"),
    [(0.87, 6.0, Answer.MET), (0.89, 6.0, Answer.NOT_MET), (0.89, 4.9, Answer.MET), (0.91, 4.9, Answer.NOT_MET), (0.93, 4.5, Answer.NOT_MET), (0.93, 4.1, Answer.MET)],
)  # fmt: skip
def test_a_hanging_stick_by_the_worked_examples(aw: float, ph: float, answer: Answer) -> None:
    assert judge_food_code(Measured(aw=aw, ph=ph)).answer is answer


@pytest.mark.parametrize(
    ("aw", "ph", "answer"),
    [(0.94, 5.8, Answer.NOT_MET), (0.94, 5.5, Answer.MET), (0.92, 6.2, Answer.MET)],
)
def test_a_stick_packed_after_the_heat_by_the_worked_examples(
    aw: float, ph: float, answer: Answer
) -> None:
    assert judge_food_code(Measured(aw=aw, ph=ph), Packing.PACKED_HOT).answer is answer


@pytest.mark.parametrize(
    ("measured", "answer"),
    [
        pytest.param(Measured(), Answer.NOT_SHOWN, id="nothing measured"),
        pytest.param(Measured(aw=0.89), Answer.NOT_SHOWN, id="0.89 hangs on the pH"),
        pytest.param(Measured(ph=4.9), Answer.NOT_SHOWN, id="4.9 hangs on the water activity"),
        pytest.param(Measured(ph=6.0), Answer.NOT_SHOWN, id="6.0 hangs on the water activity"),
        pytest.param(Measured(aw=0.87), Answer.MET, id="below 0.88 the whole row reads the same"),
        pytest.param(Measured(ph=4.1), Answer.MET, id="below 4.2 the whole column reads the same"),
    ],
)
def test_one_measurement_answers_only_where_the_other_cannot_matter(
    measured: Measured, answer: Answer
) -> None:
    found = judge_food_code(measured)
    assert found.answer is answer
    assert bool(found.would_settle) == (answer is Answer.NOT_SHOWN)


@given(st.none() | st.floats(0.3, 1), st.none() | st.floats(3, 9), st.sampled_from(Packing))
def test_missing_evidence_is_never_a_pass(
    aw: float | None, ph: float | None, packing: Packing
) -> None:
    answer = judge_food_code(Measured(aw=aw, ph=ph), packing).answer
    # Whatever is missing, put in the worst: a wet stick that is not acid.
    worst = judge_food_code(
        Measured(aw=0.99 if aw is None else aw, ph=7.0 if ph is None else ph), packing
    ).answer
    if answer is Answer.MET:
        assert worst is Answer.MET
    if aw is None and ph is None:
        assert answer is Answer.NOT_SHOWN


@given(st.floats(0.3, 1), st.floats(3, 9), st.floats(0, 0.3), st.floats(0, 2))
def test_drier_or_more_acid_is_never_judged_harder(
    aw: float, ph: float, drier: float, more_acid: float
) -> None:
    for table in (TABLE_A, TABLE_B):
        if table.possible(Measured(aw=aw, ph=ph)) == {Cell.NON_TCS}:
            better = Measured(aw=max(0.3, aw - drier), ph=max(3.0, ph - more_acid))
            assert table.possible(better) == {Cell.NON_TCS}


@pytest.mark.parametrize(
    ("aw", "ph"),
    [(1.01, None), (90.0, None), (math.nan, None), (0.0, None), (None, 60.0), (None, 0.0)],
)
def test_measured_values_that_cannot_be_are_refused(aw: float | None, ph: float | None) -> None:
    with pytest.raises(InputError, match="measured"):
        Measured(aw=aw, ph=ph)


def stay(
    *readings: tuple[float, float],
    start_h: float = 0.0,
    end_h: float = 4.0,
    longest_gap_s: float = HOUR,
) -> Warmth:
    points = [Point(hours * HOUR, celsius(air_f)) for hours, air_f in readings]
    return warmth(points, start_s=start_h * HOUR, end_s=end_h * HOUR, longest_gap_s=longest_gap_s)


def test_hours_above_41_degrees_count_where_either_end_is_warm() -> None:
    assert stay((0, 41), (1, 41), (2, 45), (3, 41), (4, 41)) == Warmth(2.0, 0.0)
    assert stay((0, 41), (1, 41), (2, 41), (3, 41), (4, 41)) == Warmth(0.0, 0.0)


def test_hours_without_readings_are_unknown_not_cold() -> None:
    assert stay((1, 38), (3, 38)) == Warmth(0.0, 4.0)
    assert stay((1, 38), (2, 38)) == Warmth(0.0, 3.0)
    assert stay() == Warmth(0.0, 4.0)


def test_readings_outside_the_stay_do_not_count() -> None:
    assert stay((-2, 60), (-1, 60), (0, 40), (1, 40), (2, 40), (3, 40), (4, 40), (5, 60)) == Warmth(
        0.0, 0.0
    )


def test_a_stay_that_ends_before_it_starts_is_refused() -> None:
    with pytest.raises(InputError, match="length of the stay"):
        stay(start_h=4.0, end_h=0.0)


@given(st.lists(st.tuples(st.floats(0.01, 2), st.floats(30, 60)), max_size=15), st.floats(1, 40))
def test_every_hour_of_a_stay_is_warm_cold_or_unknown(
    steps: list[tuple[float, float]], end_h: float
) -> None:
    times_h = itertools.accumulate(step_h for step_h, _ in steps)
    found = stay(*zip(times_h, (air_f for _, air_f in steps), strict=True), end_h=end_h)
    assert found.warm_h >= 0
    assert found.unknown_h >= 0
    assert found.warm_h + found.unknown_h <= end_h + 1e-9


DRY, DAMP, UNMEASURED = Measured(aw=0.86, ph=6.0), Measured(aw=0.93, ph=6.0), Measured()


@pytest.mark.parametrize(
    ("hours", "measured", "answer"),
    [
        pytest.param(Warmth(0.0, 0.0), UNMEASURED, Answer.MET, id="cold throughout"),
        pytest.param(
            Warmth(0.0, 0.9), UNMEASURED, Answer.MET, id="cold, but for the carrying over"
        ),
        pytest.param(Warmth(0.0, 1.1), UNMEASURED, Answer.NOT_SHOWN, id="hours without readings"),
        pytest.param(
            Warmth(20.0, 0.0), UNMEASURED, Answer.NOT_SHOWN, id="warm, neither aw nor pH measured"
        ),
        pytest.param(
            Warmth(20.0, 0.0), Measured(ph=6.0), Answer.NOT_SHOWN, id="warm, only pH measured"
        ),
        pytest.param(Warmth(20.0, 0.0), DAMP, Answer.NOT_MET, id="warm, and measured to need cold"),
        pytest.param(Warmth(20.0, 3.0), DRY, Answer.MET, id="warm, and measured to need none"),
    ],
)
def test_hours_above_41_degrees_beside_what_was_measured(
    hours: Warmth, measured: Measured, answer: Answer
) -> None:
    found = judge_warmth(hours, measured)
    assert found.answer is answer
    assert f"{hours.warm_h:.1f} h above 41 °F" in found.because


def test_a_warm_room_with_nothing_measured_is_told_plainly_and_what_would_change_it() -> None:
    found = judge_warm_hanging(celsius(68), UNMEASURED)
    assert found.answer is Answer.NOT_SHOWN
    assert "Published guidance does not support" in found.because
    assert "King et al." in found.because
    assert "60 °F" in found.because
    for route in ("below 0.88", "pH 5.0", "pH 4.6", "below 4.2", "41 °F"):
        assert route in found.would_settle


def test_the_routes_named_to_the_keeper_are_the_tables_own() -> None:
    for route in (
        Measured(aw=0.8799),
        Measured(aw=0.90, ph=5.0),
        Measured(aw=0.92, ph=4.6),
        Measured(ph=4.19),
    ):
        assert judge_warm_hanging(celsius(68), route).answer is Answer.MET


def test_a_warm_room_with_a_damp_measured_stick_is_not_met() -> None:
    found = judge_warm_hanging(celsius(50), DAMP)
    assert found.answer is Answer.NOT_MET
    assert "grows markedly faster" not in found.because
    assert "grows markedly faster" in judge_warm_hanging(celsius(61), DAMP).because


def test_a_room_at_41_degrees_asks_for_nothing_more() -> None:
    assert judge_warm_hanging(celsius(41), UNMEASURED).answer is Answer.MET
    assert judge_warm_hanging(celsius(41.1), UNMEASURED).answer is Answer.NOT_SHOWN


def test_a_room_that_cannot_be_is_refused() -> None:
    with pytest.raises(InputError, match="room's temperature"):
        judge_warm_hanging(math.nan, DRY)
