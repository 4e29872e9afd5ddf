"""What stands in a backup's `manifest.json`: of which moment and version, and each file's checksum.

    {"format": "hangroom backup", "version": 1, "program": "0.1.0", "steps": [NAME, ...],
     "made_at": TIME, "site": NAME, "household": ID, "rows": {TABLE: COUNT},
     "members": [{"name": NAME, "size": BYTES, "sha256": HEX}, ...], "lacking": [PHOTO, ...]}

`version` goes up when a reader of the old form could be misled, not when an entry comes to it.
Left out on purpose: the file with the passphrase's hash and the key of the sessions, and the file
of the notices' channels with their passwords. A stick gets lost; a passphrase is chosen anew in a
minute. Of API tokens and calendar addresses the database itself has only the SHA-256 of 32 random
bytes, which gives nobody away, so those go with it and phones keep their calendar.
"""

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import Literal

from pydantic import AwareDatetime, ConfigDict, TypeAdapter, ValidationError

from hangroom.errors import InputError
from hangroom.store.record.photos import FOLDER as PHOTOS
from hangroom.store.record.photos import MOST_BYTES as MOST_PHOTO_BYTES

VERSION = 1
MANIFEST = "manifest.json"
DATABASE = "hangroom.db"
SETTINGS = "settings.toml"

# Far more than a household fills: five years of two rooms are some 200 MB.
MOST_DATABASE_BYTES = 8_000_000_000
MOST_SETTINGS_BYTES = 1_000_000
MOST_MANIFEST_BYTES = 20_000_000
MOST_MEMBERS = 60_000

_PHOTO = re.compile(rf"{PHOTOS}/[0-9a-f]{{64}}\.(?:jpg|png|webp)")
_SUM = re.compile("[0-9a-f]{64}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """One file of a backup: its name in it, its size in bytes, its SHA-256 in hex."""

    name: str
    size: int
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Manifest:
    """What a backup says of itself. `household` names whose it is, by what no other has.

    `steps`: those of the database's shape. `lacking`: photos that the records name and no file had.
    """

    # As JSON has it: "1" is no number. Entries of a newer program are passed over.
    __pydantic_config__ = ConfigDict(strict=True)

    format: Literal["hangroom backup"] = "hangroom backup"
    version: int = VERSION
    program: str
    steps: tuple[str, ...]
    made_at: AwareDatetime
    site: str
    household: str
    rows: Mapping[str, int]
    members: tuple[Member, ...]
    lacking: tuple[str, ...] = ()

    @property
    def photos(self) -> int:
        """How many photos are in it."""
        return sum(member.name.startswith(f"{PHOTOS}/") for member in self.members)

    @property
    def unpacked_bytes(self) -> int:
        """What it takes on the disk, in bytes."""
        return sum(member.size for member in self.members)

    def has(self, name: str) -> bool:
        """Return whether a file of that name is in it."""
        return any(member.name == name for member in self.members)


_FORM = TypeAdapter(Manifest)


def written(manifest: Manifest) -> bytes:
    """Return the text of a manifest."""
    return _FORM.dump_json(manifest, indent=1)


def read_manifest(text: bytes) -> Manifest:
    """Return what a manifest says; InputError where it is none, or of a newer form."""
    try:
        said = json.loads(
            text, parse_int=float
        )  # a whole number of 5000 digits is no fault of ours
    except (ValueError, RecursionError):
        said = None
    match said:
        case {"format": "hangroom backup", "version": float(version)} if version > VERSION:
            raise InputError(
                f"It was made by a newer hangroom ({said.get('program', 'version not told')}). "
                "Install that version or a later one, then restore."
            )
    try:
        manifest = _FORM.validate_json(text)
    except ValidationError as fault:
        raise InputError(
            f"Its {MANIFEST} is not that of a hangroom backup ({fault.error_count()} faults). "
            "Take a file made by `hangroom backup`."
        ) from None
    faults = [*_faults(manifest)]
    if faults:
        raise InputError("\n".join(faults))
    return manifest


def most_bytes(name: str) -> int:
    """Return how large a file of a backup may be, in bytes; 0 for one that does not belong there.

    Only these names are ever unpacked, so that none can lead out of the folder.
    """
    match name:
        case "hangroom.db":
            return MOST_DATABASE_BYTES
        case "settings.toml":
            return MOST_SETTINGS_BYTES
        case _:
            return MOST_PHOTO_BYTES if _PHOTO.fullmatch(name) else 0


def _faults(manifest: Manifest) -> list[str]:
    names = [member.name for member in manifest.members]
    faults = []
    if DATABASE not in names:
        faults.append(f"There is no {DATABASE} in it.")
    if len(names) > MOST_MEMBERS:
        faults.append(f"It names {len(names)} files; {MOST_MEMBERS} are the most.")
    if len(set(names)) < len(names):
        faults.append(f"Its {MANIFEST} names a file twice.")
    for member in manifest.members:
        most = most_bytes(member.name)
        if most == 0:
            faults.append(f"{member.name[:80]!r} does not belong in a backup.")
        elif not 0 <= member.size <= most:
            faults.append(f"{member.name} would have {member.size} bytes; {most} are the most.")
        if not _SUM.fullmatch(member.sha256):
            faults.append(f"The checksum of {PurePosixPath(member.name).name[:80]!r} is none.")
    return faults
