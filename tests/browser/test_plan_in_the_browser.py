"""Planning a room's humidity on a phone: from the wish to a plan in use, in both colour schemes."""

from collections.abc import Callable

import pytest
from browser.conftest import Phone, PhoneMaker
from browser.test_every_screen import SCHEMES, TARGETS, axe, findings
from planning.in_process import Planner
from playwright.sync_api import expect
from web.daemon import Daemon
from web.scenario import Scene

from hangroom.forecasting.humidity_plans import HumidityPlans

pytestmark = pytest.mark.browser

__all__ = ["axe"]  # the fixture that fetches the checker's script

PLAN = "/rooms/closet/plan"
LookAway = Callable[[], None]


@pytest.fixture
def desk(scene: Scene) -> LookAway:
    """What the daemon does while nobody looks: plans, and asks for a plan's setpoint."""

    def answer() -> None:
        # Made anew each time: a connection belongs to one thread, and each request has its own.
        daemon = Daemon(scene)
        daemon.tick()
        daemon.close()

    scene.clock.meanwhile = answer

    def look() -> None:
        daemon = Daemon(scene)
        daemon.note_plans()
        HumidityPlans(scene.path, scale_sd_g=0.5, now=scene.clock.now, child=Planner()).look()
        daemon.tick()
        daemon.close()

    return look


def wish(one: Phone) -> None:
    one.log_in()
    one.open(PLAN)
    first = one.page.locator("section", has_text="Group A").first
    first.get_by_role("radio", name="Ready by the time below").tap()
    first.locator("input[type=datetime-local]").fill("2026-11-29T12:00")
    first.get_by_role("button", name="Work out a plan").tap()
    expect(one.page.get_by_role("status")).to_contain_text("A plan is being worked out")


@pytest.mark.parametrize("scheme", SCHEMES)
def test_a_plan_is_wished_shown_used_and_ended(
    phone: PhoneMaker, desk: LookAway, axe: str, scheme: str
) -> None:
    one = phone(color_scheme=scheme, viewport={"width": 390, "height": 844})
    wish(one)
    one.picture(f"plan-waits-{scheme}")
    assert findings(one, axe) == []
    desk()
    one.page.get_by_role("link", name="Look again").tap()
    proposal = one.page.get_by_role("region", name="Proposal")
    expect(proposal).to_contain_text("most likely ready")
    one.picture(f"plan-proposal-{scheme}")
    assert findings(one, axe) == []
    proposal.get_by_role("button", name="Use this plan").tap()
    expect(one.page.get_by_role("status")).to_contain_text("The plan is in use")
    desk()
    one.open(PLAN)
    in_use = one.page.get_by_role("region", name="In use")
    expect(in_use).to_contain_text("A setpoint set by hand ends it.")
    one.picture(f"plan-in-use-{scheme}")
    assert findings(one, axe) == []
    in_use.get_by_role("button", name="End the plan").tap()
    expect(one.page.locator("main")).to_contain_text("ended the plan")
    one.picture(f"plan-ended-{scheme}")


def test_a_plan_worked_out_appears_by_itself_but_never_over_what_is_typed(
    phone: PhoneMaker, desk: LookAway
) -> None:
    one = phone()
    one.page.clock.install()
    wish(one)
    # Kept as typed, and no longer as loaded.
    typed = one.page.locator("input[type=datetime-local]").last
    typed.fill("2026-11-30T09:30")
    desk()
    one.page.clock.run_for(11_000)
    assert typed.input_value() == "2026-11-30T09:30"
    one.page.reload()
    one.page.clock.run_for(1_000)
    expect(one.page.get_by_role("region", name="Proposal")).to_be_visible()


def test_a_page_that_waits_looks_again(phone: PhoneMaker, desk: LookAway) -> None:
    one = phone()
    one.page.clock.install()
    wish(one)
    desk()
    one.page.clock.run_for(6_000)
    expect(one.page.get_by_role("region", name="Proposal")).to_be_visible()


def test_it_fits_a_narrow_phone_and_a_wet_thumb(phone: PhoneMaker, desk: LookAway) -> None:
    one = phone(viewport={"width": 320, "height": 640})
    wish(one)
    desk()
    one.open(PLAN)
    expect(one.page.get_by_role("region", name="Proposal")).to_be_visible()
    assert one.evaluate("document.documentElement.scrollWidth") <= 320
    targets = one.evaluate(TARGETS.replace("'a, button, summary,", "'main button, main a.button,"))
    small = [t["html"] for t in targets if t["box"]["height"] < 56]
    # A choice is tapped on its words, which lie over the whole of it.
    assert [html for html in small if 'type="radio"' not in html] == []
