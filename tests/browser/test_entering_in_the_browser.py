"""The forms of a batch's record, on a phone: usable with one thumb, without script, in the dark."""

import io
import re

import pytest
from browser.conftest import Phone, PhoneMaker
from browser.test_every_screen import TARGETS, axe, findings_light_and_dark
from playwright.sync_api import FilePayload, expect
from web.scenario import Scene

pytestmark = pytest.mark.browser

__all__ = ["axe"]

HOUR_S = 3600.0


def start(one: Phone) -> None:
    one.come_known()
    one.open("/batches/new")
    one.page.fill("#name", "pork and venison, juniper")
    one.page.click("text=Casing and green weight")
    one.page.select_option("#casing", "collagen")
    one.page.click("text=Start it, the rest later")


def with_recipe(one: Phone) -> None:
    start(one)
    one.open("/batches/3/recipe")
    one.page.select_option("#meat-0", "10219")
    one.page.fill("#meat-0-weight", "1500")
    one.page.select_option("#meat-1", "17343")
    one.page.fill("#meat-1-weight", "1000")
    one.page.fill("#cure-nitrite", "6.25")
    one.page.fill("#cure", "6,2")
    one.page.fill("#salt", "37,5")
    one.page.click("text=Store the recipe")


def smoking(one: Phone) -> None:
    start(one)
    one.open("/batches/3/steps")
    one.page.click("text=Start now")
    for hours in (1, 1):
        one.scene.clock.move(hours * HOUR_S)
        one.page.click("text=Ended: now")
    one.page.fill("#core", "31")
    one.page.locator("[name=probe]").first.check(force=True)
    one.page.click("text=Note it")
    one.scene.clock.move(0.7 * HOUR_S)


def expect_fault(one: Phone) -> None:
    expect(one.page.locator(".fault").first).to_be_visible()
    one.complaints.clear()  # an answer of 422 is no fault of the page, yet the console notes it


def new_batch(one: Phone) -> None:
    one.come_known()
    one.open("/batches/new")


def recipe(one: Phone) -> None:
    start(one)
    one.open("/batches/3/recipe")


def recipe_asks(one: Phone) -> None:
    start(one)
    one.open("/batches/3/recipe")
    one.page.select_option("#meat-0", "10219")
    one.page.fill("#meat-0-weight", "1500")
    one.page.fill("#cure-nitrite", "0.0625")
    one.page.fill("#wanted", "150")
    one.page.click("text=Work out the grams")


def recipe_faults(one: Phone) -> None:
    start(one)
    one.open("/batches/3/recipe")
    one.page.fill("#meat-0-weight", "much")
    one.page.fill("#salt", "-3")
    one.page.click("text=Store the recipe")
    expect_fault(one)


def steps(one: Phone) -> None:
    smoking(one)
    one.open("/batches/3/steps?more=2")


def steps_open(one: Phone) -> None:
    smoking(one)
    one.open("/batches/3/steps")
    one.page.click("text=Another step, or times typed afterwards")
    one.page.click("text=It ended earlier")


def temperatures(one: Phone) -> None:
    smoking(one)
    one.open("/batches/3/temperatures")
    one.page.fill("#probe", "thickest stick")
    one.page.fill("#lines", "09:40 61.2\n09:35 62")
    one.page.click("text=Store the series")
    expect_fault(one)


def groups(one: Phone) -> None:
    one.come_known()
    one.open("/batches/1/groups")
    for summary in one.page.locator("#group-A summary").all():
        summary.click()


def groups_before(one: Phone) -> None:
    start(one)
    one.open("/batches/3/groups")
    one.page.fill("#A-sticks", "14")
    one.page.fill("#A-0-tag", "c1")
    one.page.fill("#A-0-green", "101,5")
    one.page.click("text=Store the group")


def measurements(one: Phone) -> None:
    one.come_known()
    one.open("/batches/1/measurements")
    one.page.fill("#aw", "91")
    one.page.fill("#instrument", "dew point, 25 °C")
    one.page.click("text=Store the measurement")


def taste(one: Phone) -> None:
    one.come_known()
    one.open("/batches/1/groups")
    one.page.locator("#group-A summary").nth(1).click()
    one.page.locator("#group-A button", has_text="Pull it").click()
    one.page.click("text=Taste it")


def looks(one: Phone) -> None:
    one.come_known()
    one.open("/inspect/looks")


def photos(one: Phone) -> None:
    one.come_known()
    one.open("/batches/1/photos")


def entries(one: Phone) -> None:
    one.come_known()
    one.open("/batches/1/correct")
    one.page.click("text=Weigh-ins")


def correct(one: Phone) -> None:
    one.come_known()
    one.open("/batches/1/correct/weigh_in/wednesdayA1")
    one.page.fill("#weight_g", "859")
    one.page.click("text=Correct it")


def actions(one: Phone) -> None:
    with_recipe(one)
    one.open("/batches/3")


SCREENS = {
    screen.__name__.replace("_", "-"): screen
    for screen in (
        *(new_batch, recipe, recipe_asks, recipe_faults, with_recipe, steps, steps_open),
        *(temperatures, groups, groups_before, measurements, taste, looks, photos, entries),
        *(correct, actions),
    )
}


@pytest.mark.parametrize("screen", SCREENS)
def test_a_form_has_no_finding_of_axe(phone: PhoneMaker, axe: str, screen: str) -> None:
    one = phone()
    SCREENS[screen](one)
    one.evaluate("scrollTo(0, 0)")
    assert findings_light_and_dark(one, axe, f"enter-{screen}") == []


@pytest.mark.thorough
@pytest.mark.parametrize("screen", SCREENS)
def test_a_form_fits_a_narrow_phone_and_every_target_a_thumb(
    phone: PhoneMaker, screen: str
) -> None:
    one = phone(viewport={"width": 320, "height": 640})
    SCREENS[screen](one)
    one.evaluate("scrollTo(0, 0)")
    one.picture(f"enter-{screen}-320")
    assert one.evaluate("document.documentElement.scrollWidth") <= 320
    targets = one.evaluate(TARGETS)
    small = [
        target["html"]
        for target in targets
        # A choice is its whole box, which lies over the radio or tick itself.
        if target["box"]["height"] < 44 or target["box"]["width"] < 44
    ]
    assert small == []


# What is pressed or typed in while the hands are busy.
THUMB = """() => [...document.querySelectorAll('main button, main input:not([type=hidden]), main select')]
  .filter((e) => e.checkVisibility() && e.getBoundingClientRect().height < 56)
  .map((e) => e.outerHTML.slice(0, 90))"""


@pytest.mark.parametrize("screen", ["steps", "looks", "groups", "recipe"])
def test_what_is_pressed_at_the_smoker_and_the_rail_is_56_px_high(
    phone: PhoneMaker, screen: str
) -> None:
    one = phone()
    SCREENS[screen](one)
    assert one.evaluate(THUMB) == []


def test_a_batch_is_started_and_hung_in_under_a_minute(phone: PhoneMaker) -> None:
    one = phone()
    one.come_known()
    one.open("/batches/new")
    for field, typed in (("name", "venison"), ("A-sticks", "12")):
        one.page.fill(f"#{field}", typed)
    for row, (tag, green) in enumerate((("c1", "101,5"), ("c2", "99.8"), ("c3", "104"))):
        one.page.fill(f"#A-{row}-tag", tag)
        one.page.fill(f"#A-{row}-green", green)
    one.page.click("text=Hang them now")
    expect(one.page.locator("h1")).to_contain_text("Batch 3")
    # The name, how many sticks, three tags, three weights, one button.
    assert 2 + 6 + 1 <= 9


def test_enter_never_answers_a_question(phone: PhoneMaker) -> None:
    one = phone()
    measurements(one)
    one.page.focus("#ph")
    one.page.keyboard.type("5.4\n")
    expect(one.page.locator(".question")).to_contain_text("Did you mean 0.91?")
    assert one.page.input_value("#aw") == "91"
    assert one.page.input_value("#ph") == "5.4"
    one.page.click("text=Use 0.91")
    expect(one.page.locator(".saved")).to_contain_text("The measurement is stored.")


def test_the_time_of_a_step_runs_on_with_script_and_stands_without(phone: PhoneMaker) -> None:
    one = phone()
    steps(one)
    running = one.page.locator("[data-since-s]")
    expect(running).to_have_text("42 min")
    one.evaluate("Date.now = ((now) => () => now() + 600000)(Date.now)")
    expect(running).to_have_text("52 min")
    expect(one.page.locator("[data-low-h]")).to_have_text(re.compile(r"^1\.9$"))


def test_the_way_through_the_smoker_works_without_script(phone: PhoneMaker) -> None:
    one = phone(java_script_enabled=False)
    smoking(one)
    one.open("/batches/3/steps")
    expect(one.page.locator("[data-since-s]")).to_have_text("42 min")
    one.page.click("text=Ended: now smoke at 65.6")
    expect(one.page.locator(".saved")).to_contain_text("Smoke is under way.")


def test_a_photo_goes_smaller_from_the_phone_and_without_its_place(
    phone: PhoneMaker, scene: Scene
) -> None:
    image = pytest.importorskip("PIL.Image", reason="Pillow is not installed")
    out = io.BytesIO()
    exif = image.Exif()
    exif[0x0112] = 6  # taken with the phone upright
    image.effect_noise((2400, 1800), 90).convert("RGB").save(out, "JPEG", exif=exif, quality=92)
    one = phone()
    photos(one)
    file = FilePayload(name="photo.jpg", mimeType="image/jpeg", buffer=out.getvalue())
    one.page.set_input_files("#photo", files=[file])
    one.page.fill("#caption", "grooves")
    one.page.click("text=Store the photo")
    expect(one.page.locator(".saved")).to_contain_text("The photo is stored.")
    one.picture("enter-photo-stored")
    (kept,) = (scene.folder / "photos").iterdir()
    with image.open(kept) as stored:
        assert stored.size == (1200, 1600)
        assert dict(stored.getexif()) == {}
    assert kept.stat().st_size < len(out.getvalue())
