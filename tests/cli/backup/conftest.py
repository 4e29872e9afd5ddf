"""A household's folder, the stick of its backups, and the commands run in this process."""

import shutil
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2]))

from store.record.full_batch import FullBatch

from hangroom.cli import main
from hangroom.store.database import connect, prepare_database
from hangroom.store.in_use import USERS


@pytest.fixture(scope="session")
def once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("once") / "data"
    with closing(connect(prepare_database(folder))) as db:
        FullBatch(db=db, folder=folder).enter()
    for user in USERS:
        (folder / f".in-use-{user}").touch()
    return folder


@pytest.fixture
def folder(once: Path, settings_file: Path) -> Path:
    """The settings' folder with the full batch in it and its photo; nothing runs on it now."""
    return Path(shutil.copytree(once, settings_file.parent / "data"))


@pytest.fixture
def stick(tmp_path: Path, settings_file: Path) -> Path:
    """What the settings name for the nightly backup."""
    made = tmp_path / "stick"
    made.mkdir()
    text = settings_file.read_text(encoding="utf-8")
    assert text.count("[backup]") == 1
    text = text.replace("[backup]", f'[backup]\nfolder = "{made}"\n#')
    settings_file.write_text(text, encoding="utf-8")
    return made


class Ran:
    """How a command ended and what it said."""

    def __init__(self, code: int, out: str, err: str) -> None:
        self.code, self.out, self.err = code, out, err


Run = Callable[..., Ran]


@pytest.fixture
def run(settings_file: Path, capsys: pytest.CaptureFixture[str]) -> Run:
    def ran(*arguments: str | Path, settings: Path = settings_file) -> Ran:
        code = main([*map(str, arguments), "--settings", str(settings)])
        said = capsys.readouterr()
        return Ran(code, said.out, said.err)

    return ran


@pytest.fixture
def backup(run: Run, folder: Path, stick: Path) -> Path:
    assert folder.is_dir()
    ran = run("backup", stick)
    assert (ran.code, ran.err) == (0, "")
    (made,) = stick.glob("hangroom-*.zip")
    return made
