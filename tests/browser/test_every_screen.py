import json
import shutil
import subprocess
import tarfile
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from browser.conftest import Phone, PhoneMaker
from web.evening import eventful
from web.scenario import Scene

from hangroom.jobs import daily_look, looking_of, morning_summary
from hangroom.store.database import connect
from hangroom.store.reminders import snooze

pytestmark = pytest.mark.browser

SCREENS = {
    "room": "/",
    "controls": "/rooms/closet",
    "plan": "/rooms/closet/plan",
    "history": "/rooms/closet/history",
    "history-table": "/rooms/closet/history/table",
    "inspect": "/inspect",
    "batches": "/batches",
    "batch": "/batches/1",
    "new-batch": "/batches/new",
    "alarms": "/alarms",
    "setup": "/setup",
    "check": "/setup/check",
    "salt-check": "/setup/salt/closet/rail",
    "calendar": "/setup/calendar",
    "backup": "/setup/backup",
    "restore": "/setup/backup/restore",
    "log-in": "/login",
    "first-run": "/login",
    "passphrase-again": "/login/again?next=/setup",
    "people": "/setup/access",
    "not-found": "/no-such-page",
}
SCHEMES = ["light", "dark"]
AXE = "axe-core@4.14.1"
AXE_TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
# axe cannot judge the contrast of text in an SVG; the palette has its own test.
UNDECIDABLE = {"color-contrast"}

# The screens that show what is true at the moment, and what may be true then.
LIVE_SCREENS = ["room", "controls", "alarms", "setup", "check", "salt-check"]


def asked_again(scene: Scene) -> None:
    """Let the look be asked for again after two hours, put off, and the morning be summed up."""
    looking = looking_of(scene.settings)
    morning_summary(scene.path, looking, now=scene.clock.now())
    scene.clock.move(7200)
    scene.report()
    daily_look(scene.path, looking, now=scene.clock.now())
    db = connect(scene.path)
    with db.atomic():
        snooze(db, until=scene.clock.now() + timedelta(hours=1), by="Ada", batch_number=1)
    db.close()


STATES: dict[str, Callable[[Scene], object]] = {
    "eventful": eventful,
    "stale": lambda scene: scene.report(reading_age_s=400.0),
    "daemon-down": lambda scene: scene.clock.move(840),
}
UNFOLD = "document.querySelectorAll('details').forEach((e) => { e.open = true; })"

# Everything that can be tapped and is shown, with its box.
TARGETS = """() => [...document.querySelectorAll(
    'a, button, summary, select, input:not([type=hidden])')]
  .filter((e) => !e.matches('.skip') && e.checkVisibility())
  .map((e) => ({ html: e.outerHTML.slice(0, 90), box: e.getBoundingClientRect().toJSON() }))"""


def show(one: Phone, screen: str) -> None:
    if screen == "first-run":
        (one.scene.folder / "access.json").unlink()
    elif screen != "log-in":
        one.come_known()
    one.open(SCREENS[screen])
    one.page.wait_for_timeout(100)
    if screen == "not-found":
        one.complaints.clear()  # the console notes the 404


@pytest.fixture(scope="session")
def axe(pytestconfig: pytest.Config) -> str:
    """The accessibility checker's script; fetched once, kept out of the repository."""
    assert pytestconfig.cache is not None
    folder = Path(pytestconfig.cache.mkdir("axe"))
    if shutil.which("npm") is None:
        pytest.skip("npm is not there to fetch axe-core")
    script = folder / "package" / "axe.min.js"
    if not script.exists():
        fetched = subprocess.run(
            ["npm", "pack", AXE, "--silent"], cwd=folder, capture_output=True, check=False
        )
        if fetched.returncode:
            pytest.skip(f"axe-core could not be fetched: {fetched.stderr.decode()[-200:]}")
        with tarfile.open(next(folder.glob("*.tgz"))) as packed:
            packed.extractall(folder, filter="data")
    return script.read_text(encoding="utf-8")


def findings(one: Phone, axe: str, only: list[str] | None = None) -> list[str]:
    """Return what axe finds by the tags' rules, or by `only` these."""
    one.evaluate(axe)
    asked = (
        {"type": "tag", "values": AXE_TAGS} if only is None else {"type": "rule", "values": only}
    )
    told = one.evaluate("(asked) => axe.run({ runOnly: asked })", asked)
    undecided = [f for f in told["incomplete"] if f["id"] not in UNDECIDABLE]
    return [
        f"{f['id']}: {json.dumps([node['html'][:120] for node in f['nodes']])}"
        for f in [*told["violations"], *undecided]
    ]


def findings_light_and_dark(one: Phone, axe: str, name: str, ending: str = "") -> list[str]:
    """Return what axe finds in both schemes, with a picture of each.

    Of its rules only contrast hangs on colours, so that only that is asked about again in the dark.
    """
    one.picture(f"{name}-light{ending}")
    light = findings(one, axe)
    one.page.emulate_media(color_scheme="dark")
    one.picture(f"{name}-dark{ending}")
    dark = findings(one, axe, ["color-contrast"])
    one.page.emulate_media(color_scheme="light")
    return [*light, *(f"dark: {each}" for each in dark)]


@pytest.mark.parametrize("screen", SCREENS)
def test_a_screen_has_no_finding_of_axe(phone: PhoneMaker, axe: str, screen: str) -> None:
    one = phone()
    show(one, screen)
    assert findings_light_and_dark(one, axe, screen) == []


@pytest.mark.thorough
@pytest.mark.parametrize("screen", LIVE_SCREENS)
@pytest.mark.parametrize("state", STATES)
def test_a_live_screen_has_no_finding_of_axe_in_any_state(
    phone: PhoneMaker, axe: str, scene: Scene, *, screen: str, state: str
) -> None:
    STATES[state](scene)
    one = phone()
    show(one, screen)
    one.picture(f"{screen}-{state}-light")
    one.evaluate(UNFOLD)
    assert findings_light_and_dark(one, axe, f"{screen}-{state}", "-unfolded") == []


@pytest.mark.parametrize("screen", ["room", "inspect"])
def test_a_look_that_is_asked_for_again_has_no_finding_of_axe(
    phone: PhoneMaker, axe: str, scene: Scene, screen: str
) -> None:
    asked_again(scene)
    one = phone()
    show(one, screen)
    one.evaluate(UNFOLD)
    assert findings_light_and_dark(one, axe, f"{screen}-asked-again", "-unfolded") == []


@pytest.mark.thorough
@pytest.mark.parametrize("screen", LIVE_SCREENS)
def test_nothing_scrolls_sideways_with_everything_unfolded(
    phone: PhoneMaker, scene: Scene, screen: str
) -> None:
    eventful(scene)
    one = phone(viewport={"width": 320, "height": 640})
    show(one, screen)
    one.evaluate(UNFOLD)
    assert one.evaluate("document.documentElement.scrollWidth") <= 320
    one.picture(f"{screen}-eventful-320-unfolded")


@pytest.mark.parametrize("screen", ["room", "controls", "alarms", "check", "salt-check"])
def test_what_is_used_at_the_room_is_56_px_high(
    phone: PhoneMaker, scene: Scene, screen: str
) -> None:
    """House rule for whatever is tapped with work on the hands; links at the head stand apart."""
    eventful(scene)
    one = phone()
    show(one, screen)
    one.evaluate(UNFOLD)
    targets = one.evaluate(TARGETS.replace("'a, button, summary,", "'main button, main a.button,"))
    assert [t["html"] for t in targets if t["box"]["height"] < 56] == []
    assert targets


@pytest.mark.parametrize("scheme", SCHEMES)
def test_a_form_with_faults_has_no_finding_of_axe(phone: PhoneMaker, axe: str, scheme: str) -> None:
    one = phone(color_scheme=scheme)
    show(one, "inspect")
    one.page.fill("#stick-A1-weight", "much")
    one.page.click("#stick-A1 form > button")
    one.page.wait_for_selector("#stick-A1 .fault")
    one.evaluate("scrollTo(0, 0)")
    one.picture(f"inspect-fault-{scheme}")
    assert findings(one, axe) == []
    one.complaints.clear()  # an answer of 422 is no fault of the page, yet the console notes it


@pytest.mark.parametrize("screen", SCREENS)
def test_a_narrow_phone_scrolls_nothing_sideways_and_every_target_is_at_least_44_px(
    phone: PhoneMaker, screen: str
) -> None:
    one = phone(viewport={"width": 320, "height": 640})
    show(one, screen)
    assert one.evaluate("document.documentElement.scrollWidth") <= 320
    one.picture(f"{screen}-320")
    targets = one.evaluate(TARGETS)
    small = [t["html"] for t in targets if t["box"]["width"] < 44 or t["box"]["height"] < 44]
    assert targets
    assert small == []


@pytest.mark.parametrize("screen", ["room", "inspect"])
def test_the_first_tab_skips_to_the_content(phone: PhoneMaker, screen: str) -> None:
    one = phone()
    show(one, screen)
    one.page.keyboard.press("Tab")
    assert one.evaluate("document.activeElement.className") == "skip"


def test_the_rooms_are_readable_on_a_wide_screen(phone: PhoneMaker) -> None:
    one = phone(viewport={"width": 1100, "height": 900}, is_mobile=False)
    show(one, "room")
    one.picture("room-wide")
    assert one.evaluate("document.documentElement.scrollWidth") <= 1100


def test_forced_colours_keep_the_drawings_and_the_choices(phone: PhoneMaker) -> None:
    one = phone(forced_colors="active")
    show(one, "room")
    one.picture("room-forced-colours")
    fill = one.evaluate("getComputedStyle(document.querySelector('.meat')).fill")
    ground = one.evaluate("getComputedStyle(document.querySelector('.sheet')).backgroundColor")
    assert fill != ground
