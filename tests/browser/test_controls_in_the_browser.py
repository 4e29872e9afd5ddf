"""What a hand does on a phone: stages, relays by hand, doors, alarms; and what it sees meanwhile."""

from datetime import timedelta

import pytest
from browser.conftest import Phone, PhoneMaker, Served
from playwright.sync_api import expect
from web.daemon import Daemon
from web.evening import eventful
from web.scenario import Scene

from hangroom.alarm_table.row import AlarmId
from hangroom.store.live import LiveStage
from hangroom.terms import Override, RelayKind, RoomPlan, Stage

pytestmark = pytest.mark.browser


@pytest.fixture
def plans(scene: Scene) -> dict[str, RoomPlan]:
    """The plans of a daemon that answers whatever the page asks, as they are in the end."""
    plans: dict[str, RoomPlan] = {}

    def answer() -> None:
        # Made anew each time: a connection belongs to one thread, and each request has its own.
        daemon = Daemon(scene)
        daemon.tick()
        plans.update(daemon.plans)
        daemon.close()

    scene.clock.meanwhile = answer
    return plans


def ask_now(phone: Phone) -> None:
    """Let the page ask as it does when a phone is woken."""
    phone.evaluate("document.dispatchEvent(new Event('visibilitychange'))")


def test_a_stage_is_begun_with_three_taps(phone: PhoneMaker, plans: dict[str, RoomPlan]) -> None:
    one = phone()
    one.log_in()
    one.open()
    one.page.get_by_role("link", name="Controls Closet").tap()
    one.page.locator("summary", has_text="Casing dry").tap()
    one.page.get_by_role("button", name="Begin casing dry").tap()
    expect(one.page.locator("[data-asked]")).to_have_text("Done. Stage is casing dry, for 1 h.")
    assert plans["closet"].stage is Stage.CASING_DRY


def test_a_relay_is_switched_by_hand_without_typing(
    phone: PhoneMaker, plans: dict[str, RoomPlan]
) -> None:
    one = phone()
    one.log_in()
    one.open("/rooms/closet")
    hand = one.page.locator(".hand", has_text="Exhaust fan")
    hand.locator("summary").tap()
    hand.get_by_role("radio", name="15 min").tap()
    hand.get_by_role("radio", name="cleaning").tap()
    hand.get_by_role("button", name="On", exact=True).tap()
    expect(one.page.locator("[data-asked]")).to_contain_text("is wanted on for 15 min")
    override = plans["closet"].overrides[RelayKind.EXHAUST_FAN]
    assert isinstance(override, Override)
    assert (override.closed, override.why) == (True, "cleaning")


def test_without_a_reason_the_phone_itself_asks_for_one(
    phone: PhoneMaker, plans: dict[str, RoomPlan]
) -> None:
    one = phone()
    one.log_in()
    one.open("/rooms/closet")
    hand = one.page.locator(".hand", has_text="Exhaust fan")
    hand.locator("summary").tap()
    hand.get_by_role("button", name="On", exact=True).tap()
    assert one.page.url.endswith("/rooms/closet")
    assert one.evaluate("document.querySelectorAll(':invalid').length") > 0
    assert plans == {}


def test_an_open_door_is_one_tap_on_the_rooms_page(
    phone: PhoneMaker, plans: dict[str, RoomPlan]
) -> None:
    one = phone()
    one.log_in()
    one.open()
    closet = one.page.locator("#room-closet")
    closet.get_by_role("button", name="I open the door").tap()
    expect(closet.locator("[data-asked]")).to_contain_text("no alarm for 15 min")
    assert "#room-closet" in one.page.url
    assert plans


def test_a_stage_moves_on_and_another_follows_without_loading_the_page(
    phone: PhoneMaker, scene: Scene
) -> None:
    begun = scene.clock.now()
    run = LiveStage(
        since_at=begun, ends_at=begun + timedelta(minutes=10), then=Stage.HANG, by="Ada"
    )
    scene.report(closet={"stage": Stage.CASING_DRY, "stage_run": run})
    one = phone()
    one.open()
    closet = one.page.locator("#room-closet")
    expect(closet.locator("progress")).to_have_js_property("value", 0)
    scene.clock.move(300)
    scene.report(closet={"stage": Stage.CASING_DRY, "stage_run": run})
    ask_now(one)
    expect(closet.locator("progress")).to_have_js_property("value", 0.5)
    expect(closet.locator("[data-wanted=humidity]")).to_have_text("as it comes")
    scene.clock.move(300)
    scene.report()
    ask_now(one)
    expect(closet.locator("[data-run]")).to_be_hidden()
    expect(closet.locator("[data-stage]")).to_have_text("hang")
    expect(closet.locator("[data-wanted=humidity]")).to_have_text("set to 76 ± 3 %")


def test_an_alarm_comes_into_strip_tab_and_title_while_one_watches(
    phone: PhoneMaker, scene: Scene
) -> None:
    one = phone()
    one.open()
    expect(one.page.locator("#trouble")).to_be_hidden()
    scene.clock.move(10)
    eventful(scene)
    ask_now(one)
    expect(one.page.locator("#trouble")).to_have_attribute("data-loudness", "high")
    expect(one.page.locator("#worst")).to_contain_text("far too warm")
    expect(one.page.locator("[data-waiting]")).to_have_text("5")
    expect(one.page).to_have_title("! Alarm - Room")
    one.page.get_by_role("link", name="To the alarms").tap()
    expect(one.page.locator(".alarm h3").first).to_contain_text("Far too warm")


def test_with_the_server_gone_no_stage_sensor_alarm_or_form_looks_live(
    phone: PhoneMaker, scene: Scene, served: Served
) -> None:
    eventful(scene)
    one = phone()
    one.log_in()
    one.open("/rooms/closet")
    expect(one.page.locator("progress")).to_be_visible()
    served.stop()
    expect(one.page.locator("[data-q]").first).to_have_text("\N{EN DASH}", timeout=15_000)
    expect(one.page.locator("progress")).to_be_hidden()
    expect(one.page.locator("[data-sensor-said]").first).to_have_text("not known")
    expect(one.page.locator("[data-shown]").first).to_have_text("")
    expect(one.page.locator("[data-door]")).to_be_hidden()
    expect(one.page.locator("[data-outside]")).to_be_hidden()
    expect(one.page.locator("[data-waiting]")).to_be_hidden()
    expect(one.page.locator("#worst")).to_contain_text("has lost the controller")
    assert one.page.locator("main form:visible").count() == 0
    one.picture("controls-server-gone")
    one.complaints.clear()  # the browser itself reports the refused connection


def test_the_alarms_follow_while_nobody_writes(phone: PhoneMaker, scene: Scene) -> None:
    eventful(scene)
    one = phone()
    one.log_in()
    one.open("/alarms")
    expect(one.page.locator(".alarm")).to_have_count(7)
    scene.clock.move(10)
    scene.report()
    ask_now(one)
    expect(one.page.locator(".alarm")).to_have_count(0)
    expect(one.page.get_by_text("Nothing needs you.")).to_be_visible()


def test_whoever_writes_is_not_interrupted_by_another_alarm(
    phone: PhoneMaker, scene: Scene
) -> None:
    eventful(scene)
    one = phone()
    one.log_in()
    one.open("/alarms")
    alarm = one.page.locator(".alarm").first
    alarm.locator("summary", has_text="Let it rest").tap()
    alarm.get_by_label("Why, in my words").first.fill("half a sen")
    scene.clock.move(10)
    scene.report()
    ask_now(one)
    expect(one.page.locator("#worst")).to_contain_text("The alarms have changed.")
    expect(alarm.get_by_label("Why, in my words").first).to_have_value("half a sen")


def test_an_alarm_is_acknowledged_with_one_tap(
    phone: PhoneMaker, scene: Scene, plans: dict[str, RoomPlan]
) -> None:
    eventful(scene)
    one = phone()
    one.log_in()
    one.open("/alarms")
    first = one.page.locator(".alarm").first
    expect(first).to_have_id(f"room-closet-{AlarmId.TEMPERATURE_HIGH_HIGH}")
    first.get_by_role("button", name="Acknowledge").tap()
    expect(one.page.locator(".asked")).to_have_text("Done. Acknowledged.")
    assert plans


def test_without_script_everything_can_still_be_asked(
    phone: PhoneMaker, plans: dict[str, RoomPlan]
) -> None:
    one = phone(java_script_enabled=False)
    one.log_in()
    one.open("/rooms/closet")
    one.page.locator("summary", has_text="Rest").tap()
    one.page.get_by_role("button", name="Begin rest").tap()
    expect(one.page.locator("[data-asked]")).to_contain_text("Done. Stage is rest, for 12 h.")
    assert plans["closet"].stage is Stage.REST
