import io
import random
from typing import Any

import pytest
from web.entering import Keeper, keeper, said, value_of
from web.scenario import Scene
from werkzeug.test import TestResponse

from hangroom.errors import InputError
from hangroom.store.record.photos import MOST_BYTES, photo_file
from hangroom_web.batch.jpeg import without_places

Image = pytest.importorskip("PIL.Image", reason="Pillow is not installed")

PHOTOS = "/batches/1/photos"
GPS, WAY_UP, MAKER = 0x8825, 0x0112, 0x010F
SECRET = b"40.7128N"


@pytest.fixture
def ada(scene: Scene) -> Keeper:
    return keeper(scene)


def jpeg(*, way_up: int | None = 6, progressive: bool = False, colours: str = "RGB") -> bytes:
    """A photo of noise as a phone makes one: with its place, its maker, a comment, a way up."""
    noise = random.Random(7).randbytes(64 * 48 * len(colours))
    picture = Image.frombytes(colours, (64, 48), noise)
    exif = Image.Exif()
    exif[MAKER] = SECRET.decode()
    if way_up is not None:
        exif[WAY_UP] = way_up
    exif.get_ifd(GPS)[29] = SECRET.decode()
    out = io.BytesIO()
    picture.save(
        out,
        "JPEG",
        exif=exif,
        comment=SECRET,
        xmp=SECRET,
        icc_profile=b"profile" * 9,
        progressive=progressive,
        quality=90,
    )
    return out.getvalue()


def opened(data: bytes) -> Any:  # noqa: ANN401 - a picture of a library that may be missing
    return Image.open(io.BytesIO(data))


@pytest.mark.parametrize("progressive", [False, True])
@pytest.mark.parametrize("colours", ["RGB", "L", "CMYK"])
def test_a_photo_loses_its_place_and_keeps_its_picture(colours: str, *, progressive: bool) -> None:
    """Pillow, which reads both, finds the same pixels, the same way up, and nothing else."""
    if colours == "L":
        before = jpeg(progressive=progressive, colours="L")
    else:
        before = jpeg(progressive=progressive, colours=colours)
    after = without_places(before)
    assert SECRET in before
    assert SECRET not in after
    assert opened(after).tobytes() == opened(before).tobytes()
    assert dict(opened(after).getexif()) == {WAY_UP: 6}
    assert opened(after).info.get("icc_profile") == opened(before).info["icc_profile"]


@pytest.mark.parametrize("way_up", [None, 1, 3, 8])
def test_the_way_up_is_kept_as_it_was(way_up: int | None) -> None:
    exif = opened(without_places(jpeg(way_up=way_up))).getexif()
    assert exif.get(WAY_UP) == way_up


def test_a_second_picture_behind_the_first_is_cut_off() -> None:
    assert without_places(jpeg() + jpeg()) == without_places(jpeg())


def test_done_twice_it_is_done_once() -> None:
    once = without_places(jpeg())
    assert without_places(once) == once


@pytest.mark.parametrize("cut", [3, 40, 700, -2])
def test_a_damaged_photo_is_refused_in_words(cut: int) -> None:
    with pytest.raises(InputError, match="The photo is damaged"):
        without_places(jpeg()[:cut])


def test_other_files_are_left_as_they_are() -> None:
    assert without_places(b"\x89PNG\r\n\x1a\n...") == b"\x89PNG\r\n\x1a\n..."


def send(ada: Keeper, data: bytes, **form: str) -> TestResponse:
    answer = ada.send(PHOTOS, {"photo": (io.BytesIO(data), "photo.jpg"), **form})
    answer.request.input_stream.close()
    return answer


def test_a_photo_is_kept_shown_small_and_given_back(ada: Keeper, scene: Scene) -> None:
    for _twice in range(2):
        answer = send(ada, jpeg(), caption="deep grooves", group="A", of="wednesdayA1", key="p1")
        assert answer.status_code == 303
    (photo,) = ada.record(1).photos
    assert (photo.caption, photo.group, photo.of_key) == ("deep grooves", "A", "wednesdayA1")
    assert photo.entered_by == "Ada"
    kept = photo_file(scene.folder, photo.file_name).read_bytes()
    assert kept == without_places(jpeg())
    html = scene.client().get(PHOTOS).get_data(as_text=True)
    assert f'src="/batches/1/photos/{photo.file_name}" alt="deep grooves"' in html
    with scene.client().get(f"/batches/1/photos/{photo.file_name}") as sent:
        assert sent.data == kept


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"", "Choose a photo"),
        (b"GIF89a", "is no JPEG, PNG or WebP photo"),
        (b"\xff\xd8\xff\xe1", "The photo is damaged"),
    ],
)
def test_every_fault_is_told_and_the_words_stay(ada: Keeper, data: bytes, told: str) -> None:
    photo = {"photo": (io.BytesIO(data), "photo.jpg" if data else "")}
    answer = ada.send(PHOTOS, {**photo, "caption": "wrinkles"})
    assert answer.status_code == 422
    assert told in said(answer)
    assert value_of(answer, "caption") == "wrinkles"
    assert ada.record(1).photos == ()


def test_a_photo_may_be_as_large_as_the_store_takes_and_nothing_else_may(
    ada: Keeper, scene: Scene
) -> None:
    large = b"\x89PNG\r\n\x1a\n" + bytes(2_000_000)
    assert send(ada, large).status_code == 303
    too_large = b"\x89PNG\r\n\x1a\n" + bytes(MOST_BYTES)
    answer = send(ada, too_large)
    assert answer.status_code == 422
    assert "up to 20 are kept" in said(answer)
    elsewhere = ada.send("/batches/1/measurements", {"note": "x" * 300_000})
    assert elsewhere.status_code == 413
    stranger = scene.client().post(PHOTOS, data={"photo": (io.BytesIO(large), "photo.jpg")})
    stranger.request.input_stream.close()
    assert stranger.status_code == 413
