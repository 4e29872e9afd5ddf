import io
import random
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from PIL import Image, ImageChops, ImageStat
from web.attacking import exploding
from web.entering import Keeper, keeper, said, value_of
from web.scenario import Scene
from werkzeug.test import TestResponse

from hangroom.errors import InputError
from hangroom.store.record.photos import photo_file
from hangroom_web.batch.photo import MOST_BYTES, drawn_anew, small

PHOTOS = "/batches/1/photos"
GPS, WAY_UP, MAKER = 0x8825, 0x0112, 0x010F
SECRET = b"40.7128N"


@pytest.fixture
def ada(scene: Scene) -> Keeper:
    return keeper(scene)


def jpeg(*, way_up: int | None = 6, progressive: bool = False, colours: str = "RGB") -> bytes:
    """A photo as a phone makes one: with its place, its maker, a comment, a way up."""
    bands = (Image.linear_gradient("L"), Image.radial_gradient("L"))
    drawn = [bands[n % 2].rotate(90 * n).resize((64, 48)) for n in range(len(colours))]
    picture = Image.merge(colours, drawn)
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


def big(width_px: int, height_px: int, **options: Any) -> bytes:  # noqa: ANN401 - of Pillow
    out = io.BytesIO()
    Image.new("RGB", (width_px, height_px), (140, 59, 46)).save(out, "JPEG", **options)
    return out.getvalue()


@pytest.mark.parametrize("progressive", [False, True])
@pytest.mark.parametrize("colours", ["RGB", "L", "CMYK"])
def test_only_the_picture_of_a_photo_stays(colours: str, *, progressive: bool) -> None:
    """Pillow reads both: the same picture as far as JPEG tells, upright, and nothing beside it."""
    before = jpeg(progressive=progressive, colours=colours, way_up=1)
    after = drawn_anew(before)
    assert SECRET in before
    assert SECRET not in after
    assert set(opened(after).info) == {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
    assert not opened(after).getexif()
    apart = ImageChops.difference(opened(after), opened(before).convert("RGB"))
    assert max(ImageStat.Stat(apart).rms) < 5


# The eight ways up of Exif 2.32, tag 0112: where the stored picture's upper left corner belongs.
CORNERS = {
    1: (0, 0),
    2: (1, 0),
    3: (1, 1),
    4: (0, 1),
    5: (0, 0),
    6: (1, 0),
    7: (1, 1),
    8: (0, 1),
}


@pytest.mark.parametrize("way_up", CORNERS)
def test_a_photo_is_turned_upright(way_up: int) -> None:
    picture = Image.new("RGB", (96, 64), "black")
    picture.paste((255, 255, 255), (0, 0, 32, 32))
    exif = Image.Exif()
    exif[WAY_UP] = way_up
    out = io.BytesIO()
    picture.save(out, "JPEG", exif=exif)
    upright = opened(drawn_anew(out.getvalue()))
    assert upright.size == ((96, 64) if way_up < 5 else (64, 96))
    right, lower = CORNERS[way_up]
    at = (8 + right * (upright.width - 17), 8 + lower * (upright.height - 17))
    assert min(upright.getpixel(at)) > 200


def test_a_photo_is_kept_no_longer_than_1600_pixels_and_its_list_form_320() -> None:
    kept = drawn_anew(big(4032, 3024))
    assert opened(kept).size == (1600, 1200)
    assert opened(small(kept)).size == (320, 240)


def test_what_comes_behind_a_photo_is_cut_off() -> None:
    page = b"<html><script>alert(1)</script></html>"
    assert drawn_anew(jpeg() + page) == drawn_anew(jpeg() + jpeg()) == drawn_anew(jpeg())


def test_a_phones_file_of_two_pictures_gives_the_first() -> None:
    """MPO (CIPA DC-007): what phones make with a second, deeper picture behind."""
    out = io.BytesIO()
    first = Image.new("RGB", (64, 48), "white")
    first.save(out, "MPO", save_all=True, append_images=[Image.new("RGB", (64, 48), "black")])
    after = opened(drawn_anew(out.getvalue()))
    assert (after.format, getattr(after, "n_frames", 1)) == ("JPEG", 1)
    assert min(after.getpixel((30, 20))) > 250


@pytest.mark.parametrize("cut", [3, 40, 700, -400])
def test_a_damaged_photo_is_refused_in_words(cut: int) -> None:
    with pytest.raises(InputError, match="The photo is damaged"):
        drawn_anew(jpeg()[:cut])


@pytest.mark.parametrize("seed", range(8))
def test_whatever_befalls_a_photos_bytes_it_is_a_picture_or_refused(seed: int) -> None:
    rng, photo = random.Random(seed), jpeg()
    for _try in range(60):
        bytes_ = bytearray(photo)
        for _slip in range(rng.randint(1, 6)):
            bytes_[rng.randrange(rng.choice([300, len(bytes_)]))] = rng.randrange(256)
        try:
            after = drawn_anew(bytes(bytes_))
        except InputError:
            continue
        assert opened(after).format == "JPEG"
        assert SECRET not in after


PEAK = """
import re, sys
from hangroom.errors import InputError
from hangroom_web.batch.photo import drawn_anew, small
def peak_mb():  # of this program: the resource usage of a child begins with its parent's
    return int(re.search(r"VmHWM:\\s+(\\d+) kB", open("/proc/self/status").read())[1]) / 1024
small(open(sys.argv[1], "rb").read())
before_mb = peak_mb()
try:
    drawn_anew(open(sys.argv[2], "rb").read())
    print("taken", peak_mb() - before_mb)
except InputError as fault:
    print("refused", peak_mb() - before_mb)
    print(fault, file=sys.stderr)
"""


def peak_of(photo: bytes, folder: Path) -> tuple[str, float, str]:
    """Take a photo in by a process of its own; return what became of it, and what it took, MB."""
    first, given = folder / "first.jpg", folder / "given.jpg"
    first.write_bytes(jpeg())
    given.write_bytes(photo)
    ran = subprocess.run(
        [sys.executable, "-c", PEAK, first, given], capture_output=True, text=True, check=True
    )
    what, more_mb = ran.stdout.split()
    return what, float(more_mb), ran.stderr


@pytest.mark.parametrize("size_px", [(65_535, 65_535), (4097, 3072)], ids=str)
def test_a_photo_that_would_fill_the_memory_is_not_opened(
    size_px: tuple[int, int], tmp_path: Path
) -> None:
    what, more_mb, told = peak_of(exploding(*size_px), tmp_path)
    assert (what, more_mb < 8) == ("refused", True), more_mb
    assert "more than 12 megapixels" in told


def test_the_largest_photo_takes_a_bounded_share_of_a_small_pi(tmp_path: Path) -> None:
    """12 megapixels in several scans, of which libjpeg keeps every coefficient (2 bytes each)."""
    what, more_mb, _told = peak_of(big(4032, 3024, progressive=True), tmp_path)
    assert (what, more_mb < 64) == ("taken", True), more_mb


def test_a_photo_of_very_many_scans_is_not_opened() -> None:
    scans = big(64, 48, progressive=True)
    at = scans.rindex(b"\xff\xda")
    with pytest.raises(InputError, match="damaged"):
        drawn_anew(scans[:at] + scans[at:-2] * 80 + scans[-2:])


@pytest.mark.parametrize(
    ("kind", "told"),
    [("PNG", "a PNG"), ("GIF", "a GIF"), ("WEBP", "a WebP"), ("TIFF", "no JPEG"), ("PDF", "a PDF")],
)
def test_other_pictures_are_refused_by_their_name(kind: str, told: str) -> None:
    out = io.BytesIO()
    Image.new("RGB", (8, 8)).save(out, kind)
    with pytest.raises(InputError, match=told):
        drawn_anew(out.getvalue())


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"\0\0\0\x18ftypheic\0\0\0\0", "a HEIC"),
        (b"\0\0\0\x1cftypavif\0\0\0\0", "an AVIF"),
        (b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>", "an SVG"),
        (b"\n <?xml version='1.0'?><svg/>", "an SVG"),
        (b"GIF89a/*\xff\xd8\xff\xe0*/=1", "a GIF"),
        (b"PK\x03\x04", "a ZIP"),
        (b"MZ", "no JPEG"),
    ],
)
def test_what_is_no_photo_is_refused_by_its_name(data: bytes, told: str) -> None:
    with pytest.raises(InputError, match=told):
        drawn_anew(data)


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
    assert kept == drawn_anew(jpeg())
    html = scene.client().get(PHOTOS).get_data(as_text=True)
    assert f'src="/batches/1/photos/{photo.file_name}/small" alt="deep grooves"' in html
    with scene.client().get(f"/batches/1/photos/{photo.file_name}") as sent:
        assert sent.data == kept
        assert sent.headers["Content-Type"] == "image/jpeg"
        assert sent.headers["X-Content-Type-Options"] == "nosniff"
        assert "private" in sent.headers["Cache-Control"]
    with scene.client().get(f"/batches/1/photos/{photo.file_name}/small") as sent:
        assert sent.data == small(kept)


@pytest.mark.parametrize(
    "name",
    [
        "../hangroom.db",
        "..%2fhangroom.db",
        "%2e%2e/access.json",
        "....//access.json",
        "/etc/passwd",
        "x.jpg",
        "\u2025/access.json",
        "access.json%00.jpg",
    ],
)
@pytest.mark.parametrize("form", ["", "/small"])
def test_no_address_leads_to_another_file(scene: Scene, name: str, form: str) -> None:
    answer = scene.client().get(f"/batches/1/photos/{name}{form}")
    assert answer.status_code in {308, 404}
    assert b"session_key" not in answer.data


def test_a_small_form_that_cannot_be_kept_is_the_whole_photo(ada: Keeper, scene: Scene) -> None:
    send(ada, jpeg(), key="p1")
    (photo,) = ada.record(1).photos
    (scene.folder / "small-photos").write_text("in the way")
    with scene.client().get(f"/batches/1/photos/{photo.file_name}/small") as sent:
        assert sent.data == photo_file(scene.folder, photo.file_name).read_bytes()


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"", "Choose a photo"),
        (b"GIF89a", "a GIF"),
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


def test_a_photo_may_be_large_and_nothing_else_may(ada: Keeper, scene: Scene) -> None:
    large = jpeg()[:-2] + b"\0" * 2_000_000
    assert send(ada, large).status_code == 303
    answer = send(ada, jpeg() + bytes(MOST_BYTES))
    assert answer.status_code == 422
    assert "up to 8 are taken" in said(answer)
    elsewhere = ada.send("/batches/1/measurements", {"note": "x" * 300_000})
    assert elsewhere.status_code == 413
    stranger = scene.client().post(PHOTOS, data={"photo": (io.BytesIO(large), "photo.jpg")})
    stranger.request.input_stream.close()
    assert stranger.status_code == 413
