"""Real receivers on this machine: a mail server and a web server that a test can let lie."""

import json
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from email import message_from_bytes, policy
from email.message import EmailMessage
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import Envelope

# What a receiver does with a message.
TAKES, KEEPS_AND_SAYS_NO, KEEPS_AND_BABBLES, HANGS, SAYS_YES_AND_DROPS = (
    "takes",
    "keeps and says no",
    "keeps and babbles",
    "hangs before it takes",
    "says yes and drops",
)


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@dataclass
class Web:
    """What a web server got: the header that marks a message, and its body."""

    port: int
    does: str = TAKES
    got: list[tuple[str, dict[str, Any]]] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)
    ended: threading.Event = field(default_factory=threading.Event)

    @property
    def distinct(self) -> list[dict[str, Any]]:
        """What a receiver keeps that knows a message again by its mark."""
        return list(dict(self.got).values())


@contextmanager
def web(port: int, does: str = TAKES) -> Iterator[Web]:
    box = Web(port, does)

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            box.asked.append(self.path)
            self.send_response(200)
            self.end_headers()

        def do_POST(self) -> None:
            if box.does == HANGS:
                box.ended.wait(60.0)
                return
            body = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
            if box.does != SAYS_YES_AND_DROPS:
                box.got.append((self.headers.get("Idempotency-Key", ""), body))
            if box.does == KEEPS_AND_BABBLES:
                self.wfile.write(b"\x00\xff what? \r\n\r\n")
                return
            self.send_response(500 if box.does == KEEPS_AND_SAYS_NO else 200)
            self.end_headers()

        def log_message(self, *_given: object) -> None:
            pass

    with ThreadingHTTPServer(("127.0.0.1", port), Handler) as server:
        server.daemon_threads = True
        running = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05})
        running.start()
        try:
            yield box
        finally:
            box.ended.set()
            server.shutdown()
            running.join()


@dataclass
class Mail:
    """What a mail server got."""

    port: int
    does: str = TAKES
    got: list[EmailMessage] = field(default_factory=list)

    @property
    def distinct(self) -> list[EmailMessage]:
        return list({str(one["Message-ID"]): one for one in self.got}.values())


@contextmanager
def mail(port: int, does: str = TAKES) -> Iterator[Mail]:
    box = Mail(port, does)

    class Handler:
        async def handle_DATA(  # noqa: N802 - the library's name
            self, _server: object, _session: object, envelope: Envelope
        ) -> str:
            if box.does != SAYS_YES_AND_DROPS and isinstance(envelope.content, bytes):
                got = message_from_bytes(envelope.content, policy=policy.default)
                assert isinstance(got, EmailMessage)
                box.got.append(got)
            return {
                KEEPS_AND_SAYS_NO: "451 try again later",
                KEEPS_AND_BABBLES: "what? no number",
            }.get(box.does, "250 taken")

    server = Controller(Handler(), hostname="127.0.0.1", port=port)
    server.start()
    try:
        yield box
    finally:
        server.stop()


@contextmanager
def deaf(port: int) -> Iterator[None]:
    """Take connections and say nothing at all for a minute and more."""
    with socket.create_server(("127.0.0.1", port)) as server:
        held: list[socket.socket] = []
        ended = threading.Event()

        def hold() -> None:
            server.settimeout(0.1)
            while not ended.is_set():
                with suppress(TimeoutError):
                    held.append(server.accept()[0])

        running = threading.Thread(target=hold)
        running.start()
        try:
            yield
        finally:
            ended.set()
            running.join()
            for one in held:
                one.close()
