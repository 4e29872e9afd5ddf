"""Labels and the sheet to inspect by, as a printer gets them: read back by other programs' eyes.

The codes are read by zxing-cpp, which shares nothing with what draws them; the words by pdftotext.
"""

import re
import sqlite3
import subprocess
from pathlib import Path

import pytest
import zxingcpp
from browser.conftest import OUTPUT, Phone, PhoneMaker
from browser.test_every_screen import TARGETS, axe, findings
from PIL import Image
from web.scenario import FRIDGE_GREEN_G, GREEN_G, Scene

pytestmark = pytest.mark.browser
__all__ = ["axe"]  # a fixture, used by name

PAPERS = [("A4", "594.96 x 841.92"), ("letter", "612 x 792")]
DPI = 200
MM_PER_INCH = 25.4


def printed(one: Phone, path: str, name: str) -> tuple[str, list[Path]]:
    """Print a page as the browser does; return its PDF's size and a picture of each sheet."""
    OUTPUT.mkdir(exist_ok=True)
    one.open(path)
    file = OUTPUT / f"{name}.pdf"
    one.page.pdf(path=file, prefer_css_page_size=True)
    for old in OUTPUT.glob(f"{name}-sheet-*.png"):
        old.unlink()
    to = OUTPUT / f"{name}-sheet"
    subprocess.run(["pdftoppm", "-r", str(DPI), "-gray", "-png", file, to], check=True)
    told = subprocess.run(["pdfinfo", file], capture_output=True, text=True, check=True).stdout
    return told, sorted(OUTPUT.glob(f"{name}-sheet-*.png"))


def seen(sheet: Path) -> Image.Image:
    with Image.open(sheet) as picture:
        return picture.convert("L")


def words(name: str) -> list[str]:
    file = OUTPUT / f"{name}.pdf"
    told = subprocess.run(
        ["pdftotext", "-layout", file, "-"], capture_output=True, text=True, check=True
    )
    return told.stdout.split("\f")[:-1]


@pytest.mark.parametrize(("paper", "points"), PAPERS)
def test_every_label_is_read_by_another_program_and_is_large_enough(
    phone: PhoneMaker, paper: str, points: str
) -> None:
    one = phone(color_scheme="dark")
    told, sheets = printed(one, f"/batches/1/labels?paper={paper}", f"labels-{paper}")
    assert points in told
    read = [code for sheet in sheets for code in zxingcpp.read_barcodes(seen(sheet))]
    port = one.served.port
    assert sorted(code.text for code in read) == [
        f"HTTP://HANGROOM.LOCAL:{port}/S/{tag}" for tag in sorted(GREEN_G)
    ]
    for code in read:
        at = code.position
        wide_mm = (at.top_right.x - at.top_left.x) / DPI * MM_PER_INCH
        assert wide_mm >= 20, "smaller than a phone reads at arm's length, wet and floury"
        assert code.format == zxingcpp.BarcodeFormat.QRCode
        assert code.ec_level == "Q"
    for sheet in words(f"labels-{paper}"):
        assert "never to the casing" in sheet
    everything = "\n".join(words(f"labels-{paper}"))
    assert all(re.search(rf"\b{tag}\b", everything) for tag in GREEN_G)
    assert "Print it from" not in everything


def test_round_each_code_stays_white_and_no_label_is_cut(phone: PhoneMaker) -> None:
    """ISO/IEC 18004, 6.3.8: a quiet zone of four modules all round."""
    one = phone()
    _told, sheets = printed(one, "/batches/1/labels", "labels-quiet")
    picture = seen(sheets[0])
    codes = zxingcpp.read_barcodes(picture)
    assert codes
    for code in codes:
        at = code.position
        left, top, right, foot = at.top_left.x, at.top_left.y, at.bottom_right.x, at.bottom_right.y
        quiet = round(4 * (right - left) / 33) - 2  # more modules than 33 would be wider still
        around = picture.crop((left - quiet, top - quiet, right + quiet, foot + quiet))
        around.paste(
            255, (quiet - 2, quiet - 2, around.width - quiet + 2, around.height - quiet + 2)
        )
        assert sum(around.histogram()[:200]) == 0, "no grey or black in it"
    one.page.emulate_media(media="print")
    kept = (
        "[...document.querySelectorAll('.labels li')].map((e) => getComputedStyle(e).breakInside)"
    )
    assert set(one.evaluate(kept)) == {"avoid"}


def test_a_label_opens_the_stick(phone: PhoneMaker) -> None:
    one = phone()
    one.log_in("hangroom.local")
    one.open("/S/A2", "hangroom.local")
    assert one.page.url.endswith("/inspect?all=1#stick-A2")
    one.page.locator("#stick-A2-weight").scroll_into_view_if_needed()


@pytest.mark.parametrize(("paper", "points"), PAPERS)
def test_the_sheet_prints_each_stick_with_what_is_known_and_room_to_write(
    phone: PhoneMaker, scene: Scene, paper: str, points: str
) -> None:
    one = phone(color_scheme="dark")
    told, _sheets = printed(one, f"/inspect/sheet?paper={paper}", f"sheet-{paper}")
    assert points in told
    closet, fridge = words(f"sheet-{paper}")
    db = sqlite3.connect(scene.path)
    weights = db.execute("select tag, weight_g from weigh_in join stick on stick.id = stick_id")
    on_sheets = [
        (tag, f"{g:.1f} g, Wed", fridge if tag[0] == "F" else closet) for tag, g in weights
    ]
    db.close()
    assert len(on_sheets) == len(GREEN_G) + len(FRIDGE_GREEN_G)
    for tag, weight, sheet in on_sheets:
        assert re.search(rf"\b{tag}\b", sheet)
        assert weight in sheet
    for sheet in (closet, fridge):
        assert "Weighed at" in sheet
        assert "the scale at zero" in sheet
        assert "Inspection, Thu 26 Nov" in sheet
    assert "Inspection, Closet" in closet
    assert "Inspection, Fridge" in fridge
    one.page.emulate_media(media="print")
    rows = one.evaluate(
        "[...document.querySelectorAll('tr')].map((e) => getComputedStyle(e).breakInside)"
    )
    assert set(rows) == {"avoid"}


def test_on_a_narrow_screen_both_have_no_finding_of_axe_and_fit(
    phone: PhoneMaker, axe: str
) -> None:
    one = phone(viewport={"width": 320, "height": 640}, color_scheme="dark")
    for name, path in (("labels", "/batches/1/labels"), ("sheet", "/inspect/sheet?all=1")):
        one.open(path)
        one.picture(f"{name}-320")
        assert findings(one, axe) == []
        assert one.evaluate("document.documentElement.scrollWidth") <= 320
        assert [t["html"] for t in one.evaluate(TARGETS) if t["box"]["height"] < 44] == []
