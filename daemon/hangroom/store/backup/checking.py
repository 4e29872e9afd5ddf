"""Reading a backup that may be anything: cut short, foreign, newer, or made to do harm.

Nothing in it is trusted: only names that belong there are unpacked, no more bytes than the manifest
names, and each file is compared with its checksum before the next step.
"""

import os
import stat
import struct
import zipfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from hashlib import sha256
from pathlib import Path

from hangroom.errors import InputError
from hangroom.store.backup.manifest import (
    MANIFEST,
    MOST_MANIFEST_BYTES,
    SETTINGS,
    Manifest,
    Member,
    most_bytes,
    read_manifest,
)

CHUNK_BYTES = 1 << 20
# Deflate packs at most some 1,030 times (RFC 1951: 258 bytes in two bits); databases of readings
# about 9 times, and an empty one of ours 45 (measured). What is tighter is no honest backup.
MOST_PACKED_RATIO = 200
# Few bytes pack tightly by chance; below this it does no harm.
HARMLESS_BYTES = 1_000_000

NOT_ONE = "Take a file made by `hangroom backup`."


def check_whole_file(file: Path) -> Manifest:
    """Return what a backup says of itself once every byte of it was read and is as it says.

    InputError otherwise. Unpacks nothing.
    """
    with _zip(file) as pack:
        manifest = _checked(pack)
        for member in manifest.members:
            _copy_out(pack, member, lambda _chunk: None)
    return manifest


def unpack(file: Path, into: Path) -> Manifest:
    """Unpack a backup into an empty folder and return what it says; InputError where it lies."""
    with _zip(file) as pack:
        manifest = _checked(pack)
        for member in manifest.members:
            place = into / member.name
            place.parent.mkdir(exist_ok=True)
            with place.open("xb") as out:
                _copy_out(pack, member, out.write)
                out.flush()
                os.fsync(out.fileno())
    return manifest


def read_settings_of(file: Path) -> bytes | None:
    """Return the settings file that came with a backup, None where none did."""
    with _zip(file) as pack:
        for member in _checked(pack).members:
            if member.name == SETTINGS:
                text = bytearray()
                _copy_out(pack, member, text.extend)
                return bytes(text)
    return None


@contextmanager
def _zip(file: Path) -> Iterator[zipfile.ZipFile]:
    try:
        with zipfile.ZipFile(file) as pack:
            yield pack
    except OSError as fault:
        if fault.errno is None:
            raise InputError(f"It is damaged ({fault}). {NOT_ONE}") from None
        raise InputError(f"It cannot be used ({fault.strerror}).") from None
    except (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, ValueError) as fault:
        why = str(fault) or "it ends too early"
        raise InputError(
            f"It is no whole zip file ({why}): foreign, or cut short when it was copied. {NOT_ONE}"
        ) from None
    except (struct.error, OverflowError, MemoryError) as fault:
        raise InputError(f"Its table of contents is damaged ({fault}). {NOT_ONE}") from None


def _checked(pack: zipfile.ZipFile) -> Manifest:
    infos = pack.infolist()
    names = [info.filename for info in infos]
    if MANIFEST not in names:
        raise InputError(f"There is no {MANIFEST} in it, so it is no backup of hangroom. {NOT_ONE}")
    if len(set(names)) < len(names):
        raise InputError(f"It holds a file twice, which none of ours does. {NOT_ONE}")
    for info in infos:
        _check_info(info)
    with pack.open(MANIFEST) as source:
        manifest = read_manifest(source.read(MOST_MANIFEST_BYTES))
    sizes = {member.name: member.size for member in manifest.members}
    held = {info.filename: info.file_size for info in infos if info.filename != MANIFEST}
    if differing := sorted(held.keys() ^ sizes.keys()):
        raise InputError(
            f"What is in it is not what its {MANIFEST} names: {differing[0][:80]!r}. {NOT_ONE}"
        )
    for name, size in held.items():
        if size != sizes[name]:
            raise InputError(f"{name} has {size} bytes and not {sizes[name]}. {NOT_ONE}")
    return manifest


def _check_info(info: zipfile.ZipInfo) -> None:
    name = info.filename
    most = MOST_MANIFEST_BYTES if name == MANIFEST else most_bytes(name)
    if most == 0:
        raise InputError(f"{name[:80]!r} does not belong in a backup; nothing is unpacked of it.")
    kind = stat.S_IFMT(info.external_attr >> 16)
    if kind not in {0, stat.S_IFREG}:
        raise InputError(f"{name} is no plain file in it but a link or a device. {NOT_ONE}")
    if info.flag_bits & 1 or info.compress_type not in {zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED}:
        raise InputError(f"{name} is packed or locked in a way that is not ours. {NOT_ONE}")
    if info.file_size > most:
        raise InputError(f"{name} would unpack to {info.file_size} bytes; {most} are the most.")
    if info.file_size > max(HARMLESS_BYTES, MOST_PACKED_RATIO * info.compress_size):
        raise InputError(
            f"{name} would unpack from {info.compress_size} to {info.file_size} bytes, which no "
            f"honest file does. {NOT_ONE}"
        )


def _copy_out(pack: zipfile.ZipFile, member: Member, keep: Callable[[bytes], object]) -> None:
    """Hand a file's bytes on, piece by piece, and no more than it may have."""
    digest, left = sha256(), member.size
    with pack.open(member.name) as source:
        while chunk := source.read(min(CHUNK_BYTES, left + 1)):
            left -= len(chunk)
            if left < 0:
                raise InputError(f"{member.name} has more bytes than it says. {NOT_ONE}")
            digest.update(chunk)
            keep(chunk)
    if left > 0 or digest.hexdigest() != member.sha256:
        raise InputError(f"{member.name} is damaged: its checksum is another one. {NOT_ONE}")
