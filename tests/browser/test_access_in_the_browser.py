"""Choosing the passphrase with the log's code, giving it again, a token: on a phone, script or not."""

import re

import pytest
from browser.conftest import PhoneMaker
from playwright.sync_api import expect
from web.scenario import PASSPHRASE, Scene

from hangroom.store.database import connect
from hangroom.store.requests import open_requests
from hangroom_web.access import access

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("script", [True, False], ids=["script", "no script"])
def test_the_first_passphrase_is_chosen_with_the_code_of_the_log(
    phone: PhoneMaker, scene: Scene, capfd: pytest.CaptureFixture[str], *, script: bool
) -> None:
    (scene.folder / "access.json").unlink()
    one = phone(java_script_enabled=script)
    one.open("/login?next=/setup", host="hangroom.local")
    (code,) = re.findall(r"type this code: (\S+)", capfd.readouterr().err)
    one.page.get_by_role("textbox", name="Code").fill(code.lower())
    one.page.get_by_label("New passphrase").fill("four plain words here")
    one.page.get_by_label("Once more").fill("four plain words here")
    one.page.get_by_role("button", name="Set the passphrase").tap()
    expect(one.page.get_by_role("button", name="Log out")).to_be_visible()
    expect(one.page).to_have_url(re.compile(r"/setup$"))
    assert access(scene.folder).admits("four plain words here")


def test_a_relay_by_hand_asks_again_and_goes_on_with_what_was_chosen(
    phone: PhoneMaker, scene: Scene
) -> None:
    one = phone()
    one.log_in()
    one.open("/rooms/closet")
    scene.clock.move(15 * 60.0)
    scene.report()
    hand = one.page.locator(".hand", has_text="Exhaust fan")
    hand.locator("summary").tap()
    hand.get_by_role("radio", name="15 min").tap()
    hand.get_by_role("radio", name="cleaning").tap()
    hand.get_by_role("button", name="Off").tap()
    expect(one.page.get_by_role("heading", name="Passphrase again")).to_be_visible()
    one.complaints.clear()  # the console notes the 403
    one.page.get_by_label("Household passphrase").fill(PASSPHRASE)
    one.page.get_by_role("button", name="Go on").tap()
    expect(one.page).to_have_url(re.compile(r"/rooms/closet\?asked="))
    db = connect(scene.path)
    (wish,) = open_requests(db)
    db.close()
    assert wish.body == {
        "relay": "exhaust-fan",
        "closed": False,
        "for_s": 900.0,
        "why": "cleaning",
    }


def test_a_token_is_made_shown_once_and_revoked(phone: PhoneMaker) -> None:
    one = phone()
    one.log_in()
    one.open("/setup")
    one.page.get_by_role("link", name="To people and access").tap()
    one.page.locator("summary", has_text="Make a token").tap()
    one.page.get_by_label("What will use it").fill("kitchen scale")
    one.page.get_by_role("checkbox", name="Write").check()
    one.page.get_by_role("button", name="Make the token").tap()
    expect(one.page.get_by_text("shown this once")).to_be_visible()
    expect(one.page.locator(".secret code")).to_have_text(re.compile(r"^[\w-]{43}$"))
    one.picture("people-token-made")
    one.page.get_by_role("button", name="Revoke kitchen scale").tap()
    expect(one.page.get_by_text("It is refused from now on")).to_be_visible()
