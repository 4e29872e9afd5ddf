"""No bad file changes a thing, whatever it is made to do."""

import json
import os
import sqlite3
import stat
import struct
import sys
import zipfile
from collections.abc import Callable
from contextlib import closing
from hashlib import sha256
from pathlib import Path
from tempfile import gettempdir
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parents[2]))

from cli.backup.conftest import Run
from store.backup.conftest import bytes_in

# What is wrong with a file, made out of a good one.

FROM_THE_ROOT = Path(gettempdir()) / "evil-of-hangroom.txt"


class Pack:
    """A good backup taken apart, to be put together wrongly."""

    def __init__(self, good: Path) -> None:
        with zipfile.ZipFile(good) as pack:
            self.files = {info.filename: pack.read(info) for info in pack.infolist()}
        self.manifest: dict[str, Any] = json.loads(self.files.pop("manifest.json"))

    def name(self, name: str, data: bytes) -> None:
        """Hold another file, and let the manifest say so."""
        self.files[name] = data
        members = [one for one in self.manifest["members"] if one["name"] != name]
        members.append({"name": name, "size": len(data), "sha256": sha256(data).hexdigest()})
        self.manifest["members"] = members

    def write(self, file: Path, *more: tuple[zipfile.ZipInfo | str, bytes]) -> None:
        with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as pack:
            for name, data in self.files.items():
                pack.writestr(name, data)
            for info, data in more:
                pack.writestr(info, data)
            pack.writestr("manifest.json", json.dumps(self.manifest))

    def database(self, path: Path, *statements: str) -> None:
        """Change the database in it, and its checksum too."""
        path.write_bytes(self.files["hangroom.db"])
        with closing(sqlite3.connect(path)) as db:
            db.execute("pragma journal_mode = delete")
            for statement in statements:
                db.execute(statement)
            db.commit()
        self.name("hangroom.db", path.read_bytes())


Break = Callable[[Path, Path, Path], str]


def cut(share: float) -> Break:
    def made(good: Path, bad: Path, _room: Path) -> str:
        data = good.read_bytes()
        bad.write_bytes(data[: int(len(data) * share)])
        return "no whole zip file"

    return made


def foreign(good: Path, bad: Path, _room: Path) -> str:
    with zipfile.ZipFile(bad, "w") as pack:
        pack.writestr("holiday.jpg", good.read_bytes()[:100])
    return "no backup of hangroom"


def no_zip(_good: Path, bad: Path, _room: Path) -> str:
    bad.write_text("weights of november\n" * 100, encoding="utf-8")
    return "no whole zip file"


def nothing(_good: Path, bad: Path, _room: Path) -> str:
    bad.write_bytes(b"")
    return "no whole zip file"


def newer_form(good: Path, bad: Path, _room: Path) -> str:
    pack = Pack(good)
    pack.manifest |= {"version": 2, "program": "9.1.0", "members": "in another form"}
    pack.write(bad)
    return "newer hangroom (9.1.0)"


def newer_shape(good: Path, bad: Path, _room: Path) -> str:
    pack = Pack(good)
    pack.manifest["steps"].append("m999_of_a_later_year")
    pack.write(bad)
    return "newer hangroom"


def newer_shape_that_it_does_not_tell(good: Path, bad: Path, room: Path) -> str:
    pack = Pack(good)
    pack.database(
        room / "newer.db",
        "insert into _sqlite_migrations (migration_set, name, applied_at)"
        " values ('hangroom', 'm999_of_a_later_year', '2030-01-01')",
    )
    pack.write(bad)
    return "newer hangroom"


def outside(name: str) -> Break:
    """A file that leads out, told or not told by the manifest."""

    def made(good: Path, bad: Path, _room: Path) -> str:
        pack = Pack(good)
        pack.name(name, b"evil")
        pack.write(bad)
        return "does not belong"

    return made


def not_named(good: Path, bad: Path, _room: Path) -> str:
    Pack(good).write(bad, (f"photos/{'a' * 64}.jpg", b"\xff\xd8\xff"))
    return "is not what its manifest"


def missing(good: Path, bad: Path, _room: Path) -> str:
    pack = Pack(good)
    del pack.files["settings.toml"]
    pack.write(bad)
    return "is not what its manifest"


def twice(good: Path, bad: Path, _room: Path) -> str:
    pack = Pack(good)
    with pytest.warns(UserWarning, match="Duplicate"):
        pack.write(bad, ("hangroom.db", b"another"))
    return "a file twice"


def link(good: Path, bad: Path, _room: Path) -> str:
    pack = Pack(good)
    name = f"photos/{'b' * 64}.jpg"
    pack.name(name, b"/etc/passwd")
    data = pack.files.pop(name)
    info = zipfile.ZipInfo(name)
    info.external_attr = (stat.S_IFLNK | 0o777) << 16
    pack.write(bad, (info, data))
    return "a link or a device"


def bomb(good: Path, bad: Path, _room: Path) -> str:
    """Fifty megabytes of nothing in fifty kilobytes, with a manifest that says so."""
    pack = Pack(good)
    pack.name("hangroom.db", b"\0" * 50_000_000)
    pack.write(bad)
    assert bad.stat().st_size < 200_000
    return "no honest file"


def bomb_that_denies_it(good: Path, bad: Path, _room: Path) -> str:
    """Manifest and table of contents say little; what comes out is much more."""
    pack = Pack(good)
    small = len(pack.files["hangroom.db"])
    entry = next(one for one in pack.manifest["members"] if one["name"] == "hangroom.db")
    pack.files["hangroom.db"] += os.urandom(3_000_000)
    pack.write(bad)
    data = bytearray(bad.read_bytes())
    with zipfile.ZipFile(bad) as made:
        large = made.getinfo("hangroom.db").file_size
    # APPNOTE.TXT 4.3.12: the size unpacked stands at byte 24 of an entry of the central directory.
    place = data.index(b"PK\x01\x02")
    while data[place + 46 : place + 46 + 11] != b"hangroom.db":
        place = data.index(b"PK\x01\x02", place + 4)
    assert struct.unpack_from("<I", data, place + 24) == (large,)
    struct.pack_into("<I", data, place + 24, small)
    bad.write_bytes(data)
    assert entry["size"] == small
    return ""


def too_large(good: Path, bad: Path, _room: Path) -> str:
    pack = Pack(good)
    entry = next(one for one in pack.manifest["members"] if one["name"] == "settings.toml")
    entry["size"] = 10**12
    pack.write(bad)
    return "are the most"


def other_bytes(good: Path, bad: Path, _room: Path) -> str:
    pack = Pack(good)
    data = bytearray(pack.files["hangroom.db"])
    data[-100] ^= 1
    pack.files["hangroom.db"] = bytes(data)
    pack.write(bad)
    return "its checksum is another one"


def a_bit_of_the_file(good: Path, bad: Path, _room: Path) -> str:
    data = bytearray(good.read_bytes())
    data[len(data) // 3] ^= 16
    bad.write_bytes(data)
    return ""


def locked(good: Path, bad: Path, _room: Path) -> str:
    Pack(good).write(bad)
    data = bytearray(bad.read_bytes())
    # Bit 0 of the flags, at byte 8 of the entry: encrypted.
    data[data.index(b"PK\x01\x02") + 8] |= 1
    bad.write_bytes(data)
    return "packed or locked"


def damaged_database(good: Path, bad: Path, _room: Path) -> str:
    """Damaged before it was packed, so that every checksum is right."""
    pack = Pack(good)
    data = bytearray(pack.files["hangroom.db"])
    half = len(data) // 2
    data[half : half + 8192] = b"\xa5" * 8192
    pack.name("hangroom.db", bytes(data))
    pack.write(bad)
    return "database in it"


def other_database(good: Path, bad: Path, room: Path) -> str:
    pack = Pack(good)
    with closing(sqlite3.connect(room / "songs.db")) as db:
        db.execute("create table song (name text)")
        db.commit()
    pack.name("hangroom.db", (room / "songs.db").read_bytes())
    pack.write(bad)
    return "none of hangroom's"


def no_database(good: Path, bad: Path, _room: Path) -> str:
    pack = Pack(good)
    pack.name("hangroom.db", b"not a database at all" * 500)
    pack.write(bad)
    return "cannot be read"


def trigger(good: Path, bad: Path, room: Path) -> str:
    pack = Pack(good)
    pack.database(
        room / "trigger.db",
        "create trigger sly after insert on weigh_in begin delete from batch; end",
    )
    pack.write(bad)
    return "more than hold rows"


def no_list(good: Path, bad: Path, _room: Path) -> str:
    pack = Pack(good)
    pack.manifest = {"format": "hangroom backup", "version": 1, "members": [7]}
    pack.write(bad)
    return "not that of a hangroom backup"


def deep_list(good: Path, bad: Path, _room: Path) -> str:
    with zipfile.ZipFile(bad, "w", zipfile.ZIP_DEFLATED) as pack:
        pack.writestr("manifest.json", "[" * 100_000)
        pack.write(good, "hangroom.db")
    return "not that of a hangroom backup"


BAD: dict[str, Break] = {
    "cut in half": cut(0.5),
    "cut at its last bytes": cut(0.999),
    "foreign": foreign,
    "no zip": no_zip,
    "empty": nothing,
    "newer form": newer_form,
    "newer shape": newer_shape,
    "newer shape, not told": newer_shape_that_it_does_not_tell,
    "path upwards": outside("../evil.txt"),
    "path upwards in the photos": outside("photos/../../evil.txt"),
    "path from the root": outside(str(FROM_THE_ROOT)),
    "path of another system": outside("..\\evil.txt"),
    "the passphrase's file": outside("access.json"),
    "file that is not named": not_named,
    "file that is missing": missing,
    "file twice": twice,
    "link": link,
    "bomb": bomb,
    "bomb that denies it": bomb_that_denies_it,
    "too large": too_large,
    "other bytes": other_bytes,
    "a flipped bit": a_bit_of_the_file,
    "locked": locked,
    "damaged database": damaged_database,
    "another program's database": other_database,
    "no database": no_database,
    "trigger": trigger,
    "manifest of nonsense": no_list,
    "manifest without end": deep_list,
}


@pytest.mark.parametrize("how", BAD)
def test_a_bad_file_is_refused_in_words_and_nothing_changed(
    how: str, run: Run, folder: Path, backup: Path, tmp_path: Path
) -> None:
    bad, room = tmp_path / "bad.zip", tmp_path / "room"
    room.mkdir()
    expected = BAD[how](backup, bad, room)
    before = bytes_in(tmp_path)
    ran = run("restore", bad, "--yes")
    assert (ran.code, ran.out) == (2, "")
    assert expected in ran.err
    assert ran.err.startswith(f"{bad}: ")
    assert "Nothing was changed." in ran.err
    assert bytes_in(tmp_path) == before
    assert not FROM_THE_ROOT.exists()
    assert folder.is_dir()


def test_each_of_them_would_have_been_taken_but_for_what_is_wrong_with_it(
    run: Run, folder: Path, backup: Path, tmp_path: Path
) -> None:
    """Taken apart and put together again without a fault, it is a backup."""
    Pack(backup).write(tmp_path / "again.zip")
    assert run("restore", tmp_path / "again.zip", "--yes").code == 0
    assert folder.is_dir()


def test_a_file_that_is_not_there_is_told(run: Run, folder: Path, tmp_path: Path) -> None:
    assert folder.is_dir()
    ran = run("restore", tmp_path / "no.zip", "--yes")
    assert (ran.code, "No such file" in ran.err) == (2, True)
