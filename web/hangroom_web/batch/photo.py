"""Taking a photo in: looked at before it is opened, then drawn anew: only its picture stays.

What is kept was written by us from pixels: no place, no device, no comment, no second picture or
other file behind the first. Nothing of the sender's bytes is served. Pillow is loaded by the first
photo; its caller lets one in at a time.
"""

import io
import struct
import warnings
from typing import TYPE_CHECKING, Final

from hangroom.errors import InputError
from hangroom_web.words import _

if TYPE_CHECKING:
    from PIL.Image import Image as Picture

MOST_BYTES: Final = 8_000_000

# 12 megapixels as phones count them: 4000 x 3000, 4032 x 3024, and 4096 x 3072 as the largest.
MOST_PIXELS: Final = 4096 * 3072

# What is kept: as long a side as the page's own script sends, and for lists.
LONGEST_PX: Final = 1600
SMALL_PX: Final = 320
QUALITY, SMALL_QUALITY = 85, 75

# A picture may be sent in many scans, each of which is decoded over the whole of it; ITU-T T.81
# sets no bound. Phones and programs send one to about a dozen (from memory).
MOST_SCANS: Final = 64
SCAN = b"\xff\xda"
JPEG_BEGINS = b"\xff\xd8\xff"

# Exif 2.32 (CIPA DC-008), tag 0112: which way up it was taken.
WAY_UP: Final = 0x0112

# How other files begin that somebody may take for a photo: what to say of them.
OTHERS = (
    (b"\x89PNG\r\n\x1a\n", 0, _("a PNG")),
    (b"GIF8", 0, _("a GIF")),
    (b"WEBP", 8, _("a WebP")),
    (b"ftypheic", 4, _("a HEIC")),
    (b"ftypheix", 4, _("a HEIC")),
    (b"ftypmif1", 4, _("a HEIC")),
    (b"ftypavif", 4, _("an AVIF")),
    (b"%PDF", 0, _("a PDF")),
    (b"PK\x03\x04", 0, _("a ZIP")),
    (b"<", 0, _("an SVG or another text")),
)

# What Pillow and the readers of what stands beside a picture raise at damaged bytes.
_BROKEN = (
    *(OSError, ValueError, SyntaxError, TypeError, LookupError, EOFError),
    *(ArithmeticError, AttributeError, struct.error),
)


def drawn_anew(photo: bytes) -> bytes:
    """Return the picture of a JPEG as a new one, upright, at most 1600 px long.

    Raises InputError where it is no JPEG, too large, or damaged.
    """
    _refuse_others(photo)
    return _drawn(photo, LONGEST_PX, QUALITY)


def small(photo: bytes) -> bytes:
    """Return a picture that was kept as a JPEG of at most 320 px; InputError where it cannot be."""
    return _drawn(photo, SMALL_PX, SMALL_QUALITY, kinds=("JPEG", "PNG", "WEBP"))


def _refuse_others(photo: bytes) -> None:
    if len(photo) > MOST_BYTES:
        raise InputError(
            _("The photo has {size:.1f} MB; up to {most:.0f} are taken. {do}").format(
                size=len(photo) / 1e6, most=MOST_BYTES / 1e6, do=_smaller()
            )
        )
    if photo.startswith(JPEG_BEGINS):
        return
    start = photo[:64].lstrip()
    for begins, at, name in OTHERS:
        if start[at : at + len(begins)] == begins:
            raise InputError(
                _(
                    "That file is {kind}; photos are taken as JPEG, as phones make them. Choose "
                    "another, or send it from the phone it was taken with; nothing was stored."
                ).format(kind=name)
            )
    raise InputError(_("That file is no JPEG photo. Choose a photo; nothing was stored."))


def _drawn(
    photo: bytes, longest_px: int, quality: int, kinds: tuple[str, ...] = ("JPEG",)
) -> bytes:
    from PIL import Image, ImageOps  # noqa: PLC0415 - 3 MB that only a photo needs

    if photo.count(SCAN) > MOST_SCANS:
        raise InputError(_damaged())
    # Not only our own bound: whatever Pillow opens on the way is held to it as well.
    Image.MAX_IMAGE_PIXELS = MOST_PIXELS
    try:
        with warnings.catch_warnings():
            # It warns of what it then opens all the same; the size is judged below, in words.
            warnings.simplefilter("ignore")
            with Image.open(io.BytesIO(photo), formats=kinds) as opened:
                width_px, height_px = opened.size
                if width_px * height_px > MOST_PIXELS:
                    raise Image.DecompressionBombError  # noqa: TRY301 - as Pillow at twice as much
                # Decoded at a half, a quarter or an eighth where that is still large enough.
                fits_ratio = longest_px / max(opened.size)
                opened.draft("RGB", (int(width_px * fits_ratio), int(height_px * fits_ratio)))
                way_up = _way_up(opened)
                opened.thumbnail((longest_px, longest_px))
                shrunk: Picture = opened.convert("RGB")
        shrunk.info = {}
        shrunk.getexif()[WAY_UP] = way_up
        upright = ImageOps.exif_transpose(shrunk)
        out = io.BytesIO()
        upright.save(out, "JPEG", quality=quality, optimize=True, exif=b"", comment=b"")
    except Image.DecompressionBombError:
        raise InputError(
            _("The photo has more than 12 megapixels. {do}").format(do=_smaller())
        ) from None
    except _BROKEN as fault:
        raise InputError(_damaged()) from fault
    return out.getvalue()


def _way_up(opened: "Picture") -> int:
    try:
        return int(opened.getexif().get(WAY_UP, 1))
    except _BROKEN:
        return 1  # what stands beside a picture is worth no picture


def _smaller() -> str:
    return _(
        "Take it smaller, or let the phone send it with script switched on, which shrinks it; "
        "nothing was stored."
    )


def _damaged() -> str:
    return _("The photo is damaged. Take it again, or choose another; nothing was stored.")
