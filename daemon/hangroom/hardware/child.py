"""A child process that is asked line by line, each answer with a deadline, and can be killed."""

import os
import select
import subprocess
import sys
from contextlib import suppress
from typing import IO, cast

from hangroom.hardware.clock import SystemClock

_LONGEST_ANSWER_BYTES = 4096
_GONE_WITHIN_S = 2.0


class SilentError(Exception):
    """The child did not answer in time."""


class EndedError(Exception):
    """The child is gone."""


class Child:
    """One Python module run in a fresh process that inherits no pin, no bus and no lock."""

    def __init__(self, module: str, *arguments: str) -> None:
        # -P: no surprise imports from whatever folder the daemon happens to stand in.
        self._process = subprocess.Popen(  # noqa: S603 - our own module
            [sys.executable, "-P", "-m", module, *arguments],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            bufsize=0,
        )
        self._questions = cast("IO[bytes]", self._process.stdin)
        self._answers = cast("IO[bytes]", self._process.stdout)
        self._clock = SystemClock()

    def ask(self, within_s: float) -> bytes:
        """Ask for one line and return it. Raises SilentError or EndedError."""
        with suppress(BrokenPipeError):  # the missing answer tells the same
            self._questions.write(b"\n")
        return self.listen(within_s)

    def listen(self, within_s: float) -> bytes:
        """Return the next line without asking. Raises SilentError or EndedError."""
        until_uptime_s = self._clock.uptime_s() + within_s
        line = b""
        while not line.endswith(b"\n") and len(line) < _LONGEST_ANSWER_BYTES:
            left_s = until_uptime_s - self._clock.uptime_s()
            if left_s <= 0 or not select.select([self._answers], [], [], left_s)[0]:
                raise SilentError
            piece = os.read(self._answers.fileno(), _LONGEST_ANSWER_BYTES)
            if not piece:
                raise EndedError
            line += piece
        return line

    def kill(self) -> None:
        """End it without asking it. Safe to call twice, from any thread."""
        self._process.kill()
        # A process stuck inside the kernel cannot end yet; the caller shall not be stuck with it.
        with suppress(subprocess.TimeoutExpired):
            self._process.wait(_GONE_WITHIN_S)

    def has_ended(self) -> bool:
        """Whether it is gone; a killed one may still be stuck inside the kernel."""
        return self._process.poll() is not None

    def close(self) -> None:
        """Kill it and close the pipes. Only for the thread that asks."""
        self.kill()
        self._questions.close()
        self._answers.close()
