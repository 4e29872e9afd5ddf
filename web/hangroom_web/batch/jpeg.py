"""Taking out of a JPEG what says where, when and with what it was taken. Pure.

Which way up it was taken stays, or it would be shown lying down. Source of the segments: ITU-T
T.81, annex B; of the tag for the way up: Exif 2.32 (CIPA DC-008), tag 0112.
"""

import re
import struct

from hangroom.errors import InputError
from hangroom_web.words import _

START, END = b"\xff\xd8", b"\xff\xd9"
COMMENT, SCAN = 0xFE, 0xDA
STANDS_ALONE = frozenset({0x01, *range(0xD0, 0xD8)})
# Of what programs add, only this is needed to show a picture rightly: JFIF, Adobe's colour
# transform, and colour profiles, which share their segment with other things.
JFIF, ADOBE, PROFILE, PROFILE_IS = 0xE0, 0xEE, 0xE2, b"ICC_PROFILE\0"
EXIF, EXIF_IS = 0xE1, b"Exif\0\0"
ADDED = range(0xE0, 0xF0)
# In the picture's own data, these two bytes begin no segment.
NEXT_SEGMENT = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]")
WAY_UP_TAG, SHORT = 0x0112, 3
WAYS_UP = range(1, 9)


def without_places(photo: bytes) -> bytes:
    """Return a JPEG without what was noted at its taking; any other file as it is.

    Raises InputError where a JPEG is damaged.
    """
    if not photo.startswith(START):
        return photo
    try:
        return b"".join(_segments(photo))
    except (IndexError, struct.error) as fault:
        raise InputError(
            _("The photo is damaged. Take it again, or choose another; nothing was stored.")
        ) from fault


def _segments(photo: bytes) -> list[bytes]:
    kept, at = [START], len(START)
    while True:
        while photo[at + 1] == 0xFF:  # noqa: PLR2004 - fill bytes before a marker
            at += 1
        if photo[at] != 0xFF:  # noqa: PLR2004 - what every marker begins with
            raise IndexError(at)
        marker = photo[at + 1]
        if photo[at : at + 2] == END:
            # Some phones append a second picture, with a place of its own.
            return [*kept, END]
        if marker in STANDS_ALONE:
            kept.append(photo[at : at + 2])
            at += 2
            continue
        (length,) = struct.unpack_from(">H", photo, at + 2)
        after = at + 2 + length
        kept.append(_kept(marker, photo[at:after]))
        if marker == SCAN:
            found = NEXT_SEGMENT.search(photo, after)
            if found is None:
                raise IndexError(after)
            kept.append(photo[after : found.start()])
            after = found.start()
        at = after


def _kept(marker: int, segment: bytes) -> bytes:
    body = segment[4:]
    if marker == EXIF and body.startswith(EXIF_IS):
        return _way_up(body[len(EXIF_IS) :])
    if marker == COMMENT:
        return b""
    if marker == PROFILE:
        return segment if body.startswith(PROFILE_IS) else b""
    return segment if marker not in ADDED or marker in {JFIF, ADOBE} else b""


def _way_up(exif: bytes) -> bytes:
    """Return a segment that says only which way up the picture is; nothing where it is upright."""
    order = ">" if exif.startswith(b"MM") else "<"
    (first,) = struct.unpack_from(f"{order}I", exif, 4)
    (count,) = struct.unpack_from(f"{order}H", exif, first)
    for entry in range(count):
        tag, kind, _number, value = struct.unpack_from(f"{order}HHIH", exif, first + 2 + 12 * entry)
        if (tag, kind) == (WAY_UP_TAG, SHORT) and value in WAYS_UP:
            tiff = struct.pack(">2sHIHHHIHHI", b"MM", 42, 8, 1, WAY_UP_TAG, SHORT, 1, value, 0, 0)
            body = EXIF_IS + tiff
            return struct.pack(">BBH", 0xFF, EXIF, len(body) + 2) + body
    return b""
