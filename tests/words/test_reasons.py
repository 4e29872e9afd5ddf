"""Reasons as words: every code has a sentence, and every figure is said in the keeper's units."""

import ast
from pathlib import Path
from string import Formatter

import pytest

import hangroom.control
from hangroom.reasons import REASONS, say
from hangroom.terms import Because
from hangroom.units import TemperatureUnit, Units

CELSIUS, FAHRENHEIT = Units(), Units(temperature=TemperatureUnit.FAHRENHEIT)
CONTROL = Path(hangroom.control.__path__[0])
FIGURES = {"_pct": "78.0 %", "_c": "13.0 °C", "_s": "40 s"}


def codes_in_control() -> set[str]:
    """Return every text in control's source that is given as a reason's code."""
    found = set()
    for file in CONTROL.glob("*.py"):
        tree = ast.parse(file.read_text(encoding="utf-8"))
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.args:
                first = node.args[0]
                if (
                    node.func.id in {"on", "off", "safe_off", "Because", "_unless_settling"}
                    and isinstance(first, ast.Constant)
                    and isinstance(first.value, str)
                ):
                    found.add(first.value)
            if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "WAITS_FOR":
                assert isinstance(node.value, ast.Dict)
                found |= {ast.literal_eval(value) for value in node.value.values}
    return found


def test_every_code_that_control_gives_has_a_sentence_and_no_sentence_is_left_over() -> None:
    assert codes_in_control() == set(REASONS)


@pytest.mark.parametrize("code", REASONS)
def test_every_sentence_can_be_said_and_names_units(code: str) -> None:
    names = [name for _, name, _, _ in Formatter().parse(REASONS[code]) if name]
    assert all(name.endswith(tuple(FIGURES)) for name in names)
    figures = {"_pct": 78.0, "_c": 13.0, "_s": 40.0}
    because = Because(code, {name: figures["_" + name.rsplit("_", 1)[1]] for name in names})
    said = say(because, CELSIUS)
    assert "{" not in said
    assert not said.endswith(".")
    assert all(FIGURES["_" + name.rsplit("_", 1)[1]] in said for name in names)


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
