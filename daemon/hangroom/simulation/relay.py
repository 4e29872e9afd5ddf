"""A relay that switches a simulated load, and that can fail."""

from enum import Enum
from math import inf

from hangroom.ports import Clock


class Stuck(Enum):
    """How a contact fails."""

    OPEN = "open"
    CLOSED = "closed"


class SimulatedRelay:
    """Fits `ports.Relay`. `stuck` breaks the contact; `powered` is False in a power cut.

    What is commanded and what the contact does are told apart: `is_closed` answers for the command,
    `contact_at` for the contact. `until_uptime_s` is when the present loan runs out or ran out.
    """

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self.until_uptime_s = -inf
        self._was_closed = False
        self._operations = 0
        self.stuck: Stuck | None = None
        self.powered = True

    def hold_closed(self, *, until_uptime_s: float) -> None:
        """Close until then at most; a later call replaces the loan."""
        self._settle()
        self.until_uptime_s = until_uptime_s
        self._settle()

    def open(self) -> None:
        """Open now."""
        if self.until_uptime_s == -inf and not self._was_closed:
            return
        self._settle()
        self.until_uptime_s = -inf
        self._settle()

    def is_closed(self) -> bool:
        """Whether the contact is commanded closed at this moment."""
        return self.until_uptime_s > self._clock.uptime_s()

    def close_down(self) -> None:
        """Open for good."""
        self.open()

    def contact_at(self, uptime_s: float) -> bool:
        """Whether current flows at that moment, whatever was commanded."""
        if not self.powered:
            return False
        if self.stuck is not None:
            return self.stuck is Stuck.CLOSED
        return self.until_uptime_s > uptime_s

    def operations(self) -> int:
        """Commands that changed the contact so far, lapsed loans included."""
        self._settle()
        return self._operations

    def _settle(self) -> None:
        closed = self.is_closed()
        if closed != self._was_closed:
            self._was_closed = closed
            self._operations += 1
