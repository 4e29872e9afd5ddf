"""Low heat in the smoker; common practice, no source."""

import pytest

from hangroom.errors import InputError
from hangroom.product.casing import SmokeStage, casing_exposure
from hangroom.product.temperatures import celsius


def stages(*steps: tuple[float, float]) -> list[SmokeStage]:
    return [SmokeStage(celsius(air_f), lasted_h) for air_f, lasted_h in steps]


def test_only_hours_below_180_degrees_count() -> None:
    # The usual schedule: an hour at 130, one at 140, 150 until wrinkled, then a quick finish at 180.
    usual = casing_exposure(stages((130, 1), (140, 1), (150, 2.5), (180, 0.5)))
    assert usual.low_heat_h == pytest.approx(4.5)
    assert casing_exposure(stages((179, 1))).low_heat_h == 1.0


def test_a_long_stay_in_low_heat_is_told_to_finish_on_the_rail() -> None:
    usual = casing_exposure(stages((130, 1), (140, 1), (150, 3)))
    long = casing_exposure(stages((130, 1), (140, 1), (150, 8)))
    assert "likely" not in usual.advice
    assert "tough casing is likely" in long.advice
    assert "on the rail" in usual.advice
    assert "on the rail" in long.advice


def test_hours_that_cannot_be_are_refused() -> None:
    with pytest.raises(InputError, match="hours of a smoke step"):
        casing_exposure([SmokeStage(60.0, -1.0)])


def test_a_smoker_set_in_whole_degrees_celsius_finishes_at_180_degf() -> None:
    """180 °F are 82.2 °C; a finish set to 82 °C is that one. 81 °C are 178 °F, which is low heat."""
    assert casing_exposure([SmokeStage(82.0, 1.0), SmokeStage(82.2, 1.0)]).low_heat_h == 0.0
    assert casing_exposure([SmokeStage(81.0, 1.0)]).low_heat_h == 1.0
