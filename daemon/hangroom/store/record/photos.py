"""Photos of a batch: the table photo, and the files in the store's folder.

A file bears its own checksum as its name, so that the same photo twice is one file and a damaged
one is noticed. It is on the disk before the row is. Nothing is taken out of a photo here, the place
it was taken at neither, should the camera have noted it: the page draws it anew before.
"""

import os
import re
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from hashlib import sha256
from pathlib import Path
from typing import ClassVar

from sqlite_utils import Database

from hangroom.errors import InputError, StoreError
from hangroom.store.checks import check_moment, check_text, check_whole
from hangroom.store.record.entries import Entry, add_entry

FOLDER = "photos"
MOST_BYTES = 20_000_000


class Media(StrEnum):
    """What kind of picture a file is; the word is its ending."""

    JPEG = "jpg"
    PNG = "png"
    WEBP = "webp"


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo(Entry):
    """One photo; `of_key` is the key of the weigh-in or look it was taken at, None for none.

    `group` None: the whole batch. Raises InputError for what cannot be.
    """

    TABLE: ClassVar[str] = "photo"
    ORDER: ClassVar[str] = "taken_ms"

    taken_at: datetime
    sha256: str
    media: Media
    size: int
    caption: str = ""
    group: str | None = None
    of_key: str | None = None

    def __post_init__(self) -> None:
        Entry.__post_init__(self)
        check_moment("time of the photo", self.taken_at, entered_at=self.entered_at)
        if not re.fullmatch("[0-9a-f]{64}", self.sha256):
            raise InputError(f"{self.sha256!r} is no SHA-256 checksum. Nothing was stored.")
        check_whole("photo's size in bytes", self.size, (1, MOST_BYTES))
        check_text("caption", self.caption)

    @property
    def file_name(self) -> str:
        """The name of its file in the store's folder of photos."""
        return f"{self.sha256}.{self.media}"


def add_photo(
    db: Database,
    folder: Path,
    batch_number: int,
    data: bytes,
    *,
    key: str,
    taken_at: datetime,
    by: str,
    now: datetime,
    caption: str = "",
    group: str | None = None,
    of_key: str | None = None,
) -> Photo:
    """Keep a photo's file in the store's `folder` and its row, and return it; twice is once.

    Raises InputError where it is no JPEG, PNG or WebP or is too large, StoreError where the disk
    does not take it.
    """
    photo = Photo(
        key=key,
        taken_at=taken_at,
        sha256=sha256(data).hexdigest(),
        media=media_of(data),
        size=len(data),
        caption=caption,
        group=group,
        of_key=of_key,
        entered_at=now,
        entered_by=by,
    )
    keep_file(folder, photo.file_name, data)
    add_entry(db, batch_number, photo)
    return photo


def media_of(data: bytes) -> Media:
    """Tell a picture's kind by its first bytes; InputError where it is none that is kept here."""
    if len(data) > MOST_BYTES:
        raise InputError(
            f"The photo has {len(data) / 1e6:.1f} MB; up to {MOST_BYTES / 1e6:.0f} are kept. "
            "Take it smaller; nothing was stored."
        )
    # How each begins: JPEG by ITU-T T.81, PNG by RFC 2083, WebP by RFC 9649.
    if data.startswith(b"\xff\xd8\xff"):
        return Media.JPEG
    if data.startswith(b"\x89PNG\r\n\x1a\n"):
        return Media.PNG
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return Media.WEBP
    raise InputError("That file is no JPEG, PNG or WebP photo. Choose a photo; nothing was stored.")


def photo_file(folder: Path, file_name: str) -> Path:
    """Return where a photo's file lies in the store's folder."""
    return folder / FOLDER / file_name


def photo_names(db: Database) -> frozenset[str]:
    """Return the file name of every photo that the records know."""
    rows = db.execute("select sha256, media from photo")
    return frozenset(f"{sha}.{media}" for sha, media in rows)


def restore_photo(folder: Path, file_name: str, data: bytes) -> bool:
    """Put a photo's file back and return True; False where it is not the one of that name.

    Raises StoreError where the disk does not take it.
    """
    if Path(file_name).stem != sha256(data).hexdigest():
        return False
    keep_file(folder, file_name, data)
    return True


def keep_file(folder: Path, file_name: str, data: bytes) -> None:
    """Put a photo's file in its place, on the disk and whole; StoreError where that fails."""
    keep_bytes(photo_file(folder, file_name), data)


def keep_bytes(file: Path, data: bytes) -> None:
    """Do the same for a file anywhere in the store's folder."""
    fresh = file.with_suffix(".new")
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        with fresh.open("wb") as out:
            out.write(data)
            out.flush()
            os.fsync(out.fileno())
        fresh.replace(file)
    except OSError as fault:
        raise StoreError(
            f"The photo cannot be kept in {file.parent} ({fault.strerror}). Make room or give "
            "hangroom write access there, then send it again."
        ) from fault
