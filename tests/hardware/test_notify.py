import os
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

from hangroom.hardware.notify import notify


@pytest.fixture
def manager() -> Iterator[socket.socket]:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listener:
        listener.settimeout(2)
        yield listener


def test_the_service_manager_gets_the_lines_in_one_datagram(
    manager: socket.socket, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = str(tmp_path / "notify")
    manager.bind(address)
    monkeypatch.setenv("NOTIFY_SOCKET", address)
    notify("READY=1", "STATUS=closet 78 %")
    assert manager.recv(1000) == b"READY=1\nSTATUS=closet 78 %"


def test_a_name_beginning_with_an_at_sign_is_an_abstract_socket(
    manager: socket.socket, monkeypatch: pytest.MonkeyPatch
) -> None:
    name = f"hangroom-test-{os.getpid()}"
    manager.bind(f"\0{name}")
    monkeypatch.setenv("NOTIFY_SOCKET", f"@{name}")
    notify("WATCHDOG=1")
    assert manager.recv(1000) == b"WATCHDOG=1"


def test_without_a_service_manager_nothing_is_sent(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("NOTIFY_SOCKET", raising=False)
    notify("WATCHDOG=1")


def test_a_service_manager_that_has_gone_does_not_stop_the_daemon(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("NOTIFY_SOCKET", str(tmp_path / "nobody"))
    notify("WATCHDOG=1")
