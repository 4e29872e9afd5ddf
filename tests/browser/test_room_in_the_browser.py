import re
import time

import pytest
from browser.conftest import Phone, PhoneMaker, Served
from playwright.sync_api import expect
from web.scenario import Scene

pytestmark = pytest.mark.browser

DASH = "\N{EN DASH}"
RELAYS = "[data-relay]"


def digits(phone: Phone) -> list[str]:
    return phone.page.locator("[data-q]").all_inner_texts()


def ask_now(phone: Phone) -> None:
    """Let the page ask as it does when a phone is woken."""
    phone.evaluate("document.dispatchEvent(new Event('visibilitychange'))")


def test_the_room_comes_cold_in_30_kb_and_8_requests(phone: PhoneMaker) -> None:
    one = phone()
    wire = one.page.context.new_cdp_session(one.page)
    sizes: list[float] = []
    wire.on("Network.loadingFinished", lambda event: sizes.append(event["encodedDataLength"]))
    wire.send("Network.enable")
    one.open()
    expect(one.page.locator(".age").first).to_have_text(re.compile("Read .* ago"))
    one.page.wait_for_timeout(500)
    print(f"room, cold: {sum(sizes):.0f} bytes in {len(sizes)} requests")
    assert sum(sizes) <= 30 * 1024
    assert 3 <= len(sizes) <= 8


def test_numbers_stay_live_and_follow_the_controller(phone: PhoneMaker, scene: Scene) -> None:
    one = phone()
    one.open()
    assert digits(one) == ["13.1", "75.6", "4.2", "78.3"]
    expect(one.page).to_have_title("13.1 °C 75.6 %, 4.2 °C 78.3 % - Room")
    scene.clock.move(6)
    board = scene.report(reading_age_s=13.0)
    assert board.rooms
    ask_now(one)
    expect(one.page.locator("#room-closet")).to_have_attribute("data-state", "late")
    assert digits(one)[0] == "13.1"


def test_a_silent_daemon_demotes_numbers_relays_title_and_icon(
    phone: PhoneMaker, scene: Scene
) -> None:
    one = phone()
    one.open()
    scene.clock.move(60)
    ask_now(one)
    expect(one.page.locator("#trouble")).to_be_visible()
    expect(one.page.locator("[data-q]")).to_have_text([DASH] * 4)
    assert all(said.endswith(": unknown") for said in one.page.locator(RELAYS).all_inner_texts())
    expect(one.page).to_have_title("! Trouble - Room")
    assert "icon-trouble" in (one.page.locator("link[rel=icon]").get_attribute("href") or "")
    scene.report()
    ask_now(one)
    expect(one.page.locator("#trouble")).to_be_hidden()
    expect(one.page.locator("[data-q]").first).to_have_text("13.1")


def test_with_the_server_gone_nothing_looks_live_after_15_s(
    phone: PhoneMaker, served: Served
) -> None:
    one = phone()
    one.open()
    expect(one.page.locator(".age").first).to_have_text(re.compile("Read .* ago"))
    served.stop()
    gone_s = time.monotonic()
    expect(one.page.locator("[data-q]").first).to_have_text(DASH, timeout=15_000)
    print(f"server gone: demoted after {time.monotonic() - gone_s:.1f} s")
    assert digits(one) == [DASH] * 4
    assert all(said.endswith(": unknown") for said in one.page.locator(RELAYS).all_inner_texts())
    expect(one.page.locator("#worst")).to_contain_text("has lost the controller since")
    expect(one.page.locator("[data-said]").first).to_contain_text("Last good reading 13.1 °C")
    expect(one.page).to_have_title("? No contact - Room")
    one.picture("room-server-gone")
    one.complaints.clear()  # the browser itself reports the refused connection


def test_a_daemon_killed_while_one_watches_is_shown_within_15_s(
    phone: PhoneMaker, scene: Scene
) -> None:
    one = phone()
    one.open()
    scene.report()
    killed_s = time.monotonic()
    while time.monotonic() - killed_s < 15.0 and digits(one)[0] != DASH:
        scene.clock.move(0.2)
        one.page.wait_for_timeout(200)
    print(f"daemon killed: demoted after {time.monotonic() - killed_s:.1f} s")
    assert digits(one) == [DASH] * 4


def test_without_script_the_page_tells_its_moment_and_never_counts(phone: PhoneMaker) -> None:
    one = phone(java_script_enabled=False)
    one.open()
    assert digits(one)[0] == "13.1"
    expect(one.page.locator(".age").first).to_have_text("as of 09:52:00")


def test_the_page_works_under_its_local_name_on_plain_http(phone: PhoneMaker) -> None:
    one = phone()
    one.log_in("hangroom.local")
    expect(one.page.locator("[data-q]").first).to_have_text("13.1")
    assert one.evaluate("isSecureContext") is False
    one.open("/inspect", "hangroom.local")
    one.page.fill("#stick-A1-weight", "82")
    one.page.click("#stick-A1 form > button")
    expect(one.page.locator("#stick-A1 .saved")).to_contain_text("Yield 78.8 %")
