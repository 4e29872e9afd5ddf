"""The page's process: one waitress, a few threads, nothing that outlives it."""

import errno
import logging
import signal
import socket
from collections.abc import Callable
from contextlib import suppress
from types import FrameType

from flask import Flask
from waitress.server import create_server

from hangroom.errors import HangroomError
from hangroom.settings import Settings
from hangroom.store.record.photos import MOST_BYTES
from hangroom_web.words import _

THREADS = 6
BODY_BYTES = 256 * 1024

# What the largest form may bring: a photo as large as is kept, and its fields. The app itself
# refuses more than `BODY_BYTES` wherever no photo or file is asked for.
LARGEST_BODY_BYTES = MOST_BYTES + BODY_BYTES


def serve(app: Flask, settings: Settings, *, ready: Callable[[], None] = lambda: None) -> None:
    """Serve until SIGTERM or Ctrl-C; HangroomError where the address cannot be had.

    `ready` is called once the address is had.
    """
    host, port = settings.web.host, settings.web.port
    # Its warnings about a full queue are the keeper's business only when a thread really hangs.
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    try:
        # Bound here and not by waitress, which keeps the socket of a failed attempt.
        listening = socket.create_server((host, port), family=family)
    except OSError as fault:
        raise HangroomError(_said(fault, host, port)) from fault
    ready()
    server = create_server(
        app,
        sockets=[listening],
        threads=THREADS,
        max_request_body_size=LARGEST_BODY_BYTES,
        ident=None,
        clear_untrusted_proxy_headers=True,
    )
    before = signal.signal(signal.SIGTERM, _end)
    try:
        with suppress(KeyboardInterrupt, SystemExit):
            server.run()
    finally:
        signal.signal(signal.SIGTERM, before)
        server.close()


def _end(_number: int, _frame: FrameType | None) -> None:
    raise KeyboardInterrupt


def _said(fault: OSError, host: str, port: int) -> str:
    match fault.errno:
        case errno.EADDRINUSE:
            said = _(
                "Port {port} is already in use, so the page cannot be served there. "
                "End the program that holds it, or set another port in [web]."
            )
        case errno.EACCES:
            said = _(
                "Port {port} may not be opened by this user; ports below 1024 belong to root. "
                "Set a port from 1024 up in [web]."
            )
        case _other:
            said = _("The page cannot be served at {host} port {port}: {why}. Check [web].")
    return said.format(host=host, port=port, why=fault.strerror)
