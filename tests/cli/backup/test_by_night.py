"""Where a backup goes by night, how it went, and what of the old ones stays."""

import json
import sqlite3
import sys
from collections.abc import Iterator
from contextlib import closing, suppress
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2]))


from cli.backup.conftest import Run

from hangroom.store.backup.outcome import read_outcome


def test_the_nightly_one_goes_only_where_one_was_made_by_hand(
    run: Run, folder: Path, stick: Path
) -> None:
    ran = run("backup")
    assert (ran.code, "bears no mark" in ran.err) == (1, True)
    assert not list(stick.iterdir())
    failed = read_outcome(folder)
    assert (failed.good, "bears no mark" in failed.fault) == (None, True)
    assert run("backup", stick).code == 0
    good = read_outcome(folder)
    assert good.good is not None
    assert (good.good.batches, good.good.photos, good.fault) == (1, 1, "")


def test_a_stick_that_was_pulled_fills_no_card(
    run: Run, folder: Path, stick: Path, backup: Path
) -> None:
    """Its mount point is then an empty folder of the card's."""
    stick.rename(stick.with_name("pulled"))
    stick.mkdir()
    ran = run("backup")
    assert ran.code == 1
    assert not list(stick.iterdir())
    kept = read_outcome(folder)
    assert kept.good is not None
    assert kept.good.file == backup.name, "what was good is told on"
    assert "mounted" in kept.fault


def test_a_stick_that_was_and_is_not_another_disk_is_refused(
    run: Run, folder: Path, stick: Path, backup: Path
) -> None:
    mark = stick / "hangroom-backups.json"
    said = json.loads(mark.read_text(encoding="utf-8"))
    assert said["other_disk"] is False
    mark.write_text(json.dumps(said | {"other_disk": True}), encoding="utf-8")
    ran = run("backup")
    assert (ran.code, "on a disk of its own" in ran.err) == (1, True)
    assert list(stick.glob("*.zip")) == [backup]
    assert folder.is_dir()


def test_it_says_that_the_same_disk_is_no_safe_place(run: Run, folder: Path, stick: Path) -> None:
    assert folder.is_dir()
    assert "the same disk" in run("backup", stick).out


@pytest.fixture
def older(stick: Path) -> Iterator[list[str]]:
    names = [f"hangroom-2024010{day}-0330{second:02}.zip" for day in (1, 2) for second in (0, 5)]
    names += [f"hangroom-202312{day}-033000.zip" for day in range(11, 32)]
    for name in [*names, "holiday.zip"]:
        (stick / name).touch()
    yield names
    with suppress(FileNotFoundError):
        (stick / "holiday.zip").unlink()


def test_old_ones_are_removed_where_the_settings_say_and_nothing_else(
    run: Run, folder: Path, stick: Path, older: list[str]
) -> None:
    assert run("backup", stick).code == 0
    assert folder.is_dir()
    left = {file.name for file in stick.glob("*.zip")}
    assert "holiday.zip" in left
    # Itself, six days before (1 and 2 January, 28 to 31 December), four Sundays before those but
    # for the 31st: the 24th and the 17th are all there are.
    assert len(left & set(older)) == 8
    assert {"hangroom-20240102-033005.zip", "hangroom-20231217-033000.zip"} <= left


def test_in_a_folder_named_by_hand_nothing_is_removed(
    run: Run, folder: Path, stick: Path, older: list[str], tmp_path: Path
) -> None:
    shelf = tmp_path / "shelf"
    stick.rename(shelf)
    assert run("backup", shelf).code == 0
    assert {file.name for file in shelf.iterdir()} > set(older)
    assert folder.is_dir()


def test_no_folder_and_the_kept_folder_itself_are_refused(
    run: Run, folder: Path, tmp_path: Path
) -> None:
    assert (run("backup").code, run("backup", folder).code, run("backup", folder / "x").code) == (
        2,
        2,
        2,
    )
    ran = run("backup", tmp_path / "nowhere")
    assert (ran.code, "mounted" in ran.err) == (1, True)
    assert not (tmp_path / "nowhere").exists()


def test_two_households_do_not_share_a_folder(
    run: Run, folder: Path, stick: Path, backup: Path
) -> None:
    """Or the one would remove the other's."""
    with closing(sqlite3.connect(folder / "hangroom.db")) as db:
        db.execute("update calendar_identity set domain = 'another'")
        db.commit()
    earlier = backup.rename(stick / "hangroom-20240101-033000.zip")
    ran = run("backup", stick)
    assert (ran.code, "Another hangroom" in ran.err) == (1, True)
    assert list(stick.glob("*.zip")) == [earlier]
