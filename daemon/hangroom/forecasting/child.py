"""The child that computes one forecast: started, given its question, and never waited for longer.

It computes with a library that the daemon shall not carry, and it may hang, die or print anything:
then it is ended, and all that comes of it is a reason in words.
"""

import os
import signal
import subprocess
import sys
from collections.abc import Sequence
from contextlib import suppress
from threading import Event, Lock, Thread, Timer
from typing import IO

from hangroom.errors import HangroomError
from hangroom.product.forecast import Forecast, Question
from hangroom.store.forecast_form import answer_from_json, asked_as_json

COMMAND = (sys.executable, "-m", "hangroom", "forecast-child")

# A Raspberry Pi takes seconds, most of them to load the library. Our judgement.
WITHIN_S = 30.0

# A forecast of sixty days is some 100 kB; what goes on beyond this is none.
MOST_BYTES = 4_000_000


class ChildError(HangroomError):
    """The child brought no forecast; the message says what became of it."""


class Child:
    """Asks one question at a time, each of a process of its own. `close` ends one that runs."""

    def __init__(self, command: Sequence[str] = COMMAND, *, within_s: float = WITHIN_S) -> None:
        self._command = tuple(command)
        self._within_s = within_s
        self._lock = Lock()
        self._running: subprocess.Popen[bytes] | None = None
        self._closed = False

    def ask(self, question: Question) -> Forecast:
        """Return the forecast; InputError where the question has none, ChildError otherwise."""
        return answer_from_json(self.hear(asked_as_json(question)))

    def hear(self, question: str) -> bytes:
        """Return what the child says to a question as JSON; ChildError where it says nothing."""
        with self._lock:
            if self._closed:
                raise ChildError("The service is ending, so no forecast was begun.")
            try:
                # Its own session: Ctrl-C is for the daemon, which ends its child itself.
                self._running = child = subprocess.Popen(  # noqa: S603 - our own command
                    self._command,
                    stdin=subprocess.PIPE,
                    stdout=subprocess.PIPE,
                    start_new_session=True,
                    # One core, so that the others are there for control.
                    env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
                )
            except OSError as fault:
                raise ChildError(
                    f"The forecast could not be begun ({fault.strerror}). It is tried again within"
                    " the hour."
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
                f"The forecast took longer than {self._within_s:g} s and was ended. The machine"
                " may be busy; it is tried again within the hour."
            )
        if len(said) > MOST_BYTES:
            raise ChildError("The forecast's answer had no end and was cut off.")
        if status != 0:
            raise ChildError(_say_end(status))
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
    how = f"was ended by signal {-status}" if status < 0 else f"ended with status {status}"
    return f"The forecast {how}. The service's log says more; it is tried again within the hour."
