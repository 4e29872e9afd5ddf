"""The plant watch shares nothing with the controller: an error there cannot hide a fault here.

The linter's contract names the controller's modules; this looks at every file, new ones too.
"""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

CONTROL = Path(__file__).parents[3] / "daemon" / "hangroom" / "control"
WATCH = CONTROL / "plant_watch"
ALLOWED = (
    "hangroom.air",
    "hangroom.alarm_table.row",
    "hangroom.control.alarms.delays",
    "hangroom.control.plant_watch",
    "hangroom.errors",
    "hangroom.terms",
)


def imported(file: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        match node:
            case ast.Import(names=names):
                yield from (name.name for name in names)
            case ast.ImportFrom(module=module):
                yield str(module)


@pytest.mark.parametrize("file", sorted(WATCH.glob("*.py")), ids=lambda file: file.stem)
def test_the_watch_leans_on_words_air_and_raw_conditions_only(file: Path) -> None:
    ours = {name for name in imported(file) if name.startswith("hangroom")}
    assert {name for name in ours if not name.startswith(ALLOWED)} == set()


def test_nothing_else_in_control_leans_on_the_watch() -> None:
    others = [file for file in CONTROL.rglob("*.py") if WATCH not in file.parents]
    assert len(others) > 20
    leaning = {
        file.name
        for file in others
        if any(name.startswith("hangroom.control.plant_watch") for name in imported(file))
    }
    assert leaning == set()
