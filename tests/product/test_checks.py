"""A group's whole record against every published figure; the pork and venison batch is invented."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hangroom.errors import InputError
from hangroom.product.checks import (
    LETHALITY_D_S,
    LETHALITY_Z_K,
    Checks,
    Record,
    check,
)
from hangroom.product.cooking import SmokerHumidity
from hangroom.product.curing import CURE_1
from hangroom.product.findings import Answer, Finding
from hangroom.product.holds import SALMONELLA_6_5_LOG
from hangroom.product.meats import usda_meat
from hangroom.product.recipe import (
    CuringLine,
    Erythorbate,
    ErythorbateLine,
    MeatLine,
    Recipe,
)
from hangroom.product.stays import Measurement, Stay, StickState
from hangroom.product.storage import Measured, Packing
from hangroom.product.temperatures import Point, celsius

HOUR, MINUTE = 3600.0, 60.0
MET, NOT_MET, NOT_SHOWN = Answer.MET, Answer.NOT_MET, Answer.NOT_SHOWN

RECIPE = Recipe(
    meats=(
        MeatLine(meat=usda_meat("10219"), weight_g=700.0),
        MeatLine(meat=usda_meat("17343"), weight_g=300.0),
    ),
    plain_salt_g=17.5,
    curing=CuringLine(curing_salt=CURE_1, weight_g=2.5),
    erythorbate=ErythorbateLine(kind=Erythorbate.SODIUM, weight_g=0.5),
    water_g=30.0,
    spice_g=10.0,
)
TURKEY = replace(RECIPE, meats=(MeatLine(meat=usda_meat("05668"), weight_g=1000.0),))


def at(*readings: tuple[float, float]) -> tuple[Point, ...]:
    """Readings as (minutes, degF)."""
    return tuple(Point(minutes * MINUTE, celsius(now_f)) for minutes, now_f in readings)


def stay(from_h: float, to_h: float, air_f: float, state: StickState) -> Stay:
    points = tuple(
        Point((from_h + 0.25 * i) * HOUR, celsius(air_f))
        for i in range(int(4 * (to_h - from_h)) + 1)
    )
    return Stay(from_s=from_h * HOUR, to_s=to_h * HOUR, state=state, points=points)


# An hour on the rail raw; five hours in the smoker to 155 degF and a minute there; an ice bath; then
# a day in a closet at 68 degF and two in a fridge at 38 degF.
WHOLE = Record(
    recipe=RECIPE,
    smoker=(SmokerHumidity(4 * HOUR, 40.0), SmokerHumidity(1.5 * HOUR, 92.0)),
    cook=at(
        *[(60 + minute, 68 + 82 * minute / 320) for minute in range(0, 320, 5)],
        *[(380 + second / 60, 150 + second / 12) for second in range(0, 60, 10)],
        (381, 155),
        (382, 155.5),
    ),
    cook_end_s=382 * MINUTE,
    chill=at(*[(383 + minute, 33 + 120 * 0.85**minute) for minute in range(30)]),
    stays=(
        stay(0, 1, 68, StickState.RAW),
        stay(7, 31, 68, StickState.COOKED),
        stay(31, 79, 38, StickState.COOKED),
    ),
)


def one(checks: Checks, what: str) -> Finding:
    (found,) = [finding for finding in checks.findings if what in finding.what]
    return found


def answers(checks: Checks) -> dict[str, Answer]:
    return {finding.what: finding.answer for finding in checks.findings}


def test_a_whole_batch_is_judged_in_the_order_of_its_making() -> None:
    checks = check(WHOLE)
    assert [(finding.what.split(":")[0][:34], finding.answer) for finding in checks.findings] == [
        ("ingoing nitrite at most 156 ppm", MET),
        ("ingoing nitrite at least 120 ppm", MET),
        ("ingoing sodium erythorbate or asco", NOT_SHOWN),  # the limit is from memory
        ("raw sticks at most 2 h above 40 °F", MET),
        ("raw stick at most 6 h between 50 °", NOT_SHOWN),  # from memory
        ("6.5-log reduction of Salmonella in", MET),
        ("7.0-log reduction of Salmonella in", MET),
        ("killing trichinae by heat", MET),
        ("humidity of 90 % or more for a qua", MET),
        ("cooling option 1, rapid chill", MET),
        ("cooling option 2, cooked-beef styl", MET),
        ("cooling option 3, slow chill of cu", MET),
        ("Californian slow cooling of cured ", NOT_SHOWN),  # brine and water activity not measured
        ("retail and home cooling rule", MET),
        ("Food Code table B (not heat-treate", NOT_SHOWN),
        ("kept at or below 41 °F (5.0 °C) un", NOT_SHOWN),
        ("hanging at 68 °F (20.0 °C)", NOT_SHOWN),
    ]
    assert checks.kept.unmeasured_warm_h == pytest.approx(24.0)


def test_every_finding_has_a_reason_and_a_source_and_what_is_not_shown_names_what_would_settle_it() -> (
    None
):
    for record in (WHOLE, Record()):
        for finding in check(record).findings:
            assert finding.because
            assert finding.source.cites
            assert bool(finding.would_settle) or finding.answer is not NOT_SHOWN


def test_an_empty_record_shows_nothing_and_passes_nothing() -> None:
    checks = check(Record())
    assert {finding.answer for finding in checks.findings} == {NOT_SHOWN}
    assert checks.information == ()


PARTS = ("recipe", "smoker", "cook", "chill", "stays", "measurements", "cook_end_s")


@given(st.sets(st.sampled_from(PARTS)))
def test_taking_evidence_away_never_turns_an_answer_into_met(gone: set[str]) -> None:
    empty = Record()
    measured = (Measurement(at_s=0.0, measured=Measured(aw=0.87, ph=6.0)),)
    full = replace(WHOLE, measurements=measured)
    less = replace(full, **{part: getattr(empty, part) for part in gone})
    before = answers(check(full))
    for what, answer in answers(check(less)).items():
        if answer is MET:
            assert before.get(what) is MET


def test_the_hold_may_be_shown_by_the_readings_of_the_chill() -> None:
    # 150 degF asks 67 s; the cook's readings stop after 30 s of it.
    short = Record(recipe=RECIPE, cook=at((0, 100), (1, 150), (1.5, 150)))
    assert one(check(short), "6.5-log").answer is NOT_SHOWN
    went_on = replace(short, chill=at((1.75, 150), (2.5, 150), (3, 100)))
    assert one(check(went_on), "6.5-log").answer is MET


def test_a_chill_is_judged_from_the_warmest_reading_wherever_it_stands() -> None:
    way_down = at(*[(383 + minute, 33 + 120 * 0.85**minute) for minute in range(30)])
    apart = check(WHOLE)
    one_logger = check(replace(WHOLE, cook=(*WHOLE.cook, *way_down), chill=()))
    assert answers(apart) == answers(one_logger)
    # The cold of the raw stick, on the way up, is no chill.
    assert one(check(replace(WHOLE, chill=())), "option 1").answer is NOT_SHOWN


def test_a_chill_probe_that_was_in_before_the_cook_ended_is_no_fault() -> None:
    early = (Point(300 * MINUTE, celsius(140)), *WHOLE.chill)
    assert answers(check(replace(WHOLE, chill=early))) == answers(check(WHOLE))


def test_the_meat_table_passes_nothing_that_may_be_poultry() -> None:
    unknown = check(replace(WHOLE, recipe=None))
    turkey = check(replace(WHOLE, recipe=TURKEY))
    for log in ("6.5-log", "7.0-log"):
        assert one(unknown, log).answer is NOT_SHOWN
        assert "recipe is not on record" in one(unknown, log).because
        assert one(turkey, log).answer is NOT_SHOWN
        assert "165 °F" in one(turkey, log).would_settle
    cold = replace(WHOLE, recipe=None, cook=at((0, 60), (60, 120), (90, 100)), chill=())
    assert one(check(cold), "6.5-log").answer is NOT_MET
    assert turkey.information == ()


def test_brine_from_the_recipe_answers_no_cooling_rule_and_a_measured_value_does() -> None:
    # 3 CCR 910.15(b): 120 ppm nitrite with 3.5 % brine, or a measured water activity of 0.92.
    slow = at(*[(383 + 60 * hour, 154 - 7 * hour) for hour in range(18)])
    salty = replace(RECIPE, plain_salt_g=60.0)
    record = replace(WHOLE, recipe=salty, chill=slow)
    brine_pct = salty.green.water_phase_salt_pct
    assert brine_pct is not None
    assert brine_pct > 6.0
    assert one(check(record), "Californian").answer is NOT_SHOWN
    measured = (Measurement(at_s=79 * HOUR, measured=Measured(aw=0.91)),)
    assert one(check(replace(record, measurements=measured)), "Californian").answer is MET


def test_room_temperature_is_told_plainly() -> None:
    found = one(check(WHOLE), "hanging at 68 °F")
    assert "Practice holds cured sticks at room temperature for days." in found.because
    assert "Published guidance does not support that for a stick that is not acid" in found.because
    assert "Measured on a stick of this group" in found.would_settle
    assert "a room at 41 °F" in found.would_settle


def test_what_was_measured_and_how_it_was_packed_are_judged_by_the_food_code() -> None:
    # Tables A and B: 0.91 at pH 6.2 asks for nothing once packed after the heat, for cold when not.
    measured = (Measurement(at_s=7 * HOUR, measured=Measured(aw=0.91, ph=6.2)),)
    for packing, answer in ((Packing.PACKED_HOT, MET), (Packing.OPEN, NOT_MET)):
        checks = check(replace(WHOLE, measurements=measured, packing=packing))
        assert one(checks, "Food Code table").answer is answer
        assert one(checks, "kept at or below").answer is answer


def test_summed_heat_is_told_and_answers_nothing() -> None:
    # Ten minutes at 140 degF are 10 / 1.77 = 5.6 log by the line, and the table asks twelve.
    ten = at((0, 40), (0.001, 140), *[(minute, 140) for minute in range(1, 11)], (10.001, 40))
    checks = check(Record(recipe=RECIPE, cook=ten))
    (heat,) = checks.information
    assert "10.0 min at 140 °F (60.0 °C)" in heat.said
    assert "5.6 log" in heat.said
    assert "no check here uses it" in heat.said
    assert one(checks, "6.5-log").answer is NOT_MET
    (long,) = check(Record(recipe=RECIPE, cook=at((0, 150), (9, 150)))).information
    assert "more than 6.5 log" in long.said


def test_the_line_behind_summed_heat_is_the_tables() -> None:
    # Least squares on log10 of the 6.5-log column: z 10.01 degF, D 1.77 min at 140 degF.
    rows = {row_f: hold_s for row_f, hold_s in SALMONELLA_6_5_LOG.holds_s.items() if hold_s > 0}
    slope, at_140 = np.polyfit([row_f - 140 for row_f in rows], np.log10(list(rows.values())), 1)
    assert pytest.approx(-1 / slope, abs=0.005) == LETHALITY_Z_K * 1.8
    assert pytest.approx(10**at_140 / 6.5, abs=0.3) == LETHALITY_D_S
    # Rounding makes the table up to 13 % stricter than its line from 130 degF with z 10, and nowhere
    # more than 0.5 % laxer. 158 degF is no time in the table, 10.7 s by the line.
    for row_f, hold_s in rows.items():
        assert -0.005 <= hold_s / (112 * MINUTE * 10 ** ((130 - row_f) / 10)) - 1 <= 0.135
    assert pytest.approx(10.7, abs=0.1) == 112 * MINUTE * 10 ** ((130 - 158) / 10)


@pytest.mark.parametrize("part", ["cook", "chill"])
def test_a_series_out_of_order_is_refused(part: str) -> None:
    with pytest.raises(InputError, match="Reading 2"):
        check(replace(Record(), **{part: at((2, 100), (1, 120))}))  # type: ignore[arg-type]
