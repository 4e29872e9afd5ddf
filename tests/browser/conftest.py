"""A real Chromium on a phone's screen, looking at the invented household of tests/web."""

import shutil
import sys
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from flask import Flask
from waitress import wasyncore
from waitress.server import create_server

pytest.importorskip("playwright", reason="playwright is not installed")
from playwright.sync_api import Browser, Page, sync_playwright

sys.path.insert(0, str(Path(__file__).parents[1]))

from web.foretelling import foretell
from web.scenario import BOOT, PASSPHRASE, Scene

from hangroom_web.app import create_app

CHROMIUM = Path("/usr/bin/chromium")
PHONE: dict[str, Any] = {
    "viewport": {"width": 390, "height": 844},
    "device_scale_factor": 1,
    "is_mobile": True,
    "has_touch": True,
    "locale": "en-US",
}
OUTPUT = Path(__file__).parent / "output"
OWN_HOSTS = {"127.0.0.1", "hangroom.local"}


class Served:
    """The page under waitress on a free port of this machine, until `stop`."""

    def __init__(self, app: Flask) -> None:
        self._server = create_server(app, host="127.0.0.1", port=0, threads=6)
        self.port = self._server.effective_port
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run)
        self._thread.start()

    def _run(self) -> None:
        # waitress's own `run` ends only by a signal, which reaches no thread.
        while not self._stopping.is_set():
            wasyncore.loop(timeout=0.1, map=self._server._map, count=1)
        self._server.task_dispatcher.shutdown()
        wasyncore.close_all(self._server._map)

    def url(self, path: str = "/", host: str = "127.0.0.1") -> str:
        return f"http://{host}:{self.port}{path}"

    def stop(self) -> None:
        """End it: no port, no open connection. Safe to call twice."""
        self._stopping.set()
        self._thread.join(timeout=10)


@dataclass(kw_only=True)
class Phone:
    """One browser page on the household, and everything it should not have done."""

    page: Page
    served: Served
    scene: Scene
    complaints: list[str] = field(default_factory=list)

    def open(self, path: str = "/", host: str = "127.0.0.1") -> None:
        self.page.goto(self.served.url(path, host))

    def log_in(self, host: str = "127.0.0.1") -> None:
        self.open("/login", host)
        self.page.fill("#passphrase", PASSPHRASE)
        self.page.click("main button")

    def come_known(self) -> None:
        """Have the cookie of a log-in at 127.0.0.1, without the two pages of logging in."""
        client = create_app(self.scene.settings, clock=self.scene.clock, boot_id=BOOT).test_client()
        self.scene.log_in(client)
        cookie = client.get_cookie("hangroom")
        assert cookie is not None
        self.page.context.add_cookies(
            [{"name": "hangroom", "value": cookie.value, "url": self.served.url()}]
        )

    def evaluate(self, script: str, argument: Any = None) -> Any:  # noqa: ANN401 - any JSON
        """Ask the page once it is loaded: a click returns when the next page has just begun."""
        self.page.wait_for_load_state()
        return self.page.evaluate(script, argument)

    def picture(self, name: str) -> None:
        """Keep a picture of the whole page, the tabs at its foot as at the foot of a screen."""
        OUTPUT.mkdir(exist_ok=True)
        screen = self.page.viewport_size
        assert screen is not None
        height = self.evaluate("document.documentElement.scrollHeight")
        self.page.set_viewport_size({**screen, "height": height})
        self.page.screenshot(path=OUTPUT / f"{name}.png")
        self.page.set_viewport_size(screen)


PhoneMaker = Callable[..., Phone]

# The phone's clock shows the invented household's time, and goes on from there.
SHIFTED_CLOCK = """(start => {
    const Real = Date, shift = start - Real.now();
    window.Date = class extends Real {
        constructor(...given) { given.length ? super(...given) : super(Real.now() + shift); }
        static now() { return Real.now() + shift; }
    };
})(%d)"""


@pytest.fixture(scope="session")
def household(tmp_path_factory: pytest.TempPathFactory) -> Path:
    scene = Scene.household(tmp_path_factory.mktemp("household"))
    foretell(scene)
    return scene.folder


@pytest.fixture
def scene(tmp_path: Path, household: Path) -> Scene:
    return Scene(folder=Path(shutil.copytree(household, tmp_path / "household")))


@pytest.fixture
def served(scene: Scene) -> Iterator[Served]:
    served = Served(create_app(scene.settings, clock=scene.clock, boot_id=BOOT))
    yield served
    served.stop()


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    if not CHROMIUM.exists():
        pytest.skip("Debian's chromium is not installed")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=CHROMIUM,
            args=[
                "--no-sandbox",
                "--disable-dev-shm-usage",
                "--host-resolver-rules=MAP hangroom.local 127.0.0.1",
            ],
        )
        yield browser
        browser.close()


@pytest.fixture
def phone(browser: Browser, served: Served, scene: Scene) -> Iterator[PhoneMaker]:
    """Make phones; each must end without a console error or a request to another host."""
    made: list[Phone] = []

    def make(**options: Any) -> Phone:  # noqa: ANN401 - whatever a browser context takes
        context = browser.new_context(**{**PHONE, **options})
        context.add_init_script(SHIFTED_CLOCK % (1000 * scene.clock.now().timestamp()))
        one = Phone(page=context.new_page(), served=served, scene=scene)
        one.page.on(
            "console",
            lambda said: (
                one.complaints.append(said.text) if said.type in {"error", "warning"} else None
            ),
        )
        one.page.on("pageerror", lambda error: one.complaints.append(str(error)))
        one.page.on(
            "request",
            lambda request: (
                one.complaints.append(f"asked {request.url}")
                if urlsplit(request.url).hostname not in OWN_HOSTS
                else None
            ),
        )
        made.append(one)
        return one

    yield make
    for one in made:
        one.page.context.close()
    assert [said for one in made for said in one.complaints] == []
