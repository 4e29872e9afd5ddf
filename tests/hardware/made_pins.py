"""A clock that a test owns, and pins that fail when told to."""

from dataclasses import dataclass
from datetime import UTC, datetime

from gpiozero.pins.mock import MockPin


@dataclass
class FakeClock:
    """Time moves only when told to."""

    at_s: float = 1000.0

    def now(self) -> datetime:
        return datetime(2026, 11, 1, tzinfo=UTC)

    def uptime_s(self) -> float:
        return self.at_s

    def wait_until(self, uptime_s: float) -> None:
        self.at_s = uptime_s


class StubbornPin(MockPin):  # type: ignore[misc]  # gpiozero ships no types
    """A pin that can be told to fail, as a line does whose chip has gone."""

    broken = False

    def _set_state(self, value: float) -> None:
        if self.broken:
            raise OSError("no such device")
        super()._set_state(value)
