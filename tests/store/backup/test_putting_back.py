"""Put back it is what it was; what must not come back does not; no moment is without a whole one."""

import os
import shutil
import sqlite3
import stat
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from sqlite_utils import Database, Migrations
from store.backup.conftest import bytes_in, photos, rows
from web.scenario import START, Scene
from web.telling import CHANNELS, tell

from hangroom.errors import StoreError
from hangroom.product.notice import Stamp
from hangroom.store.api_tokens import Scope, admitted, new_token, revoke_token, tokens
from hangroom.store.backup.copying import Made, make_backup
from hangroom.store.backup.placing import made_ready, present, put_in_place
from hangroom.store.database import connect, prepare_database
from hangroom.store.deliveries import open_messages, waiting_on
from hangroom.store.migrations import MIGRATIONS
from hangroom.store.notices import keep_notices, newest_notices

NOW = START + timedelta(days=3)


def restore(file: Path, folder: Path) -> Path | None:
    with made_ready(file, folder, now=NOW) as ready:
        return put_in_place(ready, folder, now=NOW)


def empty(folder: Path) -> None:
    for there in folder.iterdir():
        if there.is_dir():
            shutil.rmtree(there)
        else:
            there.unlink()


def change(folder: Path, *statements: str) -> None:
    with closing(sqlite3.connect(folder / "hangroom.db")) as db:
        for statement in statements:
            db.execute(statement)
        db.commit()


def test_backed_up_wiped_and_put_back_it_is_the_same_row_by_row_and_byte_by_byte(
    back_up: Callable[[], Made], folder: Path
) -> None:
    before, pictures = rows(folder / "hangroom.db"), photos(folder)
    assert len(pictures) == 2
    made = back_up()
    empty(folder)
    assert restore(made.file, folder) is None
    assert rows(folder / "hangroom.db") == before
    assert photos(folder) == pictures
    assert sorted(file.name for file in folder.iterdir()) == ["hangroom.db", "photos"]


def test_what_was_there_is_kept_aside_whole(back_up: Callable[[], Made], folder: Path) -> None:
    made = back_up()
    new = folder / "photos" / f"{'0' * 64}.jpg"
    new.write_bytes(b"\xff\xd8\xff taken since")
    change(folder, "update batch set name = 'changed since'")
    before, pictures = rows(folder / "hangroom.db"), photos(folder)
    aside = restore(made.file, folder)
    assert aside is not None
    assert aside.name == "before-restore-20261129-145204"
    assert rows(aside / "hangroom.db") == before
    assert photos(aside) == pictures
    assert not new.exists()
    assert not [row for row in rows(folder / "hangroom.db") if "changed since" in row]


def test_daemon_and_page_may_both_write_what_was_put_back(
    back_up: Callable[[], Made], folder: Path
) -> None:
    """Two users of one group, as their units' UMask=0007 leaves their own files."""
    made = back_up()
    restore(made.file, folder)
    modes = {
        name: stat.S_IMODE((folder / name).stat().st_mode) for name in ("hangroom.db", "photos")
    }
    assert modes == {"hangroom.db": 0o660, "photos": 0o2770}
    assert {stat.S_IMODE(file.stat().st_mode) for file in (folder / "photos").iterdir()} == {0o660}


@pytest.mark.skipif(os.geteuid() != 0, reason="only root may give a file away")
def test_put_back_by_root_it_belongs_to_the_services_all_the_same(
    back_up: Callable[[], Made], folder: Path
) -> None:
    made = back_up()
    os.chown(folder, 12_345, 12_346)
    restore(made.file, folder)
    new = [folder / "hangroom.db", folder / "photos", *(folder / "photos").iterdir()]
    assert {(file.stat().st_uid, file.stat().st_gid) for file in new} == {(12_345, 12_346)}


@pytest.mark.parametrize("fails_at", range(1, 7))
def test_whatever_fails_on_the_way_the_whole_old_one_or_the_whole_new_one_stands(
    fails_at: int, back_up: Callable[[], Made], folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As a disk that refuses each of the renames in turn."""
    made = back_up()
    old_rows, pictures = rows(folder / "hangroom.db"), photos(folder)
    change(folder, "update batch set name = 'changed since'")
    changed = rows(folder / "hangroom.db")
    count, really = 0, Path.replace

    def refused(self: Path, target: Path) -> Path:
        nonlocal count
        count += 1
        if count == fails_at:
            raise OSError(5, "Input/output error")
        return really(self, target)

    with made_ready(made.file, folder, now=NOW) as ready:
        monkeypatch.setattr(Path, "replace", refused)
        try:
            put_in_place(ready, folder, now=NOW)
        except StoreError:
            expected = changed
        else:
            expected = old_rows
        monkeypatch.undo()
    # Two photos, three files that lie beside a database, the database itself.
    assert (count, expected) == ((6, old_rows) if fails_at > 6 else (fails_at, changed))
    assert rows(folder / "hangroom.db") == expected
    assert photos(folder) == pictures


def test_an_open_database_is_refused_and_nothing_changed(
    back_up: Callable[[], Made], folder: Path
) -> None:
    """By a program that takes no lock of ours, as sqlite3's own shell."""
    made = back_up()
    with closing(connect(folder / "hangroom.db")) as other:
        other.execute("select count(*) from batch").fetchone()
        before = rows(folder / "hangroom.db")
        with pytest.raises(StoreError, match="Another program"):
            restore(made.file, folder)
        assert rows(folder / "hangroom.db") == before
    assert not list(folder.glob("before-restore*"))
    assert not list(folder.glob(".restoring*"))


def test_a_damaged_database_is_no_hindrance_and_is_kept_as_it_is(
    back_up: Callable[[], Made], folder: Path
) -> None:
    before, made = rows(folder / "hangroom.db"), back_up()
    for name in ("hangroom.db", "hangroom.db-wal"):
        (folder / name).write_bytes(b"no database at all" * 300)
    aside = restore(made.file, folder)
    assert rows(folder / "hangroom.db") == before
    assert aside is not None
    assert {(aside / name).read_bytes()[:10] for name in ("hangroom.db", "hangroom.db-wal")} == {
        b"no databas"
    }


def test_no_room_to_unpack_is_refused_and_nothing_changed(
    back_up: Callable[[], Made], folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = back_up()
    before = bytes_in(folder)
    monkeypatch.setattr("hangroom.store.backup.copying.SPARE_BYTES", 10**18)
    with pytest.raises(StoreError, match="there are"):
        restore(made.file, folder)
    assert bytes_in(folder) == before


def test_one_of_an_older_shape_is_brought_to_this_one(
    tmp_path: Path, stick: Path, folder: Path
) -> None:
    """Made by a program that had the first steps only."""
    old, then = tmp_path / "old", Migrations(MIGRATIONS.name)
    for step in MIGRATIONS.pending(Database(memory=True)):
        if step.name.startswith("m00"):
            then(name=step.name)(step.fn)
    old.mkdir()
    with closing(connect(old / "hangroom.db")) as db:
        then.apply(db)
        db.execute("insert into room (name) values ('cellar')")
        db.execute("insert into sensor (room_id, name) values (1, 'rail')")
        db.execute("insert into reading values (1, 1700000000000, 5000, 12.5, 76.25)")
        db.conn.commit()
    made = make_backup(old, stick, made_at=START, site="Old", program="0.0.9", settings=None)
    assert 0 < len(made.manifest.steps) < 10
    assert made.manifest.household == ""
    restore(made.file, folder)
    with closing(connect(folder / "hangroom.db")) as db:
        assert not MIGRATIONS.pending(db)
        assert db.execute(
            "select sensor_id, taken_ms, uptime_ms, temperature_c, humidity_pct from reading"
        ).fetchall() == [(1, 1700000000000, 5000, 12.5, 76.25)]
    assert prepare_database(folder).is_file()


PROVED = (
    "insert into relay_proof (room, relay, pin, active_high, tried_ms, tried_by, lasts_ms, seen)"
    " values ('closet', 'humidifier', {pin}, 1, 1, 'Ada', 1, 1)"
)


def proofs(folder: Path) -> list[int]:
    with closing(sqlite3.connect(folder / "hangroom.db")) as db:
        return [pin for (pin,) in db.execute("select pin from relay_proof")]


def test_which_relay_is_proved_is_true_of_the_wires_that_are_here(
    back_up: Callable[[], Made], folder: Path
) -> None:
    change(folder, PROVED.format(pin=17))
    made = back_up()
    change(folder, "delete from relay_proof", PROVED.format(pin=22))
    restore(made.file, folder)
    assert proofs(folder) == [22]
    empty(folder)
    restore(made.file, folder)
    assert proofs(folder) == [], "on a new Pi nobody has looked at a relay yet"


def test_a_latched_memory_of_now_goes_before_that_of_the_backup(
    back_up: Callable[[], Made], folder: Path
) -> None:
    memory = (
        "insert into control_memory (what, run_id, saved_ms, body) values ('alarms', 1, {}, '{}')"
    )
    change(folder, memory.format(1, '{"latched": []}'))
    made = back_up()
    change(folder, "delete from control_memory", memory.format(2, '{"latched": ["blind"]}'))
    restore(made.file, folder)
    with closing(sqlite3.connect(folder / "hangroom.db")) as db:
        assert db.execute("select saved_ms, body from control_memory").fetchall() == [
            (2, '{"latched": ["blind"]}')
        ]
        assert not db.execute("pragma foreign_key_check").fetchall()


def test_a_relay_switched_by_hand_and_a_wish_of_then_do_not_come_back(
    back_up: Callable[[], Made], folder: Path
) -> None:
    with closing(sqlite3.connect(folder / "hangroom.db")) as db:
        columns = [name for _, name, *_ in db.execute("pragma table_info(override)")]
    values = {"room": "'closet'", "relay": "'humidifier'", "closed": "1", "asked_by": "'Ada'"}
    values |= {"why": "''", "boot_id": "'this-boot'"}
    filled = ", ".join(values.get(name, "1") for name in columns)
    change(
        folder,
        f"insert into override values ({filled})",  # noqa: S608 - above
        "insert into request (key, asked_ms, expires_ms, asked_by, kind, room, body)"
        " values ('k', 1, 99999999999999, 'Ada', 'lockouts-lift', 'closet', '{}')",
    )
    made = back_up()
    restore(made.file, folder)
    with closing(sqlite3.connect(folder / "hangroom.db")) as db:
        assert db.execute("select count(*) from override").fetchone() == (0,)
        assert db.execute("select outcome from request").fetchall() == [("refused",)]


def test_what_was_being_told_at_that_time_is_not_told_weeks_later(
    back_up: Callable[[], Made], folder: Path
) -> None:
    tell(Scene(folder=folder), "room closet/far-too-warm")  # the phone has not taken it yet
    with closing(connect(folder / "hangroom.db")) as db:
        (notice,) = newest_notices(db, most=1)
        later = replace(notice, key="later")
        keep_notices(db, [later], CHANNELS, stamp=Stamp(boot_id="b", uptime_s=1.0, at=START))
    made = back_up()
    restore(made.file, folder)
    with closing(connect(folder / "hangroom.db")) as db:
        for channel in ("mail", "phone"):
            assert open_messages(db, channel) == []
            assert waiting_on(db, channel) == []
        assert len(newest_notices(db, most=9)) == 2


def test_a_token_revoked_since_stays_revoked_and_the_others_hold(
    back_up: Callable[[], Made], folder: Path
) -> None:
    with closing(connect(folder / "hangroom.db")) as db:
        secrets = [
            new_token(db, key=name, name=name, scopes=[Scope.READ], by="Ada", now=START)
            for name in ("scale", "lost phone")
        ]
    made = back_up()
    with closing(connect(folder / "hangroom.db")) as db:
        assert revoke_token(db, tokens(db)[1].number, by="Ada", now=START)
    restore(made.file, folder)
    with closing(connect(folder / "hangroom.db")) as db:
        found = [admitted(db, secret or "") for secret in secrets]
    assert [one is not None for one in found] == [True, False]


def test_what_is_there_is_told_without_touching_it(folder: Path, tmp_path: Path) -> None:
    told = present(folder)
    assert told is not None
    assert (told.batches, told.weigh_ins, told.damaged) == (2, 8, False)
    assert present(tmp_path) is None
    (folder / "hangroom.db").write_bytes(b"none")
    damaged = present(folder)
    assert damaged is not None
    assert damaged.damaged
