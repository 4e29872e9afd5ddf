"""Readings as the product's sums take them; photos kept whole, under the name of their sum."""

from dataclasses import replace
from datetime import timedelta
from hashlib import sha256
from pathlib import Path

import pytest
from store.record.full_batch import ANN, COOK, HUNG, NOW, PNG, FullBatch, after
from store.record.test_whole import everything, record_of

from hangroom.errors import InputError, StoreError
from hangroom.product.cooking import judge_cook
from hangroom.product.findings import Answer
from hangroom.product.temperatures import Point
from hangroom.store.record.photos import (
    FOLDER,
    MOST_BYTES,
    Media,
    Photo,
    add_photo,
    media_of,
    photo_file,
    restore_photo,
)
from hangroom.store.record.series import TemperaturePoint


def test_readings_count_from_any_moment_in_seconds() -> None:
    since = COOK.points_since(after(5.5) - timedelta(minutes=1))
    assert since[:2] == (Point(60.0, 61.2), Point(660.0, 64.9))


@pytest.mark.parametrize(("held_s", "answer"), [(60, Answer.NOT_MET), (67, Answer.MET)])
def test_a_stored_cook_is_judged_by_the_published_table(held_s: int, answer: Answer) -> None:
    """FSIS Appendix A (meat): 150 degF held 67 s is 6.5-log, 60 s is not."""
    held = tuple(
        TemperaturePoint(at=after(6) + timedelta(seconds=at_s), temperature_c=(at_f - 32) * 5 / 9)
        for at_s, at_f in ((-1, 100), (0, 150), (30, 150), (held_s, 150), (held_s + 1, 100))
    )
    series = replace(COOK, points=held)
    assert judge_cook(series.points_since(held[0].at), poultry=False)[0].answer is answer


def add(full: FullBatch, data: bytes, key: str = "p") -> Photo:
    return add_photo(
        *(full.db, full.folder, 1, data), key=key, taken_at=HUNG, by=ANN, now=NOW, caption="x"
    )


@pytest.mark.parametrize(
    ("data", "media"),
    [
        # First bytes: JPEG by ITU-T T.81, PNG by RFC 2083, WebP by RFC 9649.
        (b"\xff\xd8\xff\xe0rest", Media.JPEG),
        (b"\x89PNG\r\n\x1a\nrest", Media.PNG),
        (b"RIFF\x10\x00\x00\x00WEBPVP8 rest", Media.WEBP),
    ],
)
def test_a_photo_is_kept_as_it_came(full: FullBatch, data: bytes, media: Media) -> None:
    photo = add(full, data)
    assert photo.media is media
    assert photo.file_name == f"{sha256(data).hexdigest()}.{media}"
    assert photo_file(full.folder, photo.file_name).read_bytes() == data
    assert photo in record_of(full).photos


def test_one_photo_entered_twice_is_one_file_and_one_row(full: FullBatch) -> None:
    add(full, PNG)
    before = everything(full.db)
    add(full, PNG)
    assert everything(full.db) == before
    assert len(list((full.folder / FOLDER).iterdir())) == 1


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "no JPEG, PNG or WebP"),
        (b"GIF89a", "no JPEG, PNG or WebP"),
        (b"<svg onload='x'>", "no JPEG, PNG or WebP"),
        (b"RIFF\x10\x00\x00\x00WAVErest", "no JPEG, PNG or WebP"),
        (b"\xff\xd8\xff" + bytes(MOST_BYTES), "up to 20 are kept"),
    ],
)
def test_what_is_no_photo_is_not_kept(full: FullBatch, data: bytes, says: str) -> None:
    before = everything(full.db), sorted((full.folder / FOLDER).iterdir())
    with pytest.raises(InputError, match=says):
        add(full, data)
    assert (everything(full.db), sorted((full.folder / FOLDER).iterdir())) == before


def test_a_photo_that_the_disk_does_not_take_leaves_no_row(full: FullBatch, tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a file stands here")
    before = everything(full.db)
    with pytest.raises(StoreError, match="send it again"):
        add(replace(full, folder=tmp_path / "taken"), b"\xff\xd8\xffother")
    assert everything(full.db) == before


def test_a_damaged_photo_is_not_put_back(full: FullBatch) -> None:
    (photo,) = record_of(full).photos
    file = photo_file(full.folder, photo.file_name)
    file.unlink()
    assert not restore_photo(full.folder, photo.file_name, PNG + b"!")
    assert not file.exists()
    assert restore_photo(full.folder, photo.file_name, PNG)
    assert file.read_bytes() == PNG
    assert media_of(PNG) is photo.media
