"""A record and the rooms' air become evidence, and evidence answers in the right order.

Limits: FSIS Appendix A asks 12 min at 140 degF and 67 s at 150 degF of the meat's coldest point
(6.5-log column); FDA Food Code 3-501.16: 41 degF. All series are invented.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

import pytest
from CoolProp.HumidAirProp import HAPropsSI
from web.entries import EMPTY, NOW, air, meat, no_air, series, stay, step

from hangroom.product.findings import Answer
from hangroom.product.stays import StickState
from hangroom.store.record.series import SeriesKind
from hangroom.store.record.steps import StepKind
from hangroom_web.batch_view.evidence import evidence
from hangroom_web.batch_view.judged import ORDER, Judged, Part, judged, say_counts

MET, NOT_MET, NOT_SHOWN = Answer.MET, Answer.NOT_MET, Answer.NOT_SHOWN


def answer(found: Judged, what: str, letter: str = "A") -> Answer:
    (figure,) = [f for f in found.figures if what in f.what and letter in f.groups]
    return figure.answer


def test_nothing_recorded_is_nothing_met() -> None:
    found = judged(EMPTY, air=no_air, now=NOW)
    assert {figure.answer for figure in found.figures} == {NOT_SHOWN}
    assert say_counts(found.counts) == f"0 not met, {len(found.figures)} not shown, 0 met"


@pytest.fixture
def mixed() -> Judged:
    """Cooked well, hung in two rooms, one too warm; the cure not on record."""
    record = replace(
        EMPTY,
        recipe=(meat(),),
        steps=(step(StepKind.COOK, 1.0, 2.0, humidity_pct=40.0),),
        series=(series(SeriesKind.COOK, 1.9, 140.0, 155.0, 156.0, 150.0),),
        stays=(stay("A", 3.0, 27.0), stay("B", 3.0, None, "fridge")),
    )

    def by_room(room: str, since: datetime, until: datetime) -> Sequence[tuple[float, float]]:
        return air(12.0 if room == "closet" else 3.0)(room, since, until)

    return judged(record, air=by_room, now=NOW)


def test_what_is_not_met_or_not_shown_stands_before_what_is_met(mixed: Judged) -> None:
    answers = [figure.answer for figure in mixed.figures]
    assert set(answers) == set(Answer)
    assert answers == sorted(answers, key=ORDER.index)
    assert list(mixed.counts) == [NOT_MET, NOT_SHOWN, MET]
    assert sum(mixed.counts.values()) == len(mixed.figures)


def test_what_is_alike_for_both_groups_is_said_once(mixed: Judged) -> None:
    cure = [figure for figure in mixed.figures if figure.part is Part.CURE]
    assert [figure.groups for figure in cure] == [("A", "B"), ("A", "B")]
    hours = [figure for figure in mixed.figures if "kept at or below" in figure.what]
    assert [figure.groups for figure in hours] == [("A",), ("B",)]


def test_sticks_are_raw_until_the_first_heat_and_cooked_after_it() -> None:
    record = replace(
        EMPTY,
        steps=(
            step(StepKind.CASING_DRY, 0.0, 1.0, room="closet"),
            step(StepKind.SMOKE, 2.0, 5.0),
        ),
        stays=(stay("A", 1.0, 2.0), stay("A", 6.0, 30.0)),
    )
    (found,) = evidence(record, "A", recipe=None, air=air(12.0), now=NOW)
    told = [(one.state, one.from_s / 3600, one.to_s / 3600) for one in found.stays]
    raw, cooked = StickState.RAW, StickState.COOKED
    assert sorted(told) == [(cooked, 6.0, 30.0), (raw, 0.0, 1.0), (raw, 1.0, 2.0)]
    # Two hours at 12 degC are just what USDA's two-hour rule allows.
    assert answer(judged(record, air=air(12.0), now=NOW), "raw sticks at most 2 h") is MET


def test_casings_that_dried_in_a_room_where_the_group_hung_dried_there_once() -> None:
    record = replace(
        EMPTY,
        steps=(
            step(StepKind.CASING_DRY, 0.0, 1.5, room="closet"),
            step(StepKind.SMOKE, 2.0, 5.0),
        ),
        stays=(stay("A", 0.0, 1.5),),
    )
    found = judged(record, air=air(12.0), now=NOW)
    assert found.faults == ()
    (told,) = evidence(record, "A", recipe=None, air=air(12.0), now=NOW)
    assert len(told.stays) == 1


def test_a_gap_in_the_readings_stays_a_gap() -> None:
    def gappy(room: str, since: datetime, until: datetime) -> Sequence[tuple[float, float]]:
        dark = range(10 * 3600, 14 * 3600)
        return [point for point in air(3.0)(room, since, until) if int(point[0]) not in dark]

    record = replace(EMPTY, stays=(stay("A", 0.0, 24.0),))
    assert answer(judged(record, air=air(3.0), now=NOW), "kept at or below") is MET
    found = judged(record, air=gappy, now=NOW)
    assert found.kept["A"].hours.unknown_h == pytest.approx(4.0, abs=0.05)
    assert answer(found, "kept at or below") is NOT_SHOWN


def test_of_two_probes_the_one_that_says_the_worst_is_judged() -> None:
    hot = series(SeriesKind.COOK, 1.0, 140.0, 160.0, 160.0, 150.0)
    cold = series(SeriesKind.COOK, 1.0, 120.0, 138.0, 138.0, 110.0)
    record = replace(EMPTY, recipe=(meat(),))
    for probes in ((hot, cold), (cold, hot)):
        found = judged(replace(record, series=probes), air=no_air, now=NOW)
        assert answer(found, "6.5-log") is NOT_MET
    alone = judged(replace(record, series=(hot,)), air=no_air, now=NOW)
    assert answer(alone, "6.5-log") is MET


def test_a_series_that_follows_on_another_goes_on_from_it() -> None:
    # Seven minutes at 140 degF in each of two series: 14 min together, where 12 are asked.
    first = series(SeriesKind.COOK, 1.0, 130.0, *[140.0] * 7)
    then = series(SeriesKind.COOK, 1.0 + 8 / 60, *[140.0] * 7, 130.0)
    record = replace(EMPTY, recipe=(meat(),))
    assert (
        answer(judged(replace(record, series=(first, then)), air=no_air, now=NOW), "6.5-log") is MET
    )
    alone = judged(replace(record, series=(first,)), air=no_air, now=NOW)
    assert answer(alone, "6.5-log") is not MET


def test_a_groups_own_series_is_not_the_other_groups() -> None:
    own = series(SeriesKind.COOK, 1.0, 140.0, 160.0, 160.0, 150.0, letter="A")
    found = judged(replace(EMPTY, recipe=(meat(),), series=(own,)), air=no_air, now=NOW)
    assert answer(found, "6.5-log", "A") is MET
    assert answer(found, "6.5-log", "B") is NOT_SHOWN


@pytest.mark.parametrize(
    ("readings_f", "expected"),
    [
        # FSIS Appendix B, option 1: 130 to 80 degF in 1.5 h, 80 to 40 degF in 5 h.
        pytest.param([150.0, 125.0, 75.0, 39.0], MET, id="one way is met, which is enough"),
        pytest.param([150.0, 125.0], NOT_SHOWN, id="the readings stop, so none can be told"),
    ],
)
def test_a_chill_is_met_by_any_one_of_the_ways(readings_f: list[float], expected: Answer) -> None:
    chill = series(SeriesKind.CHILL, 3.0, *readings_f)
    found = judged(replace(EMPTY, series=(chill,)), air=no_air, now=NOW)
    (figure,) = [figure for figure in found.figures if figure.part is Part.CHILL]
    assert figure.answer is expected
    assert len(figure.ways) == 5
    assert figure.ways[0].answer is expected


def test_stays_that_overlap_are_told_as_a_fault_and_do_not_break_the_page() -> None:
    record = replace(EMPTY, stays=(stay("A", 0.0, 5.0), stay("A", 4.0, 9.0, "fridge")))
    found = judged(record, air=no_air, now=NOW)
    assert "Sticks hang in one room at a time" in found.faults[0]
    assert {letter for figure in found.figures for letter in figure.groups} == {"B"}


def test_a_batch_without_groups_is_judged_for_its_cure_and_cook() -> None:
    record = replace(EMPTY, batch=replace(EMPTY.batch, groups=()))
    found = judged(record, air=no_air, now=NOW)
    assert {figure.part for figure in found.figures} == set(Part)


def test_a_wet_bulb_counts_as_humidity() -> None:
    """Reference: CoolProp's humid air (ASHRAE RP-1485), dry 60 degC, wet bulb 58.5 degC."""
    wet = step(StepKind.COOK, 1.0, 3.0, set_temperature_c=60.0, wet_bulb_c=58.5)
    (found,) = evidence(replace(EMPTY, steps=(wet,)), "A", recipe=None, air=no_air, now=NOW)
    (part,) = found.smoker
    reference_pct = 100.0 * HAPropsSI("R", "T", 333.15, "B", 331.65, "P", 101325)
    assert part.lasted_s == 7200.0
    assert part.humidity_pct == pytest.approx(reference_pct, abs=0.5)
