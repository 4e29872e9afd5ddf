"""An address of the calendar is made on a phone, shown once, and revoked."""

import re

import pytest
from browser.conftest import PhoneMaker
from browser.test_every_screen import SCHEMES, axe, findings
from playwright.sync_api import expect

pytestmark = pytest.mark.browser

__all__ = ["axe"]


@pytest.mark.parametrize("scheme", SCHEMES)
def test_an_address_is_made_shown_once_used_and_revoked(
    phone: PhoneMaker, axe: str, scheme: str
) -> None:
    one = phone(color_scheme=scheme)
    one.log_in()
    one.open("/setup")
    one.page.get_by_role("link", name="To the calendar").tap()
    one.page.get_by_label("For whom, or which phone").fill("Ada's phone")
    one.page.get_by_role("button", name="Make an address").tap()
    address = one.page.locator("#address")
    expect(address).to_have_value(re.compile(r"^http://127\.0\.0\.1:\d+/calendar/[\w-]{43}\.ics$"))
    link = one.page.get_by_role("link", name="Subscribe on this phone")
    href = link.get_attribute("href") or ""
    assert "webcal" + href.removeprefix("webcal") == "webcal" + address.input_value()[4:]
    one.picture(f"calendar-made-{scheme}")
    assert findings(one, axe) == []
    assert one.evaluate("document.documentElement.scrollWidth") <= 390
    feed = one.page.request.get(address.input_value())
    assert feed.ok
    assert feed.text().startswith("BEGIN:VCALENDAR")
    made = address.input_value()
    one.open("/setup/calendar")
    expect(one.page.locator("#address")).to_have_count(0)
    expect(one.page.locator(".parts")).to_contain_text("last read Thu 26 Nov")
    one.page.get_by_role("button", name="Revoke the address of Ada's phone").tap()
    expect(one.page.get_by_role("status")).to_contain_text("Revoked.")
    one.picture(f"calendar-revoked-{scheme}")
    assert one.page.request.get(made).status == 404
