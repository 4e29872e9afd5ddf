"""The demo as its keeper sees it: started, looked at, daemon killed, ended with Ctrl-C."""

import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.request import urlopen

import pytest

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="needs Linux's /proc"),
]
READY_WITHIN_S = 240
GONE_WITHIN_S = 15.0
ENDS_WITHIN_S = 10.0


class Demo:
    """A running `hangroom demo` and what it printed."""

    def __init__(self, folder: Path) -> None:
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port = int(probe.getsockname()[1])
        self.process = subprocess.Popen(
            [
                *(sys.executable, "-m", "hangroom", "demo"),
                *("--port", str(port), "--folder", str(folder)),
            ],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            start_new_session=True,
        )
        self.printed: list[str] = []
        self.address = self._address()

    def _address(self) -> str:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.printed.append(line)
            found = re.search(r"http://127\.0\.0\.1:\d+/", line)
            if found:
                return found.group()
        pytest.fail(f"The demo ended without an address:\n{''.join(self.printed)}")

    def get(self, path: str) -> str:
        with urlopen(self.address + path, timeout=10) as answer:  # noqa: S310 - our own server
            assert answer.status == 200
            return str(answer.read().decode())

    def now(self) -> dict[str, Any]:
        told: dict[str, Any] = json.loads(self.get("api/v1/now"))
        return told

    def children(self) -> dict[str, int]:
        """Its processes by command, from /proc; the arguments are `-m hangroom COMMAND`."""
        found = {}
        for folder in Path("/proc").glob("[0-9]*"):
            try:
                parent = int((folder / "stat").read_text().rpartition(")")[2].split()[1])
                arguments = (folder / "cmdline").read_text().split("\0")
            except (OSError, ProcessLookupError):
                continue
            if parent == self.process.pid and "hangroom" in arguments:
                found[arguments[arguments.index("hangroom") + 1]] = int(folder.name)
        return found


@pytest.fixture
def demo(tmp_path: Path) -> Iterator[Demo]:
    running = Demo(tmp_path / "demo")
    yield running
    if running.process.poll() is None:
        running.process.send_signal(signal.SIGINT)
        try:
            running.process.wait(2 * ENDS_WITHIN_S)
        except subprocess.TimeoutExpired:
            for number in (*running.children().values(), running.process.pid):
                os.kill(number, signal.SIGKILL)
            running.process.wait()
    if running.process.stdout is not None:
        running.process.stdout.close()


def within(limit_s: float, holds: Callable[[], bool]) -> bool:
    give_up_s = time.monotonic() + limit_s
    while time.monotonic() < give_up_s:
        if holds():
            return True
        time.sleep(0.25)
    return holds()


def is_gone(number: int) -> bool:
    try:
        return ") Z " in Path(f"/proc/{number}/stat").read_text()
    except (FileNotFoundError, ProcessLookupError):
        return True


@pytest.mark.timeout(READY_WITHIN_S + 60)
def test_the_demo_shows_live_rooms_outlives_its_daemon_and_leaves_nothing(demo: Demo) -> None:
    told = demo.now()
    assert told["daemon"]["state"] == "live"
    humidity = told["rooms"]["closet"]["humidity"]
    assert 40 < humidity["value"] < 100
    assert humidity["state"] != "lost"
    assert "Closet" in demo.get("")
    running = demo.children()
    assert set(running) == {"daemon", "web", "notices"}

    os.kill(running["daemon"], signal.SIGKILL)

    def nothing_is_live() -> bool:
        told = demo.now()
        return told["daemon"]["state"] == "down" and all(
            room[what]["value"] is None
            and all(relay["state"] == "unknown" for relay in room["relays"].values())
            for room in told["rooms"].values()
            for what in ("temperature", "humidity")
        )

    assert within(GONE_WITHIN_S, nothing_is_live), demo.now()
    old = demo.now()["rooms"]["closet"]["humidity"]
    assert old["shown"] is None
    assert 40 < old["last_good"]["value"] < 100
    assert "Closet" in demo.get("")

    began_s = time.monotonic()
    demo.process.send_signal(signal.SIGINT)
    assert demo.process.wait(ENDS_WITHIN_S) == 0
    assert time.monotonic() - began_s < ENDS_WITHIN_S
    assert all(is_gone(number) for number in running.values())
    assert demo.process.stdout is not None
    assert "Traceback" not in "".join(demo.printed) + demo.process.stdout.read()


@pytest.mark.timeout(READY_WITHIN_S + 60)
def test_ctrl_c_ends_daemon_and_page_in_order(demo: Demo) -> None:
    running = demo.children()
    assert set(running) == {"daemon", "web", "notices"}
    demo.process.send_signal(signal.SIGINT)
    assert demo.process.wait(ENDS_WITHIN_S) == 0
    assert all(is_gone(number) for number in running.values())
    assert demo.process.stdout is not None
    assert "Traceback" not in "".join(demo.printed) + demo.process.stdout.read()
