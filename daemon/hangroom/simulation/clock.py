"""A clock that stands still until told to move, and takes the simulated rooms along."""

from collections.abc import Callable
from datetime import datetime, timedelta


class SimulatedClock:
    """Wall and monotonic time of a simulated world; fits `ports.Clock`.

    Whoever follows is called with the new moment before the clock shows it, so that waiting for a
    moment means that the rooms have lived until then.
    """

    def __init__(self, *, start: datetime, uptime_s: float = 0.0) -> None:
        if start.tzinfo is None:
            raise ValueError("start must be aware")
        self._wall_at_zero = start - timedelta(seconds=uptime_s)
        self._uptime_s = uptime_s
        self._followers: list[Callable[[float], None]] = []

    def now(self) -> datetime:
        """Wall time, aware."""
        return self._wall_at_zero + timedelta(seconds=self._uptime_s)

    def uptime_s(self) -> float:
        """Monotonic seconds."""
        return self._uptime_s

    def wait_until(self, uptime_s: float) -> None:
        """Move there at once; a moment already past changes nothing."""
        if uptime_s > self._uptime_s:
            for follower in self._followers:
                follower(uptime_s)
            self._uptime_s = uptime_s

    def follow(self, follower: Callable[[float], None]) -> None:
        """Call `follower` with every new moment, for example a room's `advance`."""
        self._followers.append(follower)

    def step_wall(self, by_s: float) -> None:
        """Let the wall clock jump, as it does when the network's time arrives."""
        self._wall_at_zero += timedelta(seconds=by_s)
