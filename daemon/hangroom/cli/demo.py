"""`hangroom demo`: a closet and a fridge to look at, with nothing wired and nothing left behind."""

import argparse
import json
import os
import signal
import socket
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from importlib.resources import files
from pathlib import Path

from hangroom.errors import HangroomError
from hangroom.hardware.clock import SystemClock
from hangroom.store.database import prepare_database
from hangroom_web.access import set_passphrase

PASSPHRASE = "juniper and mustard seed"  # noqa: S105 - printed on the screen; it guards invented data
READY_WITHIN_S = 180.0
ENDS_WITHIN_S = 10.0


def run(given: argparse.Namespace) -> int:
    """Prepare a folder, start daemon and page in it, and end both on Ctrl-C."""
    # A closed terminal or a kill ends the children as Ctrl-C does.
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    signal.signal(signal.SIGHUP, signal.default_int_handler)
    with ExitStack() as stack:
        folder = given.folder or Path(
            stack.enter_context(tempfile.TemporaryDirectory(prefix="hangroom-demo-"))
        )
        _refuse_a_used_port(given.port)
        settings_file = _prepared(folder, given.port)
        daemon = stack.enter_context(_child("daemon", settings_file, "--simulated", waits=True))
        page = stack.enter_context(_child("web", settings_file))
        # Has no channel here, so it sends nothing; Setup shows how that looks.
        stack.enter_context(_child("notices", settings_file))
        _wait_for_page(page, given.port)
        print(
            f"\n  Look at   http://127.0.0.1:{given.port}/\n"
            f"  To act,   the passphrase is: {PASSPHRASE}\n"
            f"  Data in   {folder}{'' if given.folder else ' (removed at the end)'}\n"
            "  Rooms, meat and keeper are invented. Ctrl-C ends all of it.\n",
            flush=True,
        )
        with suppress(KeyboardInterrupt):
            daemon.wait()
            print("The simulated daemon has ended; the page goes on and says so.", flush=True)
            page.wait()
    print("\nEnded.")
    return 0


def _prepared(folder: Path, port: int) -> Path:
    prepare_database(folder)
    set_passphrase(folder, PASSPHRASE)
    example = files("hangroom.settings").joinpath("example.toml").read_text(encoding="utf-8")
    text = _with_values(
        example,
        {
            "folder": str(folder),
            "live_folder": str(folder),
            "host": "127.0.0.1",
            "port": port,
        },
    )
    settings_file = folder / "hangroom.toml"
    settings_file.write_text(text, encoding="utf-8")
    return settings_file


def _with_values(example: str, values: dict[str, str | int]) -> str:
    """Return the example settings with some values exchanged; its comments stay."""
    lines = []
    for line in example.splitlines():
        key = line.partition("=")[0].strip()
        # A JSON string or number is a TOML one as well.
        lines.append(f"{key} = {json.dumps(values[key])}" if key in values else line)
    return "\n".join(lines) + "\n"


def _refuse_a_used_port(port: int) -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(("127.0.0.1", port))
        except OSError as fault:
            raise HangroomError(
                f"Port {port} cannot be used ({fault.strerror}). "
                "Take another one, for example: hangroom demo --port 8181"
            ) from None


@contextmanager
def _child(
    command: str, settings_file: Path, *more: str, waits: bool = False
) -> Iterator[subprocess.Popen[bytes]]:
    """Start a hangroom command, with `waits` until it says READY; end it with the block."""
    arguments = [sys.executable, "-m", "hangroom", command, "--settings", str(settings_file), *more]
    with ExitStack() as stack:
        # As in the service units: one heap for all threads of a process.
        environment = {**os.environ, "MALLOC_ARENA_MAX": "1"}
        ear = None
        if waits:
            ear = stack.enter_context(socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM))
            where = settings_file.parent / "ready.sock"
            where.unlink(missing_ok=True)
            ear.bind(str(where))
            stack.callback(where.unlink, missing_ok=True)
            environment["NOTIFY_SOCKET"] = str(where)
        # Its own session: Ctrl-C reaches this process alone, which then ends them in order.
        child = subprocess.Popen(arguments, env=environment, start_new_session=True)  # noqa: S603
        try:
            if ear is not None:
                _wait_until_ready(child, ear)
            yield child
        finally:
            child.terminate()
            try:
                child.wait(ENDS_WITHIN_S)
            except subprocess.TimeoutExpired:
                child.kill()
                child.wait()


def _wait_until_ready(child: subprocess.Popen[bytes], ear: socket.socket) -> None:
    """Wait for the service protocol's READY=1, as the service manager would."""
    ear.settimeout(0.5)
    give_up = SystemClock().uptime_s() + READY_WITHIN_S
    while SystemClock().uptime_s() < give_up:
        if child.poll() is not None:
            raise HangroomError("The simulated daemon ended before it was ready; see above.")
        with suppress(TimeoutError):
            if b"READY=1" in ear.recv(4096):
                return
    raise HangroomError(
        f"The simulated daemon was not ready within {READY_WITHIN_S:g} s. Try again on a machine "
        "that does less at the moment."
    )


def _wait_for_page(child: subprocess.Popen[bytes], port: int) -> None:
    give_up = SystemClock().uptime_s() + READY_WITHIN_S
    while SystemClock().uptime_s() < give_up:
        if child.poll() is not None:
            raise HangroomError("The page ended before it was ready; see above.")
        with suppress(OSError), socket.create_connection(("127.0.0.1", port), timeout=1):
            return
        SystemClock().wait_until(SystemClock().uptime_s() + 0.1)
    raise HangroomError(f"The page did not answer within {READY_WITHIN_S:g} s.")
