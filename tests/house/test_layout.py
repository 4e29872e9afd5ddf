"""Where things lie: the tree, the floors, and what no file may contain."""

import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

HOUSE = Path(__file__).parents[2]
TOP_LEVEL = {
    *("README.md", "DEVELOPERS.md", "pyproject.toml"),
    *("daemon", "web", "systemd", "wiring", "tests"),
}
AREAS = ("daemon", "web", "systemd", "wiring", "tests")
MADE = {"__pycache__", "node_modules", "output"}  # by tools, never by hand
TEXT = {".py", ".toml", ".md", ".html", ".css", ".js", ".svg", ".service", ".conf", ".csv", ".txt"}
MOST_LINES = 500

# Written in parts, so that this file does not hold what it forbids.
FORBIDDEN = {
    "a word that no file needs": re.compile("trans" + "cript", re.IGNORECASE),
    "a path of one developer's machine": re.compile(
        r"(?<![\w./-])/(?:" + "work" + "|home/[a-z]+|Users/[A-Za-z]+|tmp/" + "venv" + r")/"
    ),
}


def sources() -> Iterator[Path]:
    """Every text file of the house that was written by hand."""
    yield from (file for file in HOUSE.iterdir() if file.suffix in TEXT)
    for area in AREAS:
        for file in sorted((HOUSE / area).rglob("*")):
            if file.suffix in TEXT and not MADE & set(file.parts):
                yield file


def named(file: Path) -> str:
    return str(file.relative_to(HOUSE))


def test_the_top_level_holds_its_eight_entries_and_dotfiles() -> None:
    there = {entry.name for entry in HOUSE.iterdir() if not entry.name.startswith(".")}
    assert there <= TOP_LEVEL
    assert set(AREAS) | {"README.md", "pyproject.toml"} <= there


@pytest.mark.parametrize("area", AREAS)
def test_an_area_is_a_folder_and_no_package(area: str) -> None:
    """An `__init__.py` here would make `import daemon` work, and `import hangroom` ambiguous."""
    assert not (HOUSE / area / "__init__.py").exists()


def test_tests_are_no_packages_either() -> None:
    assert not list((HOUSE / "tests").rglob("__init__.py"))


def test_a_file_can_be_read_in_one_sitting() -> None:
    long = {
        named(file): lines
        for file in sources()
        if file.suffix == ".py"
        and (lines := len(file.read_text(encoding="utf-8").splitlines())) > MOST_LINES
    }
    assert not long


@pytest.mark.parametrize("what", FORBIDDEN)
def test_no_file_contains(what: str) -> None:
    found = [
        f"{named(file)}:{number}"
        for file in sources()
        for number, line in enumerate(file.read_text(encoding="utf-8").splitlines(), 1)
        if FORBIDDEN[what].search(line)
    ]
    assert not found


@pytest.mark.parametrize(
    ("line", "what"),
    [
        ("a Trans" + "cript", "a word that no file needs"),
        ("cd /work" + "/main", "a path of one developer's machine"),
        ("at /home/" + "somebody/x", "a path of one developer's machine"),
    ],
)
def test_the_search_finds_what_it_should(line: str, what: str) -> None:
    assert FORBIDDEN[what].search(line)
    assert not FORBIDDEN[what].search("the network/main and /var/lib/hangroom")


def test_the_floors_hold() -> None:
    """Each contract stands in pyproject.toml; the linter says which import breaks it."""
    lint = (
        "from importlinter.cli import lint_imports; raise SystemExit(lint_imports(no_cache=True))"
    )
    ran = subprocess.run(
        [sys.executable, "-c", lint], cwd=HOUSE, capture_output=True, text=True, check=False
    )
    assert ran.returncode == 0, ran.stdout + ran.stderr
