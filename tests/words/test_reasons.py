"""Reasons as words: every code has a sentence, and every figure is said in the keeper's units."""

from string import Formatter

import pytest

from hangroom.reasons import REASONS, say
from hangroom.terms import Because
from hangroom.units import TemperatureUnit, Units

CELSIUS, FAHRENHEIT = Units(), Units(temperature=TemperatureUnit.FAHRENHEIT)
FIGURES = {
    "_pct": (78.0, "78.0 %"),
    "_c": (13.0, "13.0 °C"),
    "_g_per_m3": (9.4, "9.4 g/m³"),
    "_s": (40.0, "40 s"),
}


@pytest.mark.parametrize("code", REASONS)
def test_every_sentence_can_be_said_and_names_units(code: str) -> None:
    names = [name for _, name, _, _ in Formatter().parse(REASONS[code]) if name]
    kept = {name: next(unit for unit in FIGURES if name.endswith(unit)) for name in names}
    said = say(Because(code, {name: FIGURES[unit][0] for name, unit in kept.items()}), CELSIUS)
    assert "{" not in said
    assert not said.endswith(".")
    assert all(FIGURES[unit][1] in said for unit in kept.values())


def test_a_reason_speaks_the_keeper_s_units() -> None:
    too_warm = Because("too-warm", {"seen_c": 14.2, "limit_c": 14.0})
    assert say(too_warm, CELSIUS) == "14.2 °C is at or above 14.0 °C, where cooling starts"
    # 14.2 x 9/5 + 32 = 57.56; 14 x 9/5 + 32 = 57.2
    assert say(too_warm, FAHRENHEIT) == "57.6 °F is at or above 57.2 °F, where cooling starts"
    dry = Because("too-dry", {"seen_pct": 71.26, "limit_pct": 73.8})
    assert say(dry, FAHRENHEIT) == "71.3 % is at or below 73.8 %, where humidifying starts"
    assert say(Because("resting", {"left_s": 240}), CELSIUS) == (
        "resting for 4 min more after it was switched off"
    )
