"""Photos in a small size for lists: made when first asked for, beside the kept ones."""

from pathlib import Path
from threading import Lock

from hangroom.errors import InputError, StoreError
from hangroom.store.record.photos import keep_bytes, photo_file
from hangroom_web.batch.photo import small

FOLDER = "small-photos"

# A photo is held in memory while it is drawn anew: one at a time on a small Pi.
one_photo = Lock()


def small_photo(folder: Path, file_name: str) -> Path:
    """Return the file of a kept photo's small form, else of the photo itself where that fails.

    `file_name` is one that the records know, never a part of an address.
    """
    whole = photo_file(folder, file_name)
    made = folder / FOLDER / f"{whole.stem}.jpg"
    if made.is_file():
        return made
    try:
        with one_photo:
            keep_bytes(made, small(whole.read_bytes()))
    except (InputError, StoreError, OSError):
        return whole
    return made
