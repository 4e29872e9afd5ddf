"""The way from meat to rail: what was noted, what goes on, what was forgotten."""

from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest
from web.entries import EMPTY, NOW, after, step

from hangroom.store.record.steps import Step, StepKind
from hangroom.store.record.whole import BatchRecord
from hangroom.units import Units
from hangroom_web.batch_view.making import exposures
from hangroom_web.batch_view.way import State, WayStep, way
from hangroom_web.batch_view.wording import Wording

# Common practice, no source: an hour each at 130 and 140 degF, then 150 degF.
AT_130, AT_140, AT_150, AT_180 = 54.4, 60.0, 65.6, 82.3


def at(hours: float) -> Wording:
    """Words that are said so many hours after the batch began."""
    zone = ZoneInfo("UTC")
    return Wording(units=Units(), zone=zone, now=after(hours), room=lambda name: name)


def of(*steps: Step) -> BatchRecord:
    return replace(EMPTY, steps=steps)


def heated(from_h: float, to_h: float | None, air_c: float | None, **more: object) -> Step:
    return step(StepKind.SMOKE, from_h, to_h, set_temperature_c=air_c, **more)


def smoke(record: BatchRecord, hours: float) -> WayStep:
    return [one for one in way(record, at(hours)) if one.title.startswith("Smoke")][-1]


def test_a_step_without_an_end_goes_on_for_a_day_and_was_forgotten_after_it() -> None:
    record = of(heated(1.0, None, AT_130))
    now, later = smoke(record, 3.0), smoke(record, 30.0)
    assert (now.state, now.said[0]) == (State.NOW, "since 09:00")
    assert later.state is State.DONE
    assert "its end was not noted" in later.said[0]


def test_a_step_without_an_end_lasts_until_the_next_one_and_that_is_said() -> None:
    record = of(heated(1.0, None, AT_130), heated(2.5, 3.0, AT_140))
    first = next(one for one in way(record, at(4.0)) if one.title.startswith("Smoke"))
    assert first.state is State.DONE
    assert first.said[:2] == [
        "09:00 to 10:30 (1 h 30 min)",
        "its end was not noted, so it counts to the start of the next",
    ]


def test_a_usual_step_that_was_left_out_stands_in_its_place_as_not_noted() -> None:
    told = way(of(step(StepKind.CHILL, 6.0, 6.5)), at(8.0))
    assert [(one.title, one.state) for one in told] == [
        ("Mix and cure", State.OPEN),
        ("Stuff", State.DONE),
        ("Casing dry", State.OPEN),
        ("Smoke", State.OPEN),
        ("Cook", State.OPEN),
        ("Chill", State.DONE),
        ("Hang", State.OPEN),
    ]


@pytest.mark.parametrize(
    ("steps", "hours_said"),
    [
        pytest.param(
            [heated(1, 2, AT_130), heated(2, 3, AT_140), heated(3, 5.5, AT_150)],
            "4.5 h",
            id="the usual way",
        ),
        pytest.param(
            [heated(1, 2, AT_130), heated(2, 3, AT_180)], "1.0 h", id="180 degF is no low heat"
        ),
        pytest.param(
            [heated(1, None, AT_130), heated(2, 3, AT_140)],
            "2.0 h",
            id="an end not noted is the next one's start",
        ),
    ],
)
def test_the_hours_of_low_heat_are_summed(steps: list[Step], hours_said: str) -> None:
    (told,) = exposures(of(*steps))
    assert told.said.startswith(hours_said)
    assert told.not_counted == ""
    assert told.source == "common practice, no source"


def test_what_cannot_be_summed_is_told_and_not_guessed() -> None:
    (told,) = exposures(of(heated(1, 2, None), heated(2, 3, AT_130), heated(3, None, AT_130)))
    assert told.said.startswith("1.0 h")
    assert told.not_counted == "Not counted: 2 steps without a temperature or an end."


def test_groups_that_were_smoked_apart_are_summed_apart() -> None:
    record = of(heated(1, 2, AT_130, group="A"), heated(1, 7, AT_130, group="B"))
    told = [one.said for one in exposures(record)]
    assert told == [
        "Group A: 1.0 h in low heat, below 180 °F (82.2 °C).",
        "Group B: 6.0 h in low heat, below 180 °F (82.2 °C).",
    ]
    assert "tough casing is likely" in exposures(record)[1].advice


def test_nothing_heated_has_no_exposure() -> None:
    assert exposures(of(step(StepKind.CHILL, 1.0, 2.0))) == []


def test_a_moment_of_another_year_names_it_and_in_print_every_moment_is_a_date() -> None:
    words = at(0.0)
    assert words.moment(NOW.replace(year=2024)) == "Wed 6 Nov 08:00 2024"
    assert replace(words, printed=True).moment(NOW) == "2026-11-06 08:00"
