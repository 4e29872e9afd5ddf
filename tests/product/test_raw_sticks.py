"""Raw sticks against USDA's two-hour rule, one hour above 90 degF; invented series."""

import pytest

from hangroom.errors import InputError
from hangroom.product.findings import Answer
from hangroom.product.raw_sticks import judge_raw
from hangroom.product.stays import Stay, StickState
from hangroom.product.temperatures import Point, celsius

HOUR = 3600.0


def raw(from_h: float, to_h: float, air_f: float | None) -> Stay:
    points = (
        ()
        if air_f is None
        else tuple(
            Point((from_h + 0.1 * i) * HOUR, celsius(air_f))
            for i in range(round(10 * (to_h - from_h)) + 1)
        )
    )
    return Stay(from_s=from_h * HOUR, to_s=to_h * HOUR, state=StickState.RAW, points=points)


@pytest.mark.parametrize(
    ("stays", "answer"),
    [
        pytest.param([raw(0, 1, 68)], Answer.MET, id="an hour for the casings to dry"),
        pytest.param([raw(0, 1.9, 68)], Answer.MET, id="just under two hours"),
        pytest.param([raw(0, 2.1, 68)], Answer.NOT_MET, id="more than two hours"),
        pytest.param([raw(0, 12, 40)], Answer.MET, id="a night at 40 degF"),
        pytest.param([raw(0, 12, 40.5)], Answer.NOT_MET, id="a night just above it"),
        pytest.param([raw(0, 0.9, 95)], Answer.MET, id="under an hour in the heat"),
        pytest.param([raw(0, 1.1, 95)], Answer.NOT_MET, id="over an hour in the heat"),
        pytest.param([raw(0, 1.5, 68), raw(1.5, 12, 38), raw(12, 13, 68)], Answer.NOT_MET, id="the hours of two warm stays add up"),
        pytest.param([raw(0, 1, None)], Answer.MET, id="an hour unread: hot at the worst, and within the hour"),
        pytest.param([raw(0, 1.1, None)], Answer.NOT_SHOWN, id="longer unread: it may have been hot"),
        pytest.param([raw(0, 0.5, 68), raw(1.4, 2.2, 68)], Answer.NOT_SHOWN, id="where were they between"),
        pytest.param([], Answer.NOT_SHOWN, id="nothing recorded"),
    ],
)  # fmt: skip
def test_raw_sticks_may_be_warm_for_two_hours_in_all(stays: list[Stay], answer: Answer) -> None:
    found = judge_raw(stays)
    assert found.answer is answer
    assert bool(found.would_settle) == (answer is Answer.NOT_SHOWN)


def test_the_hours_and_the_toxin_are_told() -> None:
    found = judge_raw([raw(0, 1, 68), raw(1, 1.5, 95)])
    assert "1.5 h above 40 °F (4.4 °C), of them 0.5 h above 90 °F" in found.because
    assert "toxin that cooking does not destroy" in found.because


def test_cooked_sticks_do_not_count() -> None:
    cooked = Stay(from_s=0.0, to_s=72 * HOUR, state=StickState.COOKED)
    assert "No stay of the raw sticks" in judge_raw([cooked]).because


def test_stays_that_overlap_are_refused() -> None:
    with pytest.raises(InputError, match="raw sticks begins"):
        judge_raw([raw(0, 1, 68), raw(0.5, 2, 68)])
