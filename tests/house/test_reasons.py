"""Every reason that control can give has its sentence, and no sentence is without its reason."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from hangroom.control.interlocks import WAITS_FOR
from hangroom.reasons import REASONS, say
from hangroom.terms import Because
from hangroom.units import TemperatureUnit, Units

HANGROOM = Path(__file__).parents[2] / "daemon" / "hangroom"
GIVERS = {"on", "off", "safe_off", "Because", "_unless_settling"}
CONTROL = HANGROOM / "control"
FILES = [
    *CONTROL.glob("*.py"),
    *(CONTROL / "sensors").glob("*.py"),
    *(CONTROL / "plant_watch").glob("*.py"),
    HANGROOM / "loop.py",
]
# Given by the loop for what is not a decision; not used yet.
NOT_OF_CONTROL = {"stopped"}


def given(file: Path) -> Iterator[tuple[str, frozenset[str]]]:
    """Each reason written in a file, with the names of the figures given with it."""
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        match node:
            case ast.Call(
                func=ast.Name(id=giver), args=[ast.Constant(value=str(code)), *more], keywords=named
            ) if giver in GIVERS - {"_unless_settling"}:
                keys = [
                    key.value
                    for d in more
                    if isinstance(d, ast.Dict)
                    for key in d.keys
                    if isinstance(key, ast.Constant)
                ]
                yield code, frozenset([*map(str, keys), *(str(word.arg) for word in named)])
            case ast.Call(
                func=ast.Name(id="_unless_settling"), args=[ast.Constant(value=str(code)), *_]
            ):
                yield code, frozenset({"seen_pct", "limit_pct"})


def all_given() -> set[tuple[str, frozenset[str]]]:
    from_calls = {reason for file in FILES for reason in given(file)}
    return from_calls | {(code, frozenset()) for code in WAITS_FOR.values()}


def test_the_search_finds_reasons_at_all() -> None:
    assert len(all_given()) > 20


def test_every_reason_given_has_its_sentence() -> None:
    assert {code for code, _ in all_given()} - set(REASONS) == set()


def test_every_sentence_has_a_reason_that_is_given() -> None:
    assert set(REASONS) - {code for code, _ in all_given()} - NOT_OF_CONTROL == set()


@pytest.mark.parametrize(("code", "figures"), sorted(all_given(), key=str))
def test_a_sentence_speaks_of_no_figure_that_is_not_given(
    code: str, figures: frozenset[str]
) -> None:
    assert set(re.findall(r"{(\w+)}", REASONS[code])) <= figures


@pytest.mark.parametrize(("code", "figures"), sorted(all_given(), key=str))
def test_a_reason_is_said_in_the_keepers_units(code: str, figures: frozenset[str]) -> None:
    said = say(
        Because(code, dict.fromkeys(figures, 10.0)),
        Units(temperature=TemperatureUnit.FAHRENHEIT),
    )
    assert "{" not in said
    assert not said.endswith(".")
    # 10 degC is 50 degF: the two scales meet at F = C x 9/5 + 32, by definition.
    assert ("50.0 °F" in said) == ("_c}" in REASONS[code])
