"""The chill against each published option, its limits typed here a second time."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hangroom.errors import InputError
from hangroom.product.cooling import Cure, judge_cooling
from hangroom.product.findings import Answer, Finding
from hangroom.product.temperatures import Point, celsius

HOUR = 3600.0
MINUTE = 60.0
CURED = Cure(nitrite_ppm=150.0, erythorbate_ppm=300.0)


def at(*readings: tuple[float, float]) -> list[Point]:
    """Readings as (hours, degF)."""
    return [Point(hours * HOUR, celsius(now_f)) for hours, now_f in readings]


def brisk(*crossings: tuple[float, float]) -> list[Point]:
    """Readings that leave no doubt: each crossing has one just above it and one just below."""
    beside = [
        reading
        for hours, now_f in crossings
        for reading in ((hours - 0.001, now_f + 0.1), (hours, now_f), (hours + 0.001, now_f - 0.1))
    ]
    return at(*beside)


def option(name: str, found: tuple[Finding, ...]) -> Finding:
    (one,) = [finding for finding in found if name in finding.what]
    return one


RAPID, BEEF, CURED_SLOW, CALIFORNIA, HOME = (
    "option 1",
    "option 2",
    "option 3",
    "Californian",
    "retail",
)


# 130 to 80 degF in 1.5 h and 80 to 40 degF in 5 h more (Ohio State temperature sheet).
@pytest.mark.parametrize(
    ("to_80_h", "to_40_h", "answer"),
    [
        pytest.param(85 / 60, 4.9, Answer.MET, id="85 min and 4.9 h"),
        pytest.param(1.5, 5.0, Answer.MET, id="exactly on both limits"),
        pytest.param(1.52, 4.0, Answer.NOT_MET, id="a minute too long to 80"),
        pytest.param(1.0, 5.1, Answer.NOT_MET, id="saved time is not carried over"),
    ],
)
def test_rapid_chill(to_80_h: float, to_40_h: float, answer: Answer) -> None:
    chill = brisk((0, 130), (to_80_h, 80), (to_80_h + to_40_h, 40))
    assert option(RAPID, judge_cooling(chill)).answer is answer


def test_three_readings_are_enough_where_they_lie_on_the_limits() -> None:
    # The worked example as it stands: 130 to 80 degF in 85 min, 80 to 40 degF in 4.9 h.
    assert (
        option(RAPID, judge_cooling(at((0, 130), (85 / 60, 80), (85 / 60 + 4.9, 40)))).answer
        is Answer.MET
    )


def test_readings_too_far_apart_are_not_shown_rather_than_guessed() -> None:
    # Between 140 and 75 degF lie 100 minutes; the leg may have taken any part of them.
    found = option(RAPID, judge_cooling(at((0, 140), (100 / 60, 75), (3, 39))))
    assert found.answer is Answer.NOT_SHOWN
    assert "close enough together" in found.would_settle


def test_a_chill_that_is_not_over_is_not_shown_until_its_time_has_run_out() -> None:
    under_way = at((0, 130), (1, 79), (3, 60))
    overdue = at((0, 130), (1, 79), (3, 60), (6.2, 50))
    assert option(RAPID, judge_cooling(under_way)).answer is Answer.NOT_SHOWN
    assert option(RAPID, judge_cooling(overdue)).answer is Answer.NOT_MET


def test_a_start_below_the_first_temperature_is_not_shown() -> None:
    assert option(RAPID, judge_cooling(at((0, 120), (0.5, 79), (2, 39)))).answer is Answer.NOT_SHOWN


def test_warming_up_again_counts_until_it_is_cold_for_good() -> None:
    rewarmed = at((0, 130), (1, 79), (2, 39), (7, 55), (8, 39))
    assert option(RAPID, judge_cooling(rewarmed)).answer is Answer.NOT_MET


# 130 to 80 degF in 5 h, 80 to 45 degF in 10 h; 100 ppm nitrite and 250 ppm erythorbate, from memory.
@pytest.mark.parametrize(
    ("cure", "answer"),
    [
        pytest.param(CURED, Answer.MET, id="150 ppm nitrite, 300 ppm erythorbate"),
        pytest.param(Cure(nitrite_ppm=150.0), Answer.NOT_SHOWN, id="erythorbate never recorded"),
        pytest.param(Cure(nitrite_ppm=150.0, erythorbate_ppm=0.0), Answer.NOT_SHOWN, id="without erythorbate"),
        pytest.param(Cure(nitrite_ppm=99.0, erythorbate_ppm=300.0), Answer.NOT_SHOWN, id="too little nitrite"),
        pytest.param(Cure(), Answer.NOT_SHOWN, id="nothing recorded"),
    ],
)  # fmt: skip
def test_slow_chill_of_cured_product(cure: Cure, answer: Answer) -> None:
    found = option(CURED_SLOW, judge_cooling(at((0, 130), (4.5, 80), (13.5, 45)), cure=cure))
    assert found.answer is answer
    assert "from memory" in found.because


def test_slow_chill_over_its_hours_is_not_met_whatever_the_cure() -> None:
    slow = brisk((0, 130), (5.1, 80), (12, 45))
    assert option(CURED_SLOW, judge_cooling(slow, cure=CURED)).answer is Answer.NOT_MET


# Within 90 min of the cook, 120 to 80 degF in 1 h, 80 to 55 degF in 5 h, then 40 degF before packing.
@pytest.mark.parametrize(
    ("last_f", "cook_end_h", "answer"),
    [
        pytest.param(39, -0.5, Answer.MET, id="all of it"),
        pytest.param(39, None, Answer.NOT_SHOWN, id="end of the cook unknown"),
        pytest.param(39, -1.5, Answer.NOT_SHOWN, id="core late, chilling may have begun in time"),
        pytest.param(44, -0.5, Answer.NOT_SHOWN, id="not yet at 40 degF"),
    ],
)
def test_cooked_beef_style(last_f: float, cook_end_h: float | None, answer: Answer) -> None:
    chill = at((0, 120), (0.1, 119), (0.9, 80), (5.0, 55), (7.0, last_f))
    end_s = None if cook_end_h is None else cook_end_h * HOUR
    assert option(BEEF, judge_cooling(chill, cook_end_s=end_s)).answer is answer


def test_the_dropped_wording_without_the_one_hour_clause_is_not_used() -> None:
    # 120 to 55 degF in 6 h was once enough; 120 to 80 degF in 1 h is asked since.
    old = at((0, 120), (0.1, 119), (2.0, 80.1), (2.1, 80), (5.5, 55), (7, 39))
    assert option(BEEF, judge_cooling(old, cook_end_s=0.0)).answer is Answer.NOT_MET


# 3 CCR 910.15(b): 120 to 40 degF in 20 h, falling throughout, and one of three routes.
@pytest.mark.parametrize(
    ("cure", "answer"),
    [
        pytest.param(Cure(nitrite_ppm=120, brine_pct=3.5), Answer.MET, id="120 ppm and 3.5 %"),
        pytest.param(Cure(nitrite_ppm=40, brine_pct=6.0), Answer.MET, id="40 ppm and 6 %"),
        pytest.param(Cure(measured_aw=0.92), Answer.MET, id="measured 0.92"),
        pytest.param(Cure(nitrite_ppm=119, brine_pct=5.9, measured_aw=0.93), Answer.NOT_MET, id="none of the three"),
        pytest.param(Cure(nitrite_ppm=119, brine_pct=5.9), Answer.NOT_SHOWN, id="never measured"),
        pytest.param(Cure(nitrite_ppm=156), Answer.NOT_SHOWN, id="brine unknown"),
    ],
)  # fmt: skip
def test_californian_routes(cure: Cure, answer: Answer) -> None:
    falling = at((0, 121), (0.1, 119), (10, 70), (19, 40))
    assert option(CALIFORNIA, judge_cooling(falling, cure=cure)).answer is answer


def test_californian_slow_cooling_needs_a_temperature_that_falls() -> None:
    cure = Cure(nitrite_ppm=156, brine_pct=6.5)
    bouncing = at((0, 121), (0.1, 119), (10, 70), (11, 75), (19, 40))
    found = option(CALIFORNIA, judge_cooling(bouncing, cure=cure))
    assert found.answer is Answer.NOT_SHOWN
    assert "surface was not measured" in found.because
    too_long = at((0, 121), (0.1, 119), (20.3, 41), (20.4, 40))
    assert option(CALIFORNIA, judge_cooling(too_long, cure=cure)).answer is Answer.NOT_MET


# 135 to 70 degF in 2 h, 70 to 41 degF in 4 h more, 3 CCR 910.15(a).
@pytest.mark.parametrize(
    ("to_70_h", "to_41_h", "answer"),
    [(2, 4, Answer.MET), (2.1, 3, Answer.NOT_MET), (1, 4.1, Answer.NOT_MET)],
)
def test_home_rule(to_70_h: float, to_41_h: float, answer: Answer) -> None:
    chill = brisk((0, 135), (to_70_h, 70), (to_70_h + to_41_h, 41))
    assert option(HOME, judge_cooling(chill)).answer is answer


def test_an_ice_bath_read_every_minute_meets_every_option_that_asks_no_cure() -> None:
    # A 19 mm stick from 155 degF, invented series.
    bath = [Point(MINUTE * i, celsius(33 + 122 * 0.85**i)) for i in range(30)]
    found = judge_cooling(bath, cook_end_s=0.0)
    assert [option(name, found).answer for name in (RAPID, BEEF, HOME)] == [Answer.MET] * 3


def test_a_chill_that_was_never_measured_is_not_shown_by_any_option() -> None:
    for readings in ([], at((0, 155))):
        found = judge_cooling(readings, cook_end_s=0.0, cure=CURED)
        assert len(found) == 5
        assert {finding.answer for finding in found} == {Answer.NOT_SHOWN}


def test_a_series_out_of_order_is_refused() -> None:
    with pytest.raises(InputError, match="Reading 2"):
        judge_cooling(at((1, 130), (0, 80)))


@given(
    st.lists(st.tuples(st.floats(0.01, 3), st.floats(35, 150)), min_size=1, max_size=12),
    st.booleans(),
)
def test_rapid_chill_is_never_met_beyond_its_hours_by_any_reading(
    steps: list[tuple[float, float]], known: bool
) -> None:
    hours, readings = 0.0, []
    for step_h, now_f in steps:
        hours += step_h
        readings.append((hours, now_f))
    found = option(RAPID, judge_cooling(at(*readings), cure=CURED if known else None))
    if found.answer is Answer.MET:
        left_h = max(
            at_h for at_h, _ in readings[: next(i for i, r in enumerate(readings) if r[1] < 130)]
        )
        at_80_h = next(
            at_h
            for i, (at_h, _) in enumerate(readings)
            if all(r[1] <= 80.000001 for r in readings[i:])
        )
        at_40_h = next(
            at_h
            for i, (at_h, _) in enumerate(readings)
            if all(r[1] <= 40.000001 for r in readings[i:])
        )
        assert at_80_h - left_h <= 1.5 + 1e-9
        assert at_40_h - left_h <= 6.5 + 1e-9
