"""`hangroom notices` as a process: small, sends what happens, ends when told, and runs alone."""

import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1]))

from notices.house import House
from notices.receivers import free_port, web

from hangroom.alarm_table.row import AlarmId
from hangroom.store.notices import mark

pytestmark = pytest.mark.skipif(
    not Path("/proc/self/status").exists(), reason="needs Linux's /proc"
)
WITHIN_S = 60.0


def wait_for(what: Callable[[], object]) -> None:
    until_s = time.monotonic() + WITHIN_S
    while not what():
        assert time.monotonic() < until_s
        time.sleep(0.05)


@pytest.fixture
def house(tmp_path: Path) -> Iterator[House]:
    house = House(tmp_path)
    yield house
    house.close()


@contextmanager
def running(house: House) -> Iterator[subprocess.Popen[str]]:
    file = house.folder / "hangroom.toml"
    file.write_text(
        f'[store]\nfolder = "{house.folder}"\n[notices]\n'
        f'channels_file = "{house.channels_file}"\nalive_weekday = "never"\n'
        '[room.closet]\ntitle = "Closet"\n[room.closet.sensor.rail]\nkind = "dht22"\npin = 4\n'
    )
    process = subprocess.Popen(
        [sys.executable, "-m", "hangroom", "notices", "--settings", str(file)],
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        yield process
    finally:
        process.kill()
        process.communicate()


def test_it_is_small_sends_and_ends_when_told(house: House) -> None:
    """Goal: 40 MB at rest; the library that knows the services would add as much again."""
    port = free_port()
    house.write_channels([("one", "low", f"json://127.0.0.1:{port}/")])
    with web(port) as box, running(house) as process:
        wait_for(lambda: mark(house._db, "alarm-line") is not None)
        house.alarm(AlarmId.SENSOR_STALE)
        wait_for(lambda: box.got)
        status = Path(f"/proc/{process.pid}/status").read_text()
        (resident,) = (line for line in status.splitlines() if line.startswith("VmRSS:"))
        loaded = Path(f"/proc/{process.pid}/maps").read_text()
        process.send_signal(signal.SIGTERM)
        assert process.wait(WITHIN_S) == 0
    assert [body["title"] for _mark, body in box.got] == [
        "Hang room: Closet: a sensor does not answer"
    ]
    assert int(resident.split()[1]) / 1024 <= 45.0  # 5 MB for what other machines map otherwise
    assert "numpy" not in loaded


def test_a_second_one_is_refused_with_what_to_do(house: House) -> None:
    house.write_channels([])
    with running(house) as first:
        wait_for(lambda: mark(house._db, "alarm-line") is not None)
        with running(house) as second:
            assert second.wait(WITHIN_S) == 1
            assert second.stderr is not None
            said = second.stderr.read()
            assert "two would send everything twice" in said
            assert "systemctl stop hangroom-notices" in said
        assert first.poll() is None
