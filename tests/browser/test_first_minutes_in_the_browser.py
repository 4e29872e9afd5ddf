"""The first minutes of a new house on a phone: what is left to do, a relay tried, the list shrinks."""

from datetime import timedelta
from pathlib import Path

import pytest
from browser.conftest import PhoneMaker
from browser.test_every_screen import SCHEMES, axe, findings
from playwright.sync_api import expect
from web.daemon import Daemon
from web.scenario import Scene

pytestmark = pytest.mark.browser


__all__ = ["axe"]  # the fixture that fetches the checker's script


@pytest.fixture
def scene(tmp_path: Path) -> Scene:
    """A house that was wired this morning, and its daemon."""
    scene = Scene(folder=tmp_path / "new")
    scene.prepare()
    scene.report()

    def answer() -> None:
        # Made anew each time: a connection belongs to one thread, and each request has its own.
        daemon = Daemon(scene, wired=True)
        daemon.tick()
        daemon.close()

    scene.clock.meanwhile = answer
    answer()
    return scene


@pytest.mark.parametrize("scheme", SCHEMES)
def test_a_new_keeper_tries_a_relay_and_the_list_shrinks(
    phone: PhoneMaker, axe: str, scheme: str
) -> None:
    one = phone(color_scheme=scheme)
    one.log_in()
    expect(one.page.get_by_text("Nothing is hanging.")).to_be_visible()
    expect(one.page.get_by_text("4 to go")).to_be_visible()
    one.picture(f"first-room-{scheme}")
    assert findings(one, axe) == []
    one.page.get_by_role("link", name="Check the sensors and relays").click()
    one.picture(f"first-check-{scheme}")
    one.page.get_by_role("button", name="Run the exhaust fan for 4 s").click()
    one.page.wait_for_selector("text=Did the exhaust fan run")
    one.picture(f"first-tried-{scheme}")
    assert findings(one, axe) == []
    one.page.get_by_role("button", name="Yes, it ran").click()
    one.page.wait_for_selector("text=The exhaust fan is proved")
    one.picture(f"first-proved-{scheme}")
    one.open("/")
    expect(one.page.get_by_text("3 to go")).to_be_visible()


def test_it_works_without_script(phone: PhoneMaker) -> None:
    one = phone(java_script_enabled=False)
    one.log_in()
    one.open("/setup/check")
    one.page.get_by_role("button", name="Run the humidifier for 4 s").click()
    one.page.get_by_role("button", name="No", exact=True).click()
    expect(one.page.get_by_text("Pull its plug")).to_be_visible()


def test_before_the_daemon_has_run_the_page_says_what_to_wire(
    phone: PhoneMaker, scene: Scene
) -> None:
    (scene.folder / "live.json").unlink()
    one = phone(viewport={"width": 320, "height": 640})
    one.open()
    expect(one.page.get_by_text("lines on pin 4").first).to_be_visible()
    assert one.evaluate("document.documentElement.scrollWidth") <= 320
    one.picture("first-nothing-wired-320")


# Clock, zone, units. Offsets by the IANA time zone database: on 26 November New York and Toronto
# stand at UTC-5, Berlin at UTC+1, Honolulu at UTC-10.


@pytest.mark.parametrize(
    ("wrong_s", "says"),
    [
        (-11_520, "The controller's clock is 3 h 12 min behind this phone."),
        (200_000, "The controller's clock is 2 d 7 h ahead of this phone."),
    ],
)
def test_a_clock_that_is_wrong_is_told_and_what_to_do(
    phone: PhoneMaker, scene: Scene, axe: str, wrong_s: int, says: str
) -> None:
    one = phone()
    scene.clock._now += timedelta(seconds=wrong_s)
    one.open()
    expect(one.page.get_by_text(says)).to_be_visible()
    one.page.get_by_role("link", name="What to do").click()
    expect(one.page.get_by_text(says)).to_be_visible()
    expect(one.page.get_by_text("sudo timedatectl set-ntp true")).to_be_visible()
    assert findings(one, axe) == []
    one.picture("setup-clock-wrong")


@pytest.mark.parametrize("apart_s", [0, 100, -100])
def test_clocks_that_agree_are_no_trouble(phone: PhoneMaker, scene: Scene, apart_s: int) -> None:
    one = phone()
    scene.clock._now += timedelta(seconds=apart_s)
    one.open("/setup")
    expect(one.page.get_by_text("It agrees with this phone's clock")).to_be_visible()
    expect(one.page.get_by_text("set-ntp")).to_be_hidden()


@pytest.mark.parametrize(
    ("zone", "says"),
    [
        ("Europe/Berlin", "This phone counts in Europe/Berlin, 6 h ahead."),
        ("Pacific/Honolulu", "This phone counts in Pacific/Honolulu, 5 h behind."),
        ("America/Toronto", None),
    ],
)
def test_a_phone_in_another_zone_is_told(phone: PhoneMaker, zone: str, says: str | None) -> None:
    one = phone(timezone_id=zone)
    one.open("/setup")
    note = one.page.locator("[data-zone]")
    if says is None:
        expect(note).to_be_hidden()
    else:
        expect(note).to_contain_text(says)
        expect(note).to_contain_text("write that zone under [site]")


@pytest.mark.parametrize("scheme", SCHEMES)
def test_one_tap_into_the_sample_and_one_out_of_it(
    phone: PhoneMaker, axe: str, scheme: str
) -> None:
    one = phone(color_scheme=scheme)
    one.open()
    one.page.get_by_role("button", name="Look around with sample data").tap()
    mark = one.page.get_by_text("Sample data.")
    expect(mark).to_be_visible()
    one.picture(f"sample-room-{scheme}")
    assert findings(one, axe) == []
    for tab in ("Inspect", "Batches", "Alarms", "Setup"):
        one.page.get_by_role("navigation").get_by_role("link", name=tab).tap()
        expect(mark).to_be_visible()
    one.page.get_by_role("button", name="Leave and remove the sample").tap()
    expect(one.page.get_by_text("Nothing is hanging.")).to_be_visible()
    expect(mark).to_have_count(0)
