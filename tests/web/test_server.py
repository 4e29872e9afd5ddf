import signal
import socket
import subprocess
import sys
import time
from pathlib import Path
from urllib.request import urlopen

import pytest
from web.scenario import Scene, settings_in

from hangroom.errors import HangroomError
from hangroom.settings import Settings
from hangroom_web.server import serve

SERVES = """
import sys
from pathlib import Path
from urllib.request import urlopen
sys.path.insert(0, sys.argv[2])
from web.scenario import BOOT, FakeClock, settings_in
from hangroom_web.app import create_app
from hangroom_web.server import serve
settings = settings_in(Path(sys.argv[1]))
settings = settings.model_copy(update={"web": settings.web.model_copy(update={"host": "127.0.0.1", "port": int(sys.argv[3])})})
serve(create_app(settings, clock=FakeClock(), boot_id=BOOT), settings)
print("ended in order")
"""


def on_port(settings: Settings, port: int) -> Settings:
    web = settings.web.model_copy(update={"host": "127.0.0.1", "port": port})
    return settings.model_copy(update={"web": web})


def test_a_port_in_use_is_one_clear_line(scene: Scene) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        settings = on_port(settings_in(scene.folder), port)
        with pytest.raises(HangroomError, match=f"Port {port} is already in use.*set another"):
            serve(scene.client().application, settings)


def test_an_address_of_another_machine_is_refused_in_words(scene: Scene) -> None:
    settings = settings_in(scene.folder)
    web = settings.web.model_copy(update={"host": "192.0.2.1"})  # TEST-NET-1, never ours
    with pytest.raises(HangroomError, match=r"cannot be served at 192\.0\.2\.1"):
        serve(scene.client().application, settings.model_copy(update={"web": web}))


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGINT])
def test_the_page_ends_in_order_when_told_to(scene: Scene, how: signal.Signals) -> None:
    with socket.create_server(("127.0.0.1", 0)) as probe:
        port = probe.getsockname()[1]
    tests = str(Path(__file__).parents[1])
    page = subprocess.Popen(
        [sys.executable, "-c", SERVES, str(scene.folder), tests, str(port)],
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        assert _answers(port)
        page.send_signal(how)
        told, _ = page.communicate(timeout=10)
    finally:
        page.kill()
    assert page.returncode == 0
    assert told == "ended in order\n"


def _answers(port: int) -> bool:
    for _try in range(100):
        try:
            with urlopen(f"http://127.0.0.1:{port}/healthz", timeout=2) as answer:
                return bool(answer.status == 200)
        except OSError:
            time.sleep(0.1)
    return False


def test_the_page_loads_nothing_heavy_and_nothing_of_the_daemons(scene: Scene) -> None:
    told = subprocess.run(
        [sys.executable, "-c", "import sys, hangroom_web.app; print(*sys.modules)"],
        capture_output=True,
        text=True,
        check=True,
        cwd=scene.folder,
    )
    loaded = set(told.stdout.split())
    assert "flask" in loaded
    assert not loaded & {"numpy", "pandas", "scipy", "gpiozero", "apscheduler", "hangroom.control"}
