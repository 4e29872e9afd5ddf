"""A backup put back: shown first, never under anybody at work, settings never replaced."""

import shutil
import sqlite3
import stat
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2]))

from cli.backup.conftest import Run
from store.backup.conftest import bytes_in, photos, rows

from hangroom.store.in_use import USERS, in_use


def test_a_household_comes_back_from_its_stick(
    run: Run, folder: Path, stick: Path, backup: Path
) -> None:
    before, pictures = rows(folder / "hangroom.db"), photos(folder)
    shutil.rmtree(folder)
    folder.mkdir()
    ran = run("restore", backup, "--yes")
    assert (ran.code, ran.err) == (0, "")
    assert "1 batches" in ran.out
    assert "There: nothing yet" in ran.out
    assert "Its settings are the same as here." in ran.out
    assert "There is no passphrase here" in ran.out
    assert (rows(folder / "hangroom.db"), photos(folder)) == (before, pictures)
    assert stat.S_IMODE(backup.stat().st_mode) == 0o600
    assert stick.is_dir()


def test_it_shows_and_asks_before_it_changes_anything(run: Run, folder: Path, backup: Path) -> None:
    before = bytes_in(folder)
    ran = run("restore", backup)
    assert ran.code == 2
    assert "There now, in" in ran.out
    assert "--yes" in ran.err
    assert bytes_in(folder) == before


def test_settings_that_are_here_stay_and_are_taken_only_where_there_are_none(
    run: Run, folder: Path, backup: Path, settings_file: Path, tmp_path: Path
) -> None:
    brought = settings_file.read_bytes()
    settings_file.write_bytes(brought + b"# changed here\n")
    ran = run("restore", backup, "--yes")
    assert "differ from those here" in ran.out
    assert settings_file.read_bytes() == brought + b"# changed here\n"
    assert (folder / "settings-of-the-backup.toml").read_bytes() == brought
    new = tmp_path / "new Pi" / "hangroom.toml"
    ran = run("restore", backup, "--yes", settings=new)
    assert (ran.code, ran.err) == (0, "")
    assert new.read_bytes() == brought


@pytest.mark.parametrize("user", ["daemon", "web", "notices", "backup"])
def test_it_refuses_while_anything_works_there(
    user: str, run: Run, folder: Path, backup: Path
) -> None:
    before = bytes_in(folder)
    with in_use(folder, user):
        ran = run("restore", backup, "--yes")
    assert ran.code == 1
    assert USERS[user][1] in ran.err
    assert bytes_in(folder) == before


def test_a_running_page_is_noticed_and_nothing_is_changed_under_it(
    run: Run, folder: Path, backup: Path, settings_file: Path
) -> None:
    """The real service, in a process of its own."""
    # Whether a port is free is of no matter here; so the page is begun without its listening.
    script = (
        "import sys; import hangroom.cli.web as web;"
        "web.serve = lambda *_, **__: (print('here', flush=True), sys.stdin.read());"
        "from hangroom.cli import main; main(['web', '--settings', sys.argv[1]])"
    )
    with subprocess.Popen(
        [sys.executable, "-c", script, settings_file],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as page:
        assert page.stdout is not None
        assert page.stdout.readline() == "here\n"
        before = rows(folder / "hangroom.db")
        ran = run("restore", backup, "--yes")
        assert (ran.code, "systemctl stop hangroom-web" in ran.err) == (1, True)
        assert rows(folder / "hangroom.db") == before
        page.kill()
    assert run("restore", backup, "--yes").code == 0


def test_what_the_page_laid_ready_is_taken_up_once_at_a_start(
    run: Run, folder: Path, backup: Path
) -> None:
    before = rows(folder / "hangroom.db")
    assert "Nothing was laid ready" in run("restore", "--pending").out
    shutil.copy(backup, folder / "restore-pending.zip")
    with closing(sqlite3.connect(folder / "hangroom.db")) as db:
        db.execute("update batch set name = 'changed since'")
        db.commit()
    assert run("restore", "--pending").code == 0
    assert rows(folder / "hangroom.db") == before
    assert run("restore", "--pending").out == "Nothing was laid ready on the page.\n"
    assert not [file.name for file in folder.glob("*.zip")]


def test_one_that_is_refused_at_a_start_does_not_come_back_at_the_next(
    run: Run, folder: Path, backup: Path
) -> None:
    before = rows(folder / "hangroom.db")
    (folder / "restore-pending.zip").write_bytes(backup.read_bytes()[:5000])
    assert run("restore", "--pending").code == 2
    assert rows(folder / "hangroom.db") == before
    assert run("restore", "--pending").code == 0
    assert [file.name for file in folder.glob("*.zip")] == ["restore-refused.zip"]
