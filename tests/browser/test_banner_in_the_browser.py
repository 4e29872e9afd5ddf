"""An urgent alarm is on every screen, in its title and its icon; only a new one is spoken."""

from dataclasses import replace
from datetime import timedelta

import pytest
from browser.conftest import Phone, PhoneMaker
from playwright.sync_api import expect
from web.evening import alarm_of
from web.scenario import Scene

from hangroom.alarm_table.row import AlarmId
from hangroom.alarm_table.words import Condition, Suppression
from hangroom.store.live import LiveAlarm

pytestmark = pytest.mark.browser

# One page of each kind; Room and Controls have a strip of their own, Alarms is nothing else.
SCREENS = {
    "/": "#trouble",
    "/rooms/closet": "#trouble",
    "/alarms": ".alarm",
    "/rooms/closet/plan": "#banner",
    "/inspect": "#banner",
    "/batches": "#banner",
    "/batches/1": "#banner",
    "/batches/new": "#banner",
    "/setup": "#banner",
    "/setup/calendar": "#banner",
    "/setup/salt/closet/rail": "#banner",
    "/no-such-page": "#banner",
}


def alarm(scene: Scene, id_: AlarmId = AlarmId.TEMPERATURE_HIGH_HIGH) -> LiveAlarm:
    return alarm_of(
        scene,
        id_,
        since_at=scene.clock.now() - timedelta(minutes=3),
        figures={"seen_c": 21.2, "limit_c": 18.6},
    )


def icon(one: Phone) -> str:
    return one.page.locator("link[rel=icon]").get_attribute("href") or ""


def wake(one: Phone) -> None:
    """The page asks anew when it comes back into sight."""
    one.evaluate("document.dispatchEvent(new Event('visibilitychange'))")


def test_an_urgent_alarm_stands_on_every_screen_with_a_way_to_the_alarms(
    phone: PhoneMaker, scene: Scene
) -> None:
    scene.report(closet={"alarms": (alarm(scene),)})
    one = phone()
    one.log_in()
    for path, place in SCREENS.items():
        one.open(path)
        strip = one.page.locator(place)
        expect(strip).to_be_visible()
        expect(strip).to_contain_text("far too warm", ignore_case=True)
        assert one.page.title().startswith("! Alarm - "), path
        assert one.page.title().count("! Alarm") == 1, path
        assert "icon-trouble" in icon(one), path
        assert one.page.locator("#new-alarm").text_content() == ""  # known at load: not spoken
        if place == "#banner":
            box = strip.get_by_role("link", name="To the alarms").bounding_box()
            assert box is not None
            assert box["height"] >= 56
            assert one.evaluate("document.documentElement.scrollWidth") <= 390
    one.open("/inspect")
    one.picture("banner-inspect")
    one.page.get_by_role("link", name="To the alarms").tap()
    expect(one.page).to_have_title("! Alarm - Alarms")
    one.complaints.clear()  # the console notes the 404


@pytest.mark.parametrize(
    "seen",
    [
        {"acknowledged": True},
        {"condition": Condition.NORMAL},
        {"suppression": Suppression.SHELVED},
        {"alarm": AlarmId.HUMIDITY_LOW},  # of medium priority: it has its count in the tab
    ],
    ids=["acknowledged", "over", "shelved", "less urgent"],
)
def test_what_somebody_has_seen_or_is_less_urgent_is_no_banner(
    phone: PhoneMaker, scene: Scene, seen: dict[str, object]
) -> None:
    scene.report(closet={"alarms": (replace(alarm(scene), **seen),)})  # type: ignore[arg-type]
    one = phone()
    one.open("/batches")
    expect(one.page.locator("#banner")).to_be_hidden()
    expect(one.page).to_have_title("Batches - Hang room")
    assert "icon-trouble" not in icon(one)


def test_it_comes_and_goes_on_a_page_that_is_open_and_is_spoken_once(
    phone: PhoneMaker, scene: Scene
) -> None:
    one = phone()
    one.open("/batches")
    expect(one.page.locator("#banner")).to_be_hidden()
    scene.report(closet={"alarms": (alarm(scene),)})
    wake(one)
    expect(one.page.locator("#banner")).to_contain_text("far too warm")
    expect(one.page).to_have_title("! Alarm - Batches - Hang room")
    assert "icon-trouble" in icon(one)
    spoken = one.page.get_by_role("alert")
    expect(spoken).to_contain_text("Alarm Closet: far too warm")
    one.evaluate("document.getElementById('new-alarm').textContent = ''")
    wake(one)
    scene.report(closet={"alarms": (replace(alarm(scene), acknowledged=True),)})
    wake(one)
    expect(one.page.locator("#banner")).to_be_hidden()
    expect(one.page).to_have_title("Batches - Hang room")
    assert "icon-trouble" not in icon(one)
    assert one.page.locator("#new-alarm").text_content() == ""


def test_on_the_room_a_new_alarm_is_spoken_and_no_number_ever_is(
    phone: PhoneMaker, scene: Scene
) -> None:
    one = phone()
    one.open("/")
    expect(one.page.locator("#new-alarm")).to_have_text("")
    with one.page.expect_response("**/api/v1/now*"):
        wake(one)
    scene.clock.move(10)
    scene.report(closet={"alarms": (alarm(scene, AlarmId.HUMIDITY_LOW),)})
    wake(one)
    expect(one.page.locator("#new-alarm")).to_contain_text("Alarm Closet: too dry")
    spoken = one.page.locator("[role=alert], [aria-live]")
    assert [spoken.nth(place).get_attribute("id") for place in range(spoken.count())] == [
        "new-alarm"
    ]
    numbers = "[role=alert], [role=status], [aria-live]"
    assert one.page.locator(f":is({numbers}) :is([data-q], [data-age], .digits)").count() == 0


def test_a_silent_daemon_is_on_every_screen_too(phone: PhoneMaker, scene: Scene) -> None:
    scene.clock.move(840)
    one = phone()
    for path in ("/batches", "/setup", "/inspect"):
        one.open(path)
        banner = one.page.locator("#banner")
        expect(banner).to_contain_text("Trouble The controller program has not reported since")
        expect(banner.get_by_role("link", name="To the rooms")).to_be_visible()
        expect(banner.get_by_role("link", name="To the alarms")).to_be_hidden()
        assert one.page.title().startswith("! Trouble - ")
