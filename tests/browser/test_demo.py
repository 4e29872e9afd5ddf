"""The demo as its keeper meets it: one command, a phone-sized real browser, hands on the page.

What is expected comes from the issue the demo answers and from plain arithmetic on the weights
typed here, never from the program's own functions.
"""

import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

pytestmark = [pytest.mark.browser, pytest.mark.slow]

READY_WITHIN_S = 240
OUTPUT = Path(__file__).parent / "output"


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, str, Path]]:
    """Start `hangroom demo`, give its address, passphrase and folder, and end it with Ctrl-C."""
    folder = tmp_path_factory.mktemp("demo")
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    log = folder / "demo.log"
    with log.open("wb") as out:
        demo = subprocess.Popen(
            [
                sys.executable,
                "-m",
                "hangroom",
                "demo",
                "--port",
                str(port),
                "--folder",
                folder / "d",
            ],
            stdout=out,
            stderr=subprocess.STDOUT,
        )
    try:
        give_up = time.monotonic() + READY_WITHIN_S
        while "passphrase is: " not in log.read_text():
            assert demo.poll() is None, log.read_text()
            assert time.monotonic() < give_up, log.read_text()
            time.sleep(0.2)
        passphrase = re.search(r"passphrase is: (.+)", log.read_text())
        assert passphrase is not None
        yield f"http://127.0.0.1:{port}", passphrase[1], folder / "d"
    finally:
        demo.send_signal(signal.SIGINT)
        assert demo.wait(20) == 0, log.read_text()
    assert "Traceback" not in log.read_text()
    assert not _running_in(folder), "the demo left processes behind"


@pytest.fixture
def phone(browser: Browser) -> Iterator[Page]:
    context = browser.new_context(
        viewport={"width": 390, "height": 844}, is_mobile=True, has_touch=True
    )
    page = context.new_page()
    page.set_default_timeout(10_000)
    yield page
    context.close()


def test_log_in_weigh_three_sticks_and_see_what_it_changes(
    demo: tuple[str, str, Path], phone: Page
) -> None:
    address, passphrase, _ = demo
    phone.goto(f"{address}/inspect?all=1")
    phone.get_by_role("link", name="Log in to weigh").click()
    phone.get_by_label("Household passphrase").fill(passphrase)
    phone.get_by_role("button", name="Log in").click()

    # The closet's batch: 2A1 to 2A3 are the tagged sticks of one group. Its first forecast is there
    # soon after the page opens.
    phone.goto(f"{address}/batches/2")
    made = phone.locator(".group").first
    _reloaded_until(phone, lambda: "Made" in made.inner_text())
    looks_before = _looks_on_the_scale(made.inner_text())
    phone.goto(f"{address}/inspect?all=1")
    for tag in ("2A1", "2A2", "2A3"):
        card = phone.locator(f"#stick-{tag}")
        facts = card.locator(".facts").inner_text()
        green_g, last_g = (float(weight) for weight in re.findall(r"([0-9.]+) g", facts)[:2])
        weight_g = round(last_g - 1.4, 1)
        # A decimal comma, as half of Europe types it.
        card.locator("[name=weight]").fill(str(weight_g).replace(".", ","))
        card.locator("[name=squeeze][value='2']").check()
        card.get_by_role("button", name="Save").click()
        saved = phone.locator(f"#stick-{tag} .saved")
        expect(saved).to_contain_text(f"{weight_g:.1f} g")
        expect(saved).to_contain_text(f"{100 * weight_g / green_g:.1f} %")

    phone.goto(f"{address}/batches/2")
    _reloaded_until(phone, lambda: _looks_on_the_scale(made.inner_text()) == looks_before + 1)
    phone.goto(f"{address}/inspect")
    expect(phone.get_by_text("Next inspection").first).to_be_visible()
    OUTPUT.mkdir(exist_ok=True)
    for scheme in ("light", "dark"):
        phone.emulate_media(color_scheme="light" if scheme == "light" else "dark")
        phone.goto(address)
        phone.wait_for_timeout(500)
        phone.screenshot(path=OUTPUT / f"demo-room-{scheme}.png")


def test_the_room_is_small_asks_nobody_else_and_says_nothing_on_the_console(
    demo: tuple[str, str, Path], phone: Page
) -> None:
    """Bars of the issue: at most 30 KB and 8 requests cold."""
    address, _, _ = demo
    requests: list[str] = []
    complaints: list[str] = []
    sizes: list[int] = []
    phone.on("request", lambda request: requests.append(request.url))
    phone.on("console", lambda message: complaints.append(message.text))
    phone.on("pageerror", lambda error: complaints.append(str(error)))
    phone.on(
        "requestfinished",
        lambda request: sizes.append(
            request.sizes()["responseBodySize"] + request.sizes()["responseHeadersSize"]
        ),
    )
    phone.goto(address, wait_until="networkidle")
    assert all(url.startswith(address) for url in requests)
    assert complaints == []
    assert len(requests) <= 8, requests
    assert sum(sizes) <= 30_000, sizes


def test_a_killed_daemon_leaves_nothing_live_within_15_seconds(
    demo: tuple[str, str, Path], phone: Page
) -> None:
    """Last in this file on purpose: the demo's daemon does not come back."""
    address, _, folder = demo
    phone.goto(address)
    expect(phone.locator("#room-closet [data-q=humidity]")).to_have_text(re.compile(r"^\d+\.\d$"))
    (daemon,) = [pid for pid in _running_in(folder) if b"daemon" in _arguments(pid)]
    os.kill(daemon, signal.SIGKILL)
    killed = time.monotonic()
    for room in ("closet", "fridge"):
        left_ms = 1000 * (15 - (time.monotonic() - killed))
        card = phone.locator(f"#room-{room}")
        for quantity in ("temperature", "humidity"):
            expect(card.locator(f"[data-q={quantity}]")).to_have_text(
                "\N{EN DASH}", timeout=left_ms
            )
        expect(card).to_contain_text("Last good reading")
        for relay in card.locator("[data-relay]").all():
            expect(relay).to_have_attribute("data-on", "unknown")
    expect(phone.locator("#trouble")).to_contain_text("has not reported")
    OUTPUT.mkdir(exist_ok=True)
    phone.screenshot(path=OUTPUT / "demo-daemon-killed.png")


def _reloaded_until(phone: Page, holds: Callable[[], bool]) -> None:
    give_up_s = time.monotonic() + 60.0
    while not holds():
        assert time.monotonic() < give_up_s, phone.locator(".group").first.inner_text()
        time.sleep(1.0)
        phone.reload()


def _looks_on_the_scale(said: str) -> int:
    """How many looks a forecast says it was made from."""
    if "no weight yet" in said:
        return 0
    found = re.search(r"(\d+) looks? on the scale", said)
    assert found is not None, said
    return int(found[1])


def _running_in(folder: Path) -> list[int]:
    return [
        int(entry.name)
        for entry in Path("/proc").iterdir()
        if entry.name.isdigit() and str(folder).encode() in _arguments(int(entry.name))
    ]


def _arguments(pid: int) -> bytes:
    try:
        return Path(f"/proc/{pid}/cmdline").read_bytes()
    except OSError:
        return b""
