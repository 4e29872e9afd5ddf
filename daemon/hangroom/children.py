"""A child that does one task in a limited time: asked, heard, and never waited for longer.

It may hang, die or print anything: then it is ended, and all that comes of it is a reason in words.
"""

import os
import signal
import subprocess
from collections.abc import Mapping, Sequence
from contextlib import suppress
from threading import Event, Lock, Thread, Timer
from typing import IO

from hangroom.errors import HangroomError

# Any answer is far shorter; what goes on beyond this is none.
MOST_BYTES = 4_000_000


class ChildError(HangroomError):
    """The child brought nothing of use; the message says what became of it."""


class TimedChild:
    """Asks one question at a time, each of a process of its own. `close` ends one that runs.

    `what` is done, as a sentence begins with it; `again`: when it is tried again. `quiet`: what it
    says beside its answer is thrown away.
    """

    def __init__(
        self,
        command: Sequence[str],
        *,
        within_s: float,
        what: str,
        again: str,
        environment: Mapping[str, str] | None = None,
        quiet: bool = False,
    ) -> None:
        self._command = tuple(command)
        self._within_s = within_s
        self._what, self._again = what, again
        self._in_a_sentence = what[:1].lower() + what[1:]
        self._environment = dict(environment or {})
        self._stderr = subprocess.DEVNULL if quiet else None
        self._lock = Lock()
        self._running: subprocess.Popen[bytes] | None = None
        self._closed = False

    def hear(self, question: str) -> bytes:
        """Return what the child says to a question; ChildError where it says nothing of use."""
        with self._lock:
            if self._closed:
                raise ChildError(f"The service is ending, so {self._in_a_sentence} was not begun.")
            try:
                # Its own session: Ctrl-C is for the daemon, which ends its child itself.
                self._running = child = subprocess.Popen(  # noqa: S603 - our own command
                    self._command,
                    stdin=subprocess.PIPE,
                    stdout=subprocess.PIPE,
                    start_new_session=True,
                    stderr=self._stderr,
                    env={**os.environ, **self._environment},
                )
            except OSError as fault:
                raise ChildError(
                    f"{self._what} could not be begun ({fault.strerror}). {self._again}"
                ) from None
        overdue = Event()

        def end_the_overdue() -> None:
            overdue.set()
            _end(child)

        limit = Timer(self._within_s, end_the_overdue)
        limit.start()
        try:
            said = _talk(child, question.encode())
            status = child.wait()
        finally:
            limit.cancel()
            _end(child)
            child.wait()
            with self._lock:
                self._running = None
        if overdue.is_set():
            raise ChildError(
                f"{self._what} took longer than {self._within_s:g} s and was ended. {self._again}"
            )
        if len(said) > MOST_BYTES:
            raise ChildError(f"{self._what} gave an answer that had no end and was cut off.")
        if status != 0:
            raise ChildError(f"{self._what} {_say_end(status)}. {self._again}")
        return said

    def close(self) -> None:
        """End what runs and begin nothing more. Safe to call twice, from any thread."""
        with self._lock:
            self._closed = True
            if self._running is not None:
                _end(self._running)


def _talk(child: "subprocess.Popen[bytes]", question: bytes) -> bytes:
    """Return what the child says, whether or not it listens."""
    if child.stdin is None or child.stdout is None:
        return b""
    feeder = Thread(target=_feed, args=(child.stdin, question), daemon=True)
    feeder.start()
    with child.stdout as ear:
        said = ear.read(MOST_BYTES + 1)
    if len(said) > MOST_BYTES:
        _end(child)
    feeder.join()
    return said


def _feed(mouth: IO[bytes], question: bytes) -> None:
    # A child that does not listen has gone, and its status tells; closing flushes, so it may fail.
    with suppress(OSError):
        mouth.write(question)
    with suppress(OSError):
        mouth.close()


def _end(child: "subprocess.Popen[bytes]") -> None:
    if child.poll() is None:
        with suppress(ProcessLookupError, PermissionError):
            os.killpg(child.pid, signal.SIGKILL)


def _say_end(status: int) -> str:
    return f"was ended by signal {-status}" if status < 0 else f"ended with status {status}"
