"""A batch's page, its comparison and its printed record in a real browser.

The pictures it leaves behind are to be looked at: the page light and dark, every sheet of paper.
"""

import re
import shutil
import subprocess
from pathlib import Path

import pytest
from browser.conftest import OUTPUT, Phone, PhoneMaker
from browser.test_every_screen import TARGETS, axe, findings_light_and_dark
from web.recorded import recorded
from web.scenario import Scene

from hangroom.store.batches import batch
from hangroom.store.database import connect

pytestmark = pytest.mark.browser

__all__ = ["axe"]

SCREENS = {
    "batch-recorded": "/batches/1?ratio=1.6",
    "batch-plain": "/batches/2",
    "compare": "/batches/compare?group=1-A&group=1-B",
    "record": "/batches/1/record",
}
OPEN_ALL = "document.querySelectorAll('details').forEach((one) => { one.open = true; })"


@pytest.fixture(autouse=True)
def _with_its_record(scene: Scene) -> None:
    recorded(scene)


@pytest.mark.parametrize("screen", SCREENS)
def test_a_screen_has_no_finding_of_axe(phone: PhoneMaker, axe: str, screen: str) -> None:
    one = phone()
    one.open(SCREENS[screen])
    assert findings_light_and_dark(one, axe, screen) == []
    one.evaluate(OPEN_ALL)
    assert findings_light_and_dark(one, axe, f"{screen}-open") == []


@pytest.mark.parametrize("screen", SCREENS)
def test_nothing_scrolls_sideways_on_a_narrow_phone_with_everything_open(
    phone: PhoneMaker, screen: str
) -> None:
    one = phone(viewport={"width": 320, "height": 640})
    one.open(SCREENS[screen])
    one.evaluate(OPEN_ALL)
    one.picture(f"{screen}-320")
    assert one.evaluate("document.documentElement.scrollWidth") <= 320


@pytest.mark.parametrize("screen", SCREENS)
def test_every_target_is_at_least_44_px(phone: PhoneMaker, screen: str) -> None:
    one = phone()
    one.open(SCREENS[screen])
    targets = one.evaluate(TARGETS)
    small = [t["html"] for t in targets if t["box"]["width"] < 44 or t["box"]["height"] < 44]
    assert targets
    assert small == []


def test_forced_colours_keep_the_shapes_of_the_answers(phone: PhoneMaker) -> None:
    one = phone(forced_colors="active")
    one.open(SCREENS["batch-recorded"])
    one.picture("batch-forced-colours")
    stroke = one.evaluate("getComputedStyle(document.querySelector('.checks .answer')).stroke")
    ground = one.evaluate("getComputedStyle(document.querySelector('.sheet')).backgroundColor")
    assert stroke != ground


def printed(one: Phone, path: str, name: str) -> Path:
    """Print a page as the browser does, from a dark screen, and leave a picture of each sheet."""
    if shutil.which("pdftotext") is None:
        pytest.skip("poppler's tools are not installed")
    OUTPUT.mkdir(exist_ok=True)
    one.open(path)
    file = OUTPUT / f"{name}.pdf"
    one.page.pdf(path=file, prefer_css_page_size=True)
    for old in OUTPUT.glob(f"{name}-sheet-*.png"):
        old.unlink()
    subprocess.run(["pdftoppm", "-r", "80", "-png", file, OUTPUT / f"{name}-sheet"], check=True)
    return file


def told(*command: str | Path) -> str:
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout


@pytest.mark.parametrize(("paper", "points"), [("A4", "594.96 x 841.92"), ("letter", "612 x 792")])
def test_the_record_prints_whole_with_its_name_and_sum_on_every_sheet(
    phone: PhoneMaker, scene: Scene, paper: str, points: str
) -> None:
    one = phone(color_scheme="dark")
    file = printed(one, f"/batches/1/record?paper={paper}", f"record-{paper}")
    assert points in told("pdfinfo", file)
    sheets = told("pdftotext", "-layout", file, "-").split("\f")[:-1]
    assert len(sheets) > 3
    for number, sheet in enumerate(sheets, start=1):
        assert "Hang room" in sheet
        assert "Record of batch 1, pork and venison, juniper" in sheet
        assert re.search(r"hangroom [\d.]+\S*, printed 2026-11-26 09:52, data [0-9a-f]{16}", sheet)
        assert f"{number} / {len(sheets)}" in sheet
    everything = "\n".join(sheets)
    db = connect(scene.path)
    found = batch(db, 1)
    db.close()
    assert found is not None
    for group in found.groups:
        for stick in group.tagged:
            assert all(f"{look.weight_g:.1f} g" in everything for look in stick.weigh_ins)
    assert "Log in" not in everything
    assert "Print it from" not in everything


def test_ink_is_black_on_white_even_from_a_dark_screen(phone: PhoneMaker) -> None:
    one = phone(color_scheme="dark")
    one.open("/batches/1/record")
    one.page.emulate_media(media="print", color_scheme="dark")
    style = "getComputedStyle(document.querySelector('{}')).{}"
    assert one.evaluate(style.format("body", "backgroundColor")) == "rgb(255, 255, 255)"
    for part in ("body", "h2", "td", ".key, .small-print", "dt"):
        red, green, blue = map(
            int, re.findall(r"\d+", one.evaluate(style.format(part, "color")))[:3]
        )
        assert max(red, green, blue) < 0x50


def test_a_row_is_never_cut_in_two_between_sheets(phone: PhoneMaker) -> None:
    one = phone()
    one.open("/batches/1/record")
    one.page.emulate_media(media="print")
    cut = one.evaluate(
        "[...document.querySelectorAll('tr, svg, .keep')].filter("
        "(e) => getComputedStyle(e).breakInside !== 'avoid').map((e) => e.outerHTML.slice(0, 80))"
    )
    assert cut == []
    heads = one.evaluate(
        "[...document.querySelectorAll('thead')].map((e) => getComputedStyle(e).display)"
    )
    assert set(heads) == {"table-header-group"}


def test_the_print_button_prints_and_is_hidden_without_a_script(phone: PhoneMaker) -> None:
    one = phone()
    one.page.add_init_script("window.print = () => { window.printed = true; }")
    one.open("/batches/1/record")
    one.page.get_by_role("button", name="Print").tap()
    assert one.evaluate("window.printed") is True
    plain = phone(java_script_enabled=False)
    plain.open("/batches/1/record")
    assert not plain.page.get_by_role("button", name="Print").is_visible()
    assert plain.page.get_by_text("Print it from the browser's menu.").is_visible()


def test_a_hostile_site_name_stays_words_in_the_margins(phone: PhoneMaker, scene: Scene) -> None:
    db = connect(scene.path)
    name = 'pork "; } body { display: none } \\ é'
    db.execute("update batch set name = ? where number = 1", (name,))
    db.close()
    file = printed(phone(), "/batches/1/record", "record-hostile")
    sheets = told("pdftotext", "-layout", file, "-").split("\f")[:-1]
    assert len(sheets) > 3
    assert all(f"Record of batch 1, {name}" in sheet for sheet in sheets)
