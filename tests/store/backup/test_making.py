"""A backup is whole, of one moment, in nobody's way, and never half under its name."""

import fcntl
import os
import shutil
import signal
import sqlite3
import stat
import subprocess
import sys
import zipfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from types import SimpleNamespace

import pytest
from store.backup.conftest import PHOTOS, SETTINGS, bytes_in, rows, settled
from web.scenario import START

from hangroom.errors import StoreError
from hangroom.store.backup import copying
from hangroom.store.backup.checking import check_whole_file, unpack
from hangroom.store.backup.copying import Made, copy_database, make_backup
from hangroom.store.backup.placing import look_at
from hangroom.store.database import prepare_database
from hangroom.store.in_use import alone, in_use


def test_it_is_one_zip_file_with_all_that_is_kept(
    back_up: Callable[[], Made], folder: Path, stick: Path, tmp_path: Path
) -> None:
    made = back_up()
    assert [file.name for file in stick.iterdir()] == ["hangroom-20261126-145204.zip"]
    assert made.manifest.made_at == START
    assert (made.manifest.rows["batch"], made.manifest.rows["weigh_in"]) == (2, 8)
    assert (made.manifest.photos, made.manifest.lacking) == (len(PHOTOS), ())
    # By the zip format's own reader, which knows nothing of ours.
    assert zipfile.ZipFile(made.file).testzip() is None
    into = tmp_path / "out"
    into.mkdir()
    unpack(made.file, into)
    assert rows(into / "hangroom.db") == rows(folder / "hangroom.db")
    assert {file.read_bytes() for file in (into / "photos").iterdir()} == set(PHOTOS)
    assert (into / "settings.toml").read_bytes() == SETTINGS


def test_nobody_else_may_read_it(back_up: Callable[[], Made]) -> None:
    before = os.umask(0)
    try:
        assert stat.S_IMODE(back_up().file.stat().st_mode) == 0o600
    finally:
        os.umask(before)


def test_it_holds_neither_passphrase_nor_session_key(
    back_up: Callable[[], Made], folder: Path, tmp_path: Path
) -> None:
    secret = (folder / "access.json").read_text(encoding="utf-8")
    assert "scrypt" in secret
    into = tmp_path / "out"
    into.mkdir()
    unpack(back_up().file, into)
    everything = b"".join(file.read_bytes() for file in into.rglob("*") if file.is_file())
    assert b"scrypt:" not in everything
    key = secret.split('"session_key": "')[1].split('"')[0]
    assert key.encode() not in everything


def test_each_step_leaves_a_writer_its_turn_and_none_starts_the_copy_anew(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Written between any two steps, by another connection that waits for nothing."""
    monkeypatch.setattr(copying, "PAGES_A_STEP", 16)
    path, written = folder / "hangroom.db", 0
    settled(folder)
    with closing(sqlite3.connect(path, timeout=0.0, isolation_level=None)) as writer:
        (pages,) = writer.execute("pragma page_count").fetchone()

        def write() -> None:
            nonlocal written
            written += 1
            assert written <= pages, "it was begun anew again and again"
            writer.execute("insert into room (name) values (?)", (f"after step {written}",))

        copy_database(path, tmp_path / "copy.db", rest=write)
    assert pages / 16 - 1 <= written <= pages / 16 + 2
    assert not [row for row in rows(tmp_path / "copy.db") if "after step" in row]
    assert len([row for row in rows(path) if "after step" in row]) == written


WRITER = """
import sqlite3, sys
db = sqlite3.connect(sys.argv[1], timeout=5.0, isolation_level=None)
number = 0
while True:
    number += 1
    db.execute("begin immediate")
    db.execute("insert into room (name) values (?)", (f"left {number}",))
    db.execute("insert into room (name) values (?)", (f"right {number}",))
    db.execute("commit")
    if number == 1:
        print("writing", flush=True)
"""


def test_what_another_process_writes_meanwhile_is_in_it_whole_or_not_at_all(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(copying, "PAGES_A_STEP", 8)
    path = folder / "hangroom.db"
    with subprocess.Popen(
        [sys.executable, "-c", WRITER, path], stdout=subprocess.PIPE, text=True
    ) as writer:
        assert writer.stdout is not None
        assert writer.stdout.readline() == "writing\n"
        copies = []
        try:
            for number in range(5):
                copies.append(tmp_path / f"{number}.db")
                copy_database(path, copies[-1])
        finally:
            writer.kill()
    counted = []
    for copy in copies:
        with closing(sqlite3.connect(copy)) as db:
            assert db.execute("pragma integrity_check").fetchall() == [("ok",)]
            left, right = (
                {
                    int(name.split()[1])
                    for (name,) in db.execute(
                        "select name from room where name like ?", (f"{side} %",)
                    )
                }
                for side in ("left", "right")
            )
        assert left == right
        assert left == set(range(1, len(left) + 1))
        counted.append(len(left))
    assert counted[0] < counted[-1], "the writer stood still, so that nothing was tried"


CUT_SHORT = """
import sys
from datetime import datetime
from pathlib import Path
from hangroom.store.backup import copying

def hang(*_):
    print("here", flush=True)
    sys.stdin.read()

if sys.argv[3] == "copying":
    rest = hang
else:
    rest, copying.check_whole_file = (lambda: None), hang
copying.make_backup(Path(sys.argv[1]), Path(sys.argv[2]), made_at=datetime(2026, 11, 25, 3, 30).astimezone(),
    site="Hang room", program="0.1.0", settings=None, rest=rest)
"""


@pytest.mark.parametrize("moment", ["copying", "reading back"])
def test_killed_it_leaves_nothing_under_its_name_and_the_next_one_tidies_up(
    moment: str, folder: Path, stick: Path, back_up: Callable[[], Made]
) -> None:
    with subprocess.Popen(
        [sys.executable, "-c", CUT_SHORT, folder, stick, moment],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as making:
        assert making.stdout is not None
        assert making.stdout.readline() == "here\n"
        making.send_signal(signal.SIGKILL)
        making.wait()
    (left,) = stick.iterdir()
    assert left.name == ".hangroom-20261125-033000.zip.part"
    assert list(left.iterdir())
    made = back_up()
    assert list(stick.iterdir()) == [made.file]
    look_at(made.file)


def test_a_full_stick_is_refused_with_figures_before_anything_is_written(
    back_up: Callable[[], Made], stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(
        os, "statvfs", lambda _path: SimpleNamespace(f_bavail=5000, f_frsize=4096, f_blocks=1)
    )
    with pytest.raises(StoreError, match=r"may need 2 MB and leave 20 MB free, .* are 20 MB"):
        back_up()
    assert not list(stick.iterdir())


def test_a_disk_that_fills_while_it_is_made_leaves_nothing(
    back_up: Callable[[], Made], folder: Path, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    if os.geteuid() != 0 or shutil.which("mount") is None:
        pytest.skip("a small disk of its own needs root")
    mount = ["mount", "-t", "tmpfs", "-o", "size=300k", "tmpfs", str(stick)]
    if subprocess.run(mount, check=False, stderr=subprocess.DEVNULL).returncode:
        pytest.skip("nothing may be mounted here")
    try:
        monkeypatch.setattr(copying, "check_space", lambda *_given, **_named: None)
        before = bytes_in(folder)
        with pytest.raises(StoreError, match="was not made"):
            back_up()
        assert not list(stick.iterdir())
        assert bytes_in(folder) == before
    finally:
        subprocess.run(["umount", stick], check=True)


def test_a_damaged_database_is_told_and_not_kept_as_a_backup(
    back_up: Callable[[], Made], folder: Path, stick: Path
) -> None:
    settled(folder)
    path = folder / "hangroom.db"
    data = bytearray(path.read_bytes())
    # The middle of its pages, where tables lie and the header does not.
    data[len(data) // 2 : len(data) // 2 + 8192] = b"\xa5" * 8192
    path.write_bytes(data)
    with pytest.raises(StoreError, match="damaged"):
        back_up()
    assert not list(stick.iterdir())


def test_a_row_that_cannot_be_is_found_by_quick_check_alone(
    back_up: Callable[[], Made], folder: Path, stick: Path
) -> None:
    """Every page can be read, and yet something other than hangroom has written here."""
    with closing(sqlite3.connect(folder / "hangroom.db")) as db:
        db.execute("pragma ignore_check_constraints = on")
        db.execute("update command set closed = 7 where id = 1")
        db.commit()
    with pytest.raises(StoreError, match=r"damaged \(CHECK constraint failed in command"):
        back_up()
    assert not list(stick.iterdir())


def test_a_photo_that_is_lost_or_damaged_is_told_and_the_rest_is_kept(
    back_up: Callable[[], Made], folder: Path
) -> None:
    lost, damaged = sorted((folder / "photos").iterdir())
    lost.unlink()
    damaged.write_bytes(b"\xff\xd8\xff other bytes")
    made = back_up()
    assert set(made.manifest.lacking) == {lost.name, damaged.name}
    assert check_whole_file(made.file).rows["batch"] == 2


def test_a_folder_for_another_household_is_refused(folder: Path, stick: Path) -> None:
    with pytest.raises(StoreError, match="Another hangroom"):
        make_backup(
            folder, stick, made_at=START, site="", program="0", settings=None, household="x"
        )
    assert not list(stick.iterdir())


HOLDER = """
import sys
from pathlib import Path
from hangroom.store.in_use import in_use
with in_use(Path(sys.argv[1]), "daemon"):
    print("here", flush=True)
    sys.stdin.read()
"""


def test_who_works_in_a_folder_is_named_until_its_process_ends_however(folder: Path) -> None:
    with subprocess.Popen(
        [sys.executable, "-c", HOLDER, folder],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as daemon:
        assert daemon.stdout is not None
        assert daemon.stdout.readline() == "here\n"
        with pytest.raises(StoreError, match="systemctl stop hangroom-daemon"):
            alone(folder, doing="nothing can be put back").__enter__()
        daemon.kill()
    with alone(folder, doing="nothing can be put back"):
        pass


def test_a_service_that_starts_meanwhile_waits_before_it_touches_the_database(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As `prepare_database` does it, but without waiting."""
    really = fcntl.flock
    monkeypatch.setattr(
        "hangroom.store.database.fcntl.flock", lambda fd, how: really(fd, how | fcntl.LOCK_NB)
    )
    with alone(folder, doing="nothing can be put back"), pytest.raises(StoreError):
        prepare_database(folder)
    with alone(folder, doing="another cannot begin", users=("backup",)):
        prepare_database(folder)
    prepare_database(folder)


def test_several_may_work_there_at_once_and_without_a_folder_nobody_is_kept_from_it(
    folder: Path, tmp_path: Path
) -> None:
    with in_use(folder, "web"), in_use(folder, "web"), in_use(tmp_path / "not there", "daemon"):
        pass
