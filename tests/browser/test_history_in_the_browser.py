"""A room's past in a real browser: drawn with and without script, read by touch and by keys."""

import re
from datetime import timedelta
from urllib.parse import urlsplit

import pytest
from browser.conftest import Phone, PhoneMaker
from playwright.sync_api import Response
from web.scenario import Scene

from hangroom.store.batches import NewGroup, add_batch
from hangroom.store.database import connect

pytestmark = pytest.mark.browser

PAGE = "/rooms/closet/history"
DRAWN = "[data-drawn=finer] canvas"

# How many pixels of the canvas are neither its ground nor like their neighbours in the column.
INKED = """() => {
  const canvas = document.querySelector('.chart canvas');
  const image = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height).data;
  let inked = 0;
  for (let at = 3; at < image.length; at += 4) inked += image[at] > 0;
  return inked / (canvas.width * canvas.height);
}"""

# The colours of some columns of the canvas within the strips of air, each a share of the width from
# left; read back at one go, because Chromium complains of many.
COLUMNS = """(shares) => {
  const canvas = document.querySelector('.chart canvas'), one = devicePixelRatio;
  const top = 24 * one, height = Math.round(canvas.height / 2);
  const image = canvas.getContext('2d').getImageData(0, top, canvas.width, height).data;
  return shares.map((share) => {
    const x = Math.round(40 * one + share * (canvas.width - 50 * one)), seen = new Set();
    for (let y = 0; y < height; y += 1) {
      const at = 4 * (y * canvas.width + x);
      seen.add([...image.slice(at, at + 4)].join());
    }
    return [...seen];
  });
}"""


def opened(phone: PhoneMaker, asked: str = "", **options: object) -> Phone:
    # As fine as a phone's screen: single pixels are looked at.
    one = phone(**{"device_scale_factor": 2, **options})
    one.open(f"{PAGE}{asked}")
    one.page.wait_for_selector(DRAWN)
    return one


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_canvas_takes_the_drawings_place(phone: PhoneMaker, scheme: str) -> None:
    one = opened(phone, color_scheme=scheme)
    assert one.evaluate(INKED) > 0.05
    assert not one.page.is_visible(".chart > svg")
    assert one.page.locator(".chart [role=img]").first.get_attribute("aria-label")
    one.picture(f"history-canvas-{scheme}")


def test_without_script_the_drawing_stands(phone: PhoneMaker) -> None:
    one = phone(java_script_enabled=False)
    one.open(PAGE)
    assert one.page.is_visible(".chart > svg")
    assert one.page.locator(".chart canvas").count() == 0
    label = one.page.get_attribute(".chart > svg", "aria-label") or ""
    assert "Temperature" in label
    assert "No readings from 01:58 to 04:00. The controller was off." in label
    assert not one.page.is_visible("#readout")


def test_where_the_answer_fails_the_drawing_stays(phone: PhoneMaker) -> None:
    one = phone()
    one.page.route("**/api/v1/rooms/**", lambda route: route.fulfill(status=503, body="{}"))
    one.open(PAGE)
    one.page.wait_for_load_state("networkidle")
    assert one.page.is_visible(".chart > svg")
    one.complaints.clear()  # the console notes the 503


def test_a_touch_reads_out_the_moment(phone: PhoneMaker) -> None:
    one = opened(phone)
    box = one.page.locator(".u-over").bounding_box()
    assert box
    one.page.locator(".u-over").tap(position={"x": 0.9 * box["width"], "y": 40})
    readout = one.page.inner_text("#readout")
    # Nine tenths of a day before 09:52 is 07:28.
    assert re.match(r"Thu 26 Nov 07:[23]\d to 07:[23]\d\n", readout), readout
    assert re.search(r"Temperature 1\d\.\d °C \(1\d\.\d to 1\d\.\d\)", readout)
    assert re.search(r"Humidity 7\d\.\d % \(7\d\.\d to 7\d\.\d\)", readout)
    one.picture("history-touched")
    # In the gap: a word, and no number.
    one.page.locator(".u-over").tap(position={"x": 0.72 * box["width"], "y": 40})
    readout = one.page.inner_text("#readout")
    assert "Temperature: no reading" in readout
    assert "Humidifier not known" in readout


def test_the_arrow_keys_walk_from_stretch_to_stretch(phone: PhoneMaker) -> None:
    one = opened(phone)
    one.page.focus(".chart")
    read = []
    for key in ("End", "ArrowLeft", "ArrowLeft", "ArrowRight", "Home"):
        one.page.keyboard.press(key)
        one.page.wait_for_timeout(60)
        read.append(one.page.inner_text("#readout strong"))
    assert read[1] == read[3] != read[2]
    assert "Wed 25 Nov" in read[4]
    assert "09:5" in read[0]


def test_the_gap_is_hatched_and_no_curve_runs_through_it(phone: PhoneMaker) -> None:
    """In the middle of the gap a column has the hatching's colours; of the curves it has none."""
    one = opened(phone, color_scheme="light")

    # 01:58 to 04:00 is 0.67 to 0.755 of the day that ends at 09:52.
    gap = [0.70 + step / 1000 for step in range(0, 30, 3)]
    before = [share - 0.2 for share in gap]
    columns = one.evaluate(COLUMNS, [*gap, *before])

    def any_has(found: list[list[str]], colour: tuple[int, ...]) -> bool:
        # Of the line itself, not of its faint edge.
        return any(
            all(
                abs(int(part) - want) < 12
                for part, want in zip(each.split(","), colour, strict=True)
            )
            for column in found
            for each in column
        )

    # The palette of app.css, opaque.
    ochre, edge = (0x8A, 0x4B, 0x08, 0xFF), (0x7A, 0x81, 0x87, 0xFF)
    assert not any_has(columns[: len(gap)], ochre)
    assert any_has(columns[: len(gap)], edge)
    assert any_has(columns[len(gap) :], ochre)


def test_it_is_painted_anew_when_the_scheme_changes(phone: PhoneMaker) -> None:
    one = opened(phone, color_scheme="light")
    before = one.evaluate("document.querySelector('.chart canvas').toDataURL()")
    one.page.emulate_media(color_scheme="dark")
    one.page.wait_for_function(
        "before => document.querySelector('.chart canvas').toDataURL() !== before", arg=before
    )


def test_the_page_scrolls_under_a_finger_on_the_picture(phone: PhoneMaker) -> None:
    one = opened(phone)
    for selector in (".chart", ".u-over"):
        assert (
            one.evaluate("(s) => getComputedStyle(document.querySelector(s)).touchAction", selector)
            == "pan-y"
        )


def test_a_first_visit_is_light(phone: PhoneMaker) -> None:
    """Bytes as they travel, heads left out, uPlot with them; the live banner asks on its own."""
    one = phone()
    sizes: dict[str, int] = {}

    def weigh(answer: Response) -> None:
        sizes[urlsplit(answer.url).path] = int(answer.headers.get("content-length", 0))

    one.page.on("response", weigh)
    one.open(PAGE)
    one.page.wait_for_selector(DRAWN)
    sizes.pop("/api/v1/now", None)
    assert len(sizes) <= 8, sizes
    assert sum(sizes.values()) <= 60_000, sizes
    assert any("uplot" in path for path in sizes)


def test_long_names_of_batches_and_sensors_fit_a_narrow_phone(
    phone: PhoneMaker, scene: Scene
) -> None:
    db = connect(scene.path)
    for name in (
        "pork and venison with juniper and mustard seed, second try of the winter",
        "x" * 60,
    ):
        group = NewGroup(
            letter="A", finish="dry", target_yield_pct=60.0, sticks=3, tagged=(),
            room="closet", hung_at=scene.clock.now() - timedelta(hours=30),
        )  # fmt: skip
        add_batch(db, name=name, started_at=scene.clock.now() - timedelta(days=3), groups=[group])
    db.execute("insert into sensor (room_id, name) values (1, ?)", ("behind-the-third-rail" * 2,))
    db.conn.commit()
    db.close()
    one = opened(phone, "?range=batch", viewport={"width": 320, "height": 640})
    assert one.page.locator(".ranges").count() == 3
    assert one.evaluate("document.documentElement.scrollWidth") <= 320
    one.picture("history-batches-320")


def test_a_wide_screen_gets_a_finer_picture(phone: PhoneMaker) -> None:
    one = phone(viewport={"width": 1100, "height": 900}, is_mobile=False, device_scale_factor=1)
    asked: list[str] = []
    one.page.on("request", lambda request: asked.append(request.url))
    one.open(f"{PAGE}?range=7d")
    one.page.wait_for_selector(DRAWN)
    assert any("points=721" in url for url in asked)
    assert one.evaluate("document.documentElement.scrollWidth") <= 1100
    one.picture("history-wide")


def test_a_phone_that_lost_the_controller_says_so(phone: PhoneMaker) -> None:
    one = phone()
    one.page.clock.install()
    one.open(PAGE)
    one.page.wait_for_selector(DRAWN)
    one.page.route("**/api/v1/**", lambda route: route.abort())
    one.page.clock.run_for(70_000)
    one.page.wait_for_selector("#lost:not([hidden])")
    assert "has lost the controller since" in one.page.inner_text("#lost")
    one.complaints.clear()  # the console notes what was cut off
