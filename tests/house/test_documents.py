"""What the documents name is there, and what is there is explained."""

import re
import tomllib
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

import pytest
from pydantic import BaseModel

from hangroom.cli import main
from hangroom.settings import check_settings
from hangroom.settings.tables import Settings

HOUSE = Path(__file__).parents[2]
DOCUMENTS = ("README.md", "DEVELOPERS.md", "systemd/README.md", "wiring/README.md")
AREAS = ("daemon/", "web/", "systemd/", "wiring/", "tests/")


def text_of(document: str) -> str:
    return (HOUSE / document).read_text(encoding="utf-8")


def without_blocks(text: str) -> str:
    """The prose: code blocks hold commands, and files of the keeper's own."""
    return re.sub(r"^```.*?^```", "", text, flags=re.MULTILINE | re.DOTALL)


def paths_named(document: str) -> Iterator[str]:
    """Every path into the house: linked, or in backticks and beginning with an area."""
    prose = without_blocks(text_of(document))
    for link in re.findall(r"\]\(([^)#\s]+)[^)]*\)", prose):
        if "://" not in link and not link.startswith("mailto:"):
            yield str(Path(document).parent / link)
    for quoted in re.findall(r"`([^`\n]+)`", prose):
        if re.fullmatch(r"[\w./*-]+", quoted) and quoted.startswith(AREAS):
            yield quoted


@pytest.mark.parametrize("document", DOCUMENTS)
def test_every_path_that_a_document_names_exists(document: str) -> None:
    missing = [path for path in paths_named(document) if not list(HOUSE.glob(path.rstrip("/")))]
    assert not missing


@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md"])
def test_the_two_first_documents_name_paths_at_all(document: str) -> None:
    assert list(paths_named(document))


def keys_of(model: type[BaseModel]) -> Iterator[str]:
    for key, field in model.model_fields.items():
        yield key
        for inner in models_in(field.annotation):
            yield from keys_of(inner)


def models_in(annotation: object) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in getattr(annotation, "__args__", ()):
        yield from models_in(inner)


@pytest.mark.parametrize("key", sorted(set(keys_of(Settings))))
def test_every_setting_is_explained_in_the_readme(key: str) -> None:
    """In backticks by its name, alone or with its table or value: `at`, `[units]`, `role = ...`."""
    assert re.search(rf"`[^`\n]*\b{key}\b[^`\n]*`", text_of("README.md"))


def test_every_settings_file_shown_in_a_document_is_in_order() -> None:
    for document in DOCUMENTS:
        for block in re.findall(
            r"^```toml\n(.*?)^```", text_of(document), re.MULTILINE | re.DOTALL
        ):
            tables = tomllib.loads(block)
            if "room" in tables:
                check_settings(tables, source=document)


def test_every_command_stands_in_the_readme(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["--help"])
    commands = re.findall(r"^    ([a-z]+)(?: |$)", capsys.readouterr().out, re.MULTILINE)
    assert "demo" in commands
    missing = [command for command in commands if f"hangroom {command}" not in text_of("README.md")]
    assert not missing


def test_the_examples_comments_name_no_setting_that_is_not_there() -> None:
    example = files("hangroom.settings").joinpath("example.toml").read_text(encoding="utf-8")
    keys = {line.partition("=")[0].strip() for line in example.splitlines() if "=" in line}
    assert keys <= set(keys_of(Settings))
