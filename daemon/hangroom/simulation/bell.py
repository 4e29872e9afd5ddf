"""A bell that nobody hears: for the demo, rehearsals and tests."""

from hangroom.alarm_table.ringing import Ring
from hangroom.ports import Clock


class SimulatedBell:
    """Fits the port `Bell`; `press` is the hand, `sounds` the ear."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._ring, self._until_s = Ring.NOTHING, 0.0
        self._presses = 0

    def press(self) -> None:
        """Press its button once."""
        self._presses += 1

    def sounds(self) -> Ring:
        """Return what is heard and seen now."""
        return self._ring if self._clock.uptime_s() < self._until_s else Ring.NOTHING

    def ring(self, ring: Ring, *, until_uptime_s: float) -> None:
        """Ring like that until that moment at most."""
        self._ring, self._until_s = ring, until_uptime_s

    def take_presses(self) -> int:
        """Return how often it was pressed since this was last asked."""
        presses, self._presses = self._presses, 0
        return presses

    def fault(self) -> str:
        """Return that nothing is wrong with it."""
        return ""

    def close_down(self) -> None:
        """Fall silent."""
        self._ring = Ring.NOTHING
