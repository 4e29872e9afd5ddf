"""The one place that reads the machine's clocks."""

import queue
import time
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from uuid import uuid4

_BOOT_ID_FILE = Path("/proc/sys/kernel/random/boot_id")
_THIS_PROCESS = str(uuid4())
_STEP_S = 0.001


class SystemClock:
    """The real clocks, and a wait that `wake` ends from a signal handler or another thread."""

    def __init__(self) -> None:
        # Not threading.Event: its lock is not reentrant, so that setting it from a signal handler
        # can block for ever. SimpleQueue.put is documented as reentrant.
        self._wakes: queue.SimpleQueue[None] = queue.SimpleQueue()

    def now(self) -> datetime:
        """Wall time, aware, UTC. It may jump."""
        return datetime.now(UTC)

    def uptime_s(self) -> float:
        """Monotonic seconds (CLOCK_MONOTONIC): on Linux the same clock in every process.

        In whole milliseconds, as the journal keeps them, so that a decision can be made again.
        """
        return round(time.monotonic(), 3)

    def wait_until(self, uptime_s: float) -> None:
        """Return once `uptime_s` has been reached, or at once when woken, now or earlier."""
        while (left_s := uptime_s - self.uptime_s()) > 0:
            with suppress(queue.Empty):
                # At least the clock's step: a rest of rounding is not asked for a thousand times.
                self._wakes.get(timeout=max(left_s, _STEP_S))
                self.wake()
                return

    def wake(self) -> None:
        """End the wait in progress and every later one: the process shall end."""
        self._wakes.put(None)


def boot_id(file: Path = _BOOT_ID_FILE) -> str:
    """Name this run of the machine, so that monotonic times of two boots are never compared.

    Where the kernel does not tell, this process is named instead: safe, merely too fine.
    """
    try:
        return file.read_text(encoding="ascii").strip()
    except OSError:
        return _THIS_PROCESS
