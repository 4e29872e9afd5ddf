"""Making, migrating and refusing a database; whatever goes wrong, one sentence with a remedy."""

import re
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from sqlite_utils import Database, Migrations

from hangroom.errors import StoreError
from hangroom.store import database
from hangroom.store.database import FILE_NAME, connect, durably, explained, prepare_database
from hangroom.store.migrations import MIGRATIONS

REMEDIES = (
    "Give the user",
    "Move that file",
    "Close that program",
    "restore a backup",
    "Free some",
)


def shape(path: Path) -> list[tuple[str, ...]]:
    """The schema and the steps that are noted as done, read without any of our own code."""
    with sqlite3.connect(path) as raw:
        tables = raw.execute("select name, sql from sqlite_master order by name").fetchall()
        steps = raw.execute(
            "select name, applied_at from _sqlite_migrations order by id"
        ).fetchall()
    raw.close()
    return [*tables, *steps]


@pytest.fixture
def one_step_more(monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[..., None]]:
    """A program of one version later: all the steps there are, and the given one."""

    def add(step: Callable[[Database], None]) -> None:
        later = Migrations(MIGRATIONS.name)
        for known in MIGRATIONS.pending(Database(memory=True)):
            later(name=known.name)(known.fn)
        later(name="m999_later")(step)
        monkeypatch.setattr(database, "MIGRATIONS", later)

    yield add
    monkeypatch.undo()


def test_every_step_is_done_once_and_noted(path: Path) -> None:
    db = Database(path)
    assert not MIGRATIONS.pending(db)
    assert len(MIGRATIONS.applied(db)) == len(MIGRATIONS.pending(Database(memory=True)))
    db.close()


def test_preparing_again_changes_nothing(tmp_path: Path, path: Path) -> None:
    before = shape(path)
    assert prepare_database(tmp_path) == path
    assert shape(path) == before


def test_a_folder_that_is_missing_is_made(tmp_path: Path) -> None:
    assert prepare_database(tmp_path / "a" / "b").is_file()


def test_an_older_database_gets_the_step_it_lacks_and_keeps_its_rows(
    path: Path, tmp_path: Path, one_step_more: Callable[..., None]
) -> None:
    db = connect(path)
    with db.atomic():
        db.execute("insert into room (name) values ('closet')")
    db.close()
    one_step_more(lambda db: db.execute("alter table room add column colour text"))
    prepare_database(tmp_path)
    db = connect(path)
    assert db.execute("select name, colour from room").fetchall() == [("closet", None)]
    db.close()


def test_a_newer_database_is_refused_and_left_as_it_was(
    path: Path,
    tmp_path: Path,
    one_step_more: Callable[..., None],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    one_step_more(lambda db: db.execute("create table later (x)"))
    prepare_database(tmp_path)
    monkeypatch.undo()
    before, bytes_before = shape(path), path.read_bytes()
    with pytest.raises(StoreError, match=r"newer hangroom \(it has m999_later\)") as refused:
        prepare_database(tmp_path)
    assert "Install that version again, or restore a backup" in str(refused.value)
    assert shape(path) == before
    assert path.read_bytes() == bytes_before


def test_a_step_that_fails_half_way_leaves_no_trace(
    path: Path, tmp_path: Path, one_step_more: Callable[..., None], monkeypatch: pytest.MonkeyPatch
) -> None:
    before = shape(path)

    def half(db: Database) -> None:
        db.execute("create table half_done (x)")
        db.execute("insert into a_table_that_is_not_there values (1)")

    one_step_more(half)
    with pytest.raises(StoreError):
        prepare_database(tmp_path)
    assert shape(path) == before
    monkeypatch.undo()
    prepare_database(tmp_path)
    assert shape(path) == before


KILLED_IN_THE_LAST_STEP = """
import os, signal, sys
from pathlib import Path
from hangroom.store import database

def fatal(db):
    db.execute("create table half_done (x)")
    os.kill(os.getpid(), signal.SIGKILL)

database.MIGRATIONS(name="m999_later")(fatal)
database.prepare_database(Path(sys.argv[1]))
"""


def test_a_process_killed_in_a_step_leaves_no_trace(path: Path, tmp_path: Path) -> None:
    before = shape(path)
    killed = subprocess.run([sys.executable, "-c", KILLED_IN_THE_LAST_STEP, tmp_path], check=False)
    assert killed.returncode == -signal.SIGKILL
    assert shape(path) == before


PREPARES = """
import sys
from pathlib import Path
from hangroom.store.database import prepare_database
print("here", flush=True)
sys.stdin.readline()
prepare_database(Path(sys.argv[1]))
"""


def test_processes_that_prepare_at_once_all_succeed(tmp_path: Path) -> None:
    started = [
        subprocess.Popen(
            [sys.executable, "-c", PREPARES, tmp_path],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        for _ in range(4)
    ]
    for process in started:
        assert process.stdout is not None
        assert process.stdout.readline() == "here\n"
    for process in started:
        assert process.stdin is not None
        process.stdin.write("go\n")
        process.stdin.flush()
    ends = [(*process.communicate(timeout=30), process.returncode) for process in started]
    assert ends == [("", "", 0)] * 4
    steps = [name for name, _ in shape(tmp_path / FILE_NAME) if re.match(r"m\d{3}_", name)]
    assert len(steps) == len(set(steps)) == len(MIGRATIONS.pending(Database(memory=True)))


def test_connections_are_in_wal_mode_with_references_checked(db: Database) -> None:
    modes = [
        db.execute(f"pragma {name}").fetchone()[0]
        for name in ("journal_mode", "synchronous", "foreign_keys")
    ]
    assert modes == ["wal", 1, 1]  # 1 is NORMAL, and on: sqlite.org/pragma.html


def test_what_is_written_durably_is_written_with_full_synchronisation(db: Database) -> None:
    with durably(db):
        assert db.execute("pragma synchronous").fetchone()[0] == 2  # FULL
    assert db.execute("pragma synchronous").fetchone()[0] == 1


def test_a_durable_block_that_fails_is_undone_and_normal_again(db: Database) -> None:
    def fails() -> None:
        with durably(db):
            db.execute("insert into room (name) values ('closet')")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fails()
    assert db.execute("select count(*) from room").fetchone()[0] == 0
    assert db.execute("pragma synchronous").fetchone()[0] == 1


def refusal(folder: Path) -> str:
    with pytest.raises(StoreError) as refused:
        prepare_database(folder)
    message = str(refused.value)
    assert message.startswith(f"The database {folder / FILE_NAME} cannot be used: ")
    assert "\n" not in message
    assert any(remedy in message for remedy in REMEDIES), message
    return message


def test_a_file_in_place_of_the_folder_is_told(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a file")
    assert "a file stands where its folder should be" in refusal(tmp_path / "taken")
    assert "a file stands where its folder should be" in refusal(tmp_path / "taken" / "deeper")


def test_a_folder_in_place_of_the_file_is_told(tmp_path: Path) -> None:
    (tmp_path / FILE_NAME).mkdir()
    refusal(tmp_path)


@pytest.mark.skipif(not Path("/proc/self").exists(), reason="needs Linux's /proc")
def test_a_folder_that_nobody_can_make_is_told() -> None:
    assert "may not be written" in refusal(Path("/proc/hangroom"))


def test_a_file_that_is_no_database_is_told_and_left_alone(tmp_path: Path) -> None:
    (tmp_path / FILE_NAME).write_text("not a database " * 500)
    assert "the file is damaged" in refusal(tmp_path)
    assert (tmp_path / FILE_NAME).read_text().startswith("not a database")


def test_a_database_that_another_program_holds_is_told(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sqlite_connect = sqlite3.connect
    holder = sqlite3.connect(path, isolation_level=None)
    holder.execute("begin exclusive")
    monkeypatch.setattr(sqlite3, "connect", lambda file, **_: sqlite_connect(file, timeout=0.05))
    assert "another program holds it" in refusal(tmp_path)
    holder.execute("rollback")
    holder.close()
    prepare_database(tmp_path)


def test_a_full_disk_is_told_as_such_whether_python_or_sqlite_says_so(path: Path) -> None:
    for fault in (OSError(28, "No space left on device"), full_disk(path)):
        with pytest.raises(StoreError, match="the disk is full"), explained(path):
            raise fault


def full_disk(path: Path) -> sqlite3.Error:
    """SQLite's own complaint, had by forbidding the file to grow."""
    db = sqlite3.connect(path)
    db.execute("pragma max_page_count = 1")
    with pytest.raises(sqlite3.OperationalError) as full:
        db.executescript("create table t (x); insert into t values (zeroblob(1000000));")
    db.close()
    return full.value


TRIES = """
import os, sys
from pathlib import Path
from hangroom.errors import StoreError
from hangroom.store.database import prepare_database
if os.geteuid() == 0:
    os.setuid(65534)  # root may write anywhere; nobody may not
try:
    prepare_database(Path(sys.argv[1]))
except StoreError as fault:
    print(fault)
"""


@pytest.fixture
def folder() -> Iterator[Path]:
    """A folder that other users can reach, which pytest's own are not."""
    with TemporaryDirectory(prefix="hangroom-test-") as made:
        yield Path(made)
        Path(made).chmod(0o755)


def tried(folder: Path, mode: int) -> str:
    """What a process says that finds the folder in this mode and is not root."""
    folder.chmod(mode)
    for file in folder.iterdir():
        file.chmod(mode & 0o666)
    ran = subprocess.run(
        [sys.executable, "-c", TRIES, folder], capture_output=True, text=True, check=False
    )
    assert ran.stderr == ""
    return ran.stdout.removesuffix("\n")


def test_an_empty_folder_that_is_read_only_is_told(folder: Path) -> None:
    said = tried(folder, 0o555)
    assert "may not be written by this user. Give the user" in said
    assert "\n" not in said
    assert tried(folder, 0o777) == ""


def test_a_folder_with_a_database_that_is_read_only_is_told(folder: Path) -> None:
    prepare_database(folder)
    said = tried(folder, 0o555)
    assert "may not be written by this user. Give the user" in said
    assert "\n" not in said
    assert tried(folder, 0o777) == ""
