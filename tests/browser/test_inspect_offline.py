"""Inspect through a gap in the Wi-Fi: nothing lost, nothing doubled, the right times.

The phone's clock is the browser's own fake one, so that half a minute costs none; the controller's
is the scene's, which stands still. Contact is lost in three ways: the phone is offline, its requests
fail although it thinks itself online, and an answer is lost after the entry was stored.
"""

import re
import sqlite3
from collections.abc import Callable
from io import BytesIO
from typing import Any

import pytest
from browser.conftest import Phone, PhoneMaker
from browser.test_every_screen import TARGETS, axe, findings
from PIL import Image
from playwright.sync_api import Route, expect
from web.scenario import PASSPHRASE, START, Scene

from hangroom.store.moments import to_ms

pytestmark = pytest.mark.browser
__all__ = ["axe"]  # a fixture, used by name

WAITING = "Saved on this phone, not yet on the controller"
# At a name of its own the page has no secure context, as in the house: much is absent there.
PLAIN_HTTP = "hangroom.local"
STICKS = {"A1": "82.4", "A2": "79.9", "A3": "77.0"}


def stored(scene: Scene) -> list[tuple[str, float, float]]:
    """Return tag, weight in g and how long before the controller's now, s, of today's entries."""
    db = sqlite3.connect(scene.path)
    try:
        rows = db.execute(
            "select tag, weight_g, taken_ms from weigh_in join stick on stick.id = stick_id"
            " where weigh_in.key not like 'wednesday%' and struck_ms is null order by tag"
        ).fetchall()
    finally:
        db.close()
    return [(tag, weight_g, (to_ms(START) - taken_ms) / 1000) for tag, weight_g, taken_ms in rows]


def at_the_rail(phone: PhoneMaker, **options: Any) -> Phone:  # noqa: ANN401 - a context's options
    one = phone(timezone_id="America/New_York", **options)
    one.page.clock.install(time="2026-11-26T09:41:00-05:00")
    one.log_in(PLAIN_HTTP)
    one.open("/inspect", PLAIN_HTTP)
    assert one.evaluate("isSecureContext") is False
    return one


def cut_off(one: Phone) -> Callable[[], None]:
    """Let every request of the queue fail, while the phone takes itself for online."""
    fails = lambda route: route.abort()  # noqa: E731
    one.page.context.route("**/inspect/**", fails)
    return lambda: one.page.context.unroute("**/inspect/**", fails)


# What the queue waits for before it tries again is noted, and waited for hardly at all.
WAITS_AT_ONCE = """
const wait = window.setTimeout, waits_s = [];
window.setTimeout = (act, ms, ...more) => {
  if (act.name !== "flush") return wait(act, ms, ...more);
  waits_s.push(ms / 1000);
  document.documentElement.dataset.waits = waits_s.join(" ");
  return wait(act, 20);
};
"""


def network_is_back(one: Phone) -> None:
    one.evaluate("dispatchEvent(new Event('online'))")


class Hand:
    """Taps a stick's card, and counts what is no digit."""

    def __init__(self, one: Phone) -> None:
        self.one, self.taps = one, 0

    def tap(self, selector: str) -> None:
        self.one.page.locator(selector).tap()
        self.taps += 1

    def enter(self, tag: str, weight: str) -> int:
        before, card = self.taps, f"#stick-{tag}"
        self.tap(f"{card}-weight")
        self.one.page.keyboard.type(weight)
        self.tap(f"{card} [name=squeeze][value='3']")
        self.tap(f"{card} [name=wrinkle][value='1']")
        self.tap(f"{card} .save")
        return self.taps - before


def saved(one: Phone, tag: str) -> None:
    expect(one.page.locator(f"#stick-{tag} .saved")).to_be_visible()


def test_three_sticks_through_half_a_minute_without_network(
    phone: PhoneMaker, scene: Scene, axe: str
) -> None:
    one = at_the_rail(phone)
    hand = Hand(one)
    one.page.context.set_offline(True)
    asked: list[str] = []
    one.page.on(
        "requestfinished",
        lambda request: asked.append(request.url) if "/static/" not in request.url else None,
    )
    for tag, weight in STICKS.items():
        assert hand.enter(tag, weight) <= 8
        expect(one.page.locator(f"#stick-{tag} .kept-said")).to_contain_text(WAITING)
    expect(one.page.locator("#kept")).to_contain_text(f"{WAITING}: 3")
    expect(one.page.locator("#stick-B1-weight")).to_be_focused()
    assert asked == []
    assert stored(scene) == []
    one.evaluate("scrollTo(0, 0)")
    one.picture("inspect-offline-light")
    assert findings(one, axe) == []
    one.page.clock.fast_forward(30_000)
    one.page.context.set_offline(False)
    for tag in STICKS:
        saved(one, tag)
    expect(one.page.locator("#kept")).to_be_hidden()
    assert [(tag, f"{weight_g:.1f}") for tag, weight_g, _ago_s in stored(scene)] == list(
        STICKS.items()
    )
    # As long ago as they waited: the half minute, and the moments this test took.
    assert all(30 <= ago_s < 60 for _tag, _weight_g, ago_s in stored(scene))
    one.complaints.clear()  # the browser itself notes what had no network


def test_it_tries_again_by_itself_later_and_later_and_needs_no_word_of_the_browser(
    phone: PhoneMaker, scene: Scene
) -> None:
    one = phone()
    one.page.add_init_script(WAITS_AT_ONCE)
    one.log_in()
    one.open("/inspect")
    contact = cut_off(one)
    Hand(one).enter("A1", "82.4")
    expect(one.page.locator("html")).to_have_attribute(
        "data-waits", re.compile("^10 20 40 60 60 60")
    )
    assert one.evaluate("navigator.onLine") is True
    contact()
    saved(one, "A1")
    assert [row[:2] for row in stored(scene)] == [("A1", 82.4)]
    one.complaints.clear()


def test_an_answer_that_is_lost_after_it_was_stored_makes_no_second_entry(
    phone: PhoneMaker, scene: Scene
) -> None:
    one = at_the_rail(phone)

    def store_and_lose(route: Route) -> None:
        # What fetches here knows no names of the browser's.
        route.fetch(url=route.request.url.replace(PLAIN_HTTP, "127.0.0.1"))
        route.abort()

    one.page.context.route("**/inspect/A1?*", store_and_lose)
    with one.page.expect_event("requestfailed"):
        Hand(one).enter("A1", "82.4")
    expect(one.page.locator("#kept")).to_contain_text(f"{WAITING}: 1")
    assert len(stored(scene)) == 1
    # Typed anew before the phone knows: the entry that is there is corrected, not doubled.
    one.page.locator("#stick-A1 .kept-said button").tap()
    expect(one.page.locator("#stick-A1-weight")).to_have_value("82.4")
    one.page.fill("#stick-A1-weight", "82.1")
    with one.page.expect_event("requestfailed"):
        one.page.locator("#stick-A1 .save").tap()
    one.page.context.unroute("**/inspect/A1?*", store_and_lose)
    network_is_back(one)
    saved(one, "A1")
    expect(one.page.locator("#stick-A1 .saved")).to_contain_text("82.1 g")
    assert [(tag, weight_g) for tag, weight_g, _ago_s in stored(scene)] == [("A1", 82.1)]
    one.complaints.clear()


def test_the_answer_to_what_was_sent_first_takes_nothing_away_that_was_typed_since(
    phone: PhoneMaker, scene: Scene
) -> None:
    one = at_the_rail(phone)
    held: list[Route] = []
    one.page.context.route(
        "**/inspect/A1?*", lambda route: route.continue_() if held else held.append(route)
    )
    with one.page.expect_request("**/inspect/A1?*"):
        Hand(one).enter("A1", "82.4")
    one.page.locator("#stick-A1 .kept-said button").tap()
    one.page.fill("#stick-A1-weight", "82.1")
    one.page.locator("#stick-A1 .save").tap()
    expect(one.page.locator("#stick-A1 .kept-said")).to_contain_text("82.1 g")
    held[0].continue_()
    expect(one.page.locator("#stick-A1 .saved")).to_contain_text("82.1 g")
    assert [row[:2] for row in stored(scene)] == [("A1", 82.1)]


def test_what_waits_outlasts_a_reload_a_closed_tab_and_the_log_in(
    phone: PhoneMaker, scene: Scene
) -> None:
    one = at_the_rail(phone)
    contact = cut_off(one)
    Hand(one).enter("A1", "82.4")
    expect(one.page.locator("#kept")).to_contain_text(f"{WAITING}: 1")
    with one.page.expect_event("dialog") as asked:
        one.page.on("dialog", lambda dialog: dialog.accept())
        one.page.reload()
    assert asked.value.type == "beforeunload"
    expect(one.page.locator("#stick-A1 .kept-said")).to_contain_text(f"82.4 g. {WAITING}")
    one.page.close()
    one.page.context.clear_cookies()  # the log-in is lost meanwhile
    one.page = one.page.context.new_page()
    contact()
    one.open("/batches", PLAIN_HTTP)
    kept = one.page.locator("#kept")
    expect(kept).to_contain_text(f"{WAITING}: 1. Log in to send it.")
    one.picture("batches-waiting-light")
    kept.get_by_role("link", name="Log in").tap()
    one.page.fill("#passphrase", PASSPHRASE)
    one.page.click("main button")
    saved(one, "A1")
    assert [(tag, weight_g) for tag, weight_g, _ago_s in stored(scene)] == [("A1", 82.4)]
    one.complaints.clear()


def test_a_page_that_stood_open_through_another_log_in_still_sends(
    phone: PhoneMaker, scene: Scene
) -> None:
    one = at_the_rail(phone)
    hand = Hand(one)
    hand.enter("A1", "82.4")
    saved(one, "A1")
    contact = cut_off(one)
    hand.enter("A2", "79.9")
    expect(one.page.locator("#stick-A2 .kept-said")).to_be_visible()
    # In another tab of the same phone somebody logs out and in: the first one's tokens are void.
    other = Phone(page=one.page.context.new_page(), served=one.served, scene=scene)
    other.open("/setup", PLAIN_HTTP)
    other.page.get_by_role("button", name="Log out").tap()
    expect(other.page.get_by_role("link", name="Log in").first).to_be_visible()
    other.log_in(PLAIN_HTTP)
    expect(other.page.get_by_role("button", name="Log out")).to_be_visible()
    other.page.close()
    contact()
    network_is_back(one)
    saved(one, "A2")
    hand.enter("A3", "77.0")
    saved(one, "A3")
    assert [row[:2] for row in stored(scene)] == [(tag, float(g)) for tag, g in STICKS.items()]
    one.complaints.clear()


def test_what_another_page_of_the_phone_sent_is_not_said_to_wait_here(phone: PhoneMaker) -> None:
    one = at_the_rail(phone)
    cut_off(one)
    Hand(one).enter("A1", "82.4")
    expect(one.page.locator("#kept")).to_contain_text(f"{WAITING}: 1")
    expect(one.page.locator("#stick-A1[data-queued]")).to_be_visible()
    one.evaluate(
        "document.dispatchEvent(new CustomEvent('entry-listed', { detail: { keys: [] } }))"
    )
    expect(one.page.locator("#stick-A1 .kept-said")).to_contain_text("another open page")
    one.complaints.clear()


def test_a_slip_is_asked_about_without_contact_and_what_the_controller_asks_waits(
    phone: PhoneMaker, scene: Scene, axe: str
) -> None:
    one = at_the_rail(phone, color_scheme="dark")
    page, hand = one.page, Hand(one)
    contact = cut_off(one)
    page.fill("#stick-A1-weight", "824")
    page.locator("#stick-A1 .save").tap()
    expect(page.locator("#stick-A1 .question")).to_contain_text(
        "824 g is ten times the last weight. Did you mean 82.4?"
    )
    expect(page.locator("#kept")).to_be_hidden()
    page.locator("#stick-A1 >> text=Use 82.4").tap()
    # What the phone cannot judge: no stick is that thick, and this one was weighed elsewhere.
    page.fill("#stick-A2-diameter", "900")
    hand.enter("A2", "79.9")
    hand.enter("A3", "77.0")
    expect(page.locator("#kept")).to_contain_text(f"{WAITING}: 3")
    weigh_elsewhere(scene, "A3", 70.0)
    contact()
    network_is_back(one)
    saved(one, "A1")
    expect(page.locator("#kept")).to_contain_text("Not taken yet, needs you: A2, A3")
    expect(page.locator("#kept li").first).to_contain_text("A2: No stick is that thick")
    expect(page.locator("#kept li").last).to_contain_text("heavier than the 70.0 g")
    one.evaluate("scrollTo(0, 0)")
    one.picture("inspect-refused-dark")
    assert findings(one, axe) == []
    targets = one.evaluate(TARGETS.replace("'a, button,", "'#kept button, .card button,"))
    assert [t["html"] for t in targets if t["box"]["height"] < 44] == []
    page.locator("#kept li").first.get_by_role("button", name="Edit").tap()
    expect(page.locator("#stick-A2-weight")).to_have_value("79.9")
    expect(page.locator("#stick-A2 .fault").first).to_contain_text("No stick is that thick")
    page.fill("#stick-A2-diameter", "19")
    page.locator("#stick-A2 .save").tap()
    saved(one, "A2")
    page.locator("#stick-A3 >> text=Keep 77").tap()
    saved(one, "A3")
    expect(page.locator("#kept")).to_be_hidden()
    assert [row[:2] for row in stored(scene)] == [
        *(("A1", 82.4), ("A2", 79.9), ("A3", 70.0), ("A3", 77.0)),
    ]
    one.complaints.clear()


def test_a_refused_entry_is_thrown_away_only_when_asked_twice(
    phone: PhoneMaker, scene: Scene
) -> None:
    one = at_the_rail(phone)
    one.page.fill("#stick-A1-diameter", "900")
    Hand(one).enter("A1", "82.4")
    away = one.page.locator("#kept").get_by_role("button", name="Throw")
    away.tap()
    expect(away).to_have_text("Throw it away for good?")
    away.tap()
    expect(one.page.locator("#kept")).to_be_hidden()
    assert stored(scene) == []
    one.complaints.clear()  # an answer of 422 is no fault of the page, yet the console notes it


def test_a_draft_outlasts_a_reload_and_counts_as_weighed_then(
    phone: PhoneMaker, scene: Scene
) -> None:
    one = at_the_rail(phone)
    one.page.fill("#stick-A2-weight", "79.9")
    one.page.locator("#stick-A2 [name=squeeze][value='4']").tap()
    one.page.reload()
    card = one.page.locator("#stick-A2")
    expect(card.locator(".draft")).to_contain_text("Unsaved entry from 09:41")
    expect(card.locator("[name=weight]")).to_have_value("79.9")
    expect(card.locator("[name=squeeze][value='4']")).to_be_checked()
    one.evaluate("document.querySelector('#stick-A2').scrollIntoView()")
    one.picture("inspect-draft-light")
    one.page.clock.fast_forward(600_000)
    card.locator(".save").tap()
    saved(one, "A2")
    assert 600 <= stored(scene)[0][2] < 660
    one.page.reload()
    expect(one.page.locator("#stick-A2 .draft")).to_have_count(0)


def test_where_the_browser_keeps_nothing_a_card_goes_straight_or_stays(
    phone: PhoneMaker, scene: Scene
) -> None:
    one = phone()
    one.page.add_init_script("indexedDB.open = () => { throw new Error('private'); }")
    one.log_in()
    one.open("/inspect")
    expect(one.page.locator("#no-store")).to_contain_text("This browser keeps nothing")
    hand = Hand(one)
    hand.enter("A1", "82.4")
    saved(one, "A1")
    cut_off(one)
    hand.enter("A2", "79.9")
    expect(one.page.locator("#stick-A2 .unsent").first).to_contain_text("Not saved: no contact")
    assert one.page.input_value("#stick-A2-weight") == "79.9"
    assert [row[:2] for row in stored(scene)] == [("A1", 82.4)]
    one.complaints.clear()


def test_a_photo_goes_smaller_after_its_weight_and_once(phone: PhoneMaker, scene: Scene) -> None:
    one = at_the_rail(phone)
    contact = cut_off(one)
    taken = BytesIO()
    Image.effect_noise((2000, 1500), 80).convert("RGB").save(taken, "JPEG", quality=90)
    assert len(taken.getvalue()) > 600_000
    one.page.locator("#stick-A1 .more summary").first.tap()
    one.page.set_input_files(
        "#stick-A1-photo",
        {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": taken.getvalue()},
    )
    Hand(one).enter("A1", "82.9")
    expect(one.page.locator("#kept")).to_contain_text(f"{WAITING}: 1")
    # Typed anew after a reload, which empties the field for it, the photo that waits stays.
    one.page.reload()
    one.page.locator("#stick-A1 .kept-said button").tap()
    one.page.fill("#stick-A1-weight", "82.4")
    one.page.locator("#stick-A1 .save").tap()
    expect(one.page.locator("#stick-A1 .kept-said")).to_contain_text("82.4 g")
    contact()
    network_is_back(one)
    saved(one, "A1")
    expect(one.page.locator("#kept")).to_be_hidden()
    db = sqlite3.connect(scene.path)
    photos = db.execute("select sha256, of_key, caption from photo").fetchall()
    keys = db.execute("select key from weigh_in where weight_g = 82.4").fetchall()
    db.close()
    assert [(of_key,) for _sha, of_key, _caption in photos] == keys
    with Image.open(scene.folder / "photos" / f"{photos[0][0]}.jpg") as kept:
        assert max(kept.size) == 1600
    one.complaints.clear()


def weigh_elsewhere(scene: Scene, tag: str, weight_g: float) -> None:
    """Let somebody else's phone have weighed a stick a quarter of an hour ago."""
    db = sqlite3.connect(scene.path)
    with db:
        db.execute(
            "insert into weigh_in (key, stick_id, taken_ms, weight_g, entered_ms, entered_by)"
            " select 'elsewhere', id, ?, ?, ?, 'Ben' from stick where tag = ?",
            (to_ms(START) - 900_000, weight_g, to_ms(START) - 900_000, tag),
        )
    db.close()
