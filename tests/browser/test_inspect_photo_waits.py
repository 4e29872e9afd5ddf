"""A photo that does not get through keeps no weight waiting: weights go first, photos after them.

By a weak Wi-Fi a photo may take minutes or fail for good; what the record needs is the weights.
"""

from io import BytesIO

import pytest
from browser.conftest import PhoneMaker
from browser.test_inspect_offline import Hand, at_the_rail, cut_off, network_is_back, saved, stored
from PIL import Image
from playwright.sync_api import Route, expect
from web.scenario import Scene

pytestmark = pytest.mark.browser


def photo() -> bytes:
    taken = BytesIO()
    Image.new("RGB", (80, 60), (120, 40, 40)).save(taken, "JPEG")
    return taken.getvalue()


def test_a_photo_that_fails_keeps_no_weight_waiting(phone: PhoneMaker, scene: Scene) -> None:
    one = at_the_rail(phone)
    contact = cut_off(one)
    fails = lambda route: route.abort()  # noqa: E731
    one.page.context.route("**/inspect/*/photo", fails)
    hand = Hand(one)
    one.page.locator("#stick-A1 .more summary").first.tap()
    one.page.set_input_files(
        "#stick-A1-photo", {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": photo()}
    )
    hand.enter("A1", "82.4")
    hand.enter("A2", "79.9")
    expect(one.page.locator("#kept")).to_contain_text("not yet on the controller: 2")
    contact()
    network_is_back(one)
    saved(one, "A1")
    saved(one, "A2")
    assert [row[:2] for row in stored(scene)] == [("A1", 82.4), ("A2", 79.9)]
    expect(one.page.locator("#kept")).to_contain_text("not yet on the controller: 1")
    hand.enter("A3", "77.0")
    saved(one, "A3")
    one.page.context.unroute("**/inspect/*/photo", fails)
    network_is_back(one)
    expect(one.page.locator("#kept")).to_be_hidden()
    one.complaints.clear()  # the browser itself notes what failed


def test_a_photo_has_longer_to_go_than_a_weight(phone: PhoneMaker) -> None:
    """After what ends the wait for a weight, a photo is still on its way."""
    one = at_the_rail(phone)
    contact = cut_off(one)
    one.page.locator("#stick-A1 .more summary").first.tap()
    one.page.set_input_files(
        "#stick-A1-photo", {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": photo()}
    )
    Hand(one).enter("A1", "82.4")
    contact()
    held: list[Route] = []

    def hold(route: Route) -> None:  # neither answered nor refused
        held.append(route)

    one.page.context.route("**/inspect/*/photo", hold)
    with one.page.expect_request("**/inspect/*/photo"):
        network_is_back(one)
    one.page.clock.run_for(20_000)
    with one.page.expect_response("**/inspect/*/photo"):
        held[0].continue_()
    expect(one.page.locator("#kept")).to_be_hidden()
    assert len(held) == 1
    one.complaints.clear()
