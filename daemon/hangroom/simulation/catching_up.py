"""A clock that starts in the past, runs as fast as the machine can, and then goes on live.

What lives on it cannot tell the difference: the same loop that made three days of past in a few
seconds goes on at the speed of the world from the moment it has caught up.
"""

from collections.abc import Callable
from datetime import datetime, timedelta

from hangroom.ports import Clock


class CatchingUpClock:
    """Fits `ports.Clock`, on top of a real one; `behind_s` is how far in the past it starts.

    Whoever follows is called with each new moment before the clock shows it, and may be slow:
    the clock then simply stays behind a little longer.
    """

    def __init__(self, real: Clock, *, behind_s: float) -> None:
        self._real = real
        self._uptime_s = real.uptime_s() - behind_s
        self._started_s = self._uptime_s
        self._followers: list[Callable[[float], None]] = []

    def now(self) -> datetime:
        """Wall time, as far in the past as the clock is behind."""
        return self._real.now() - timedelta(seconds=self.behind_s())

    def uptime_s(self) -> float:
        """Monotonic seconds; on the machine's own scale once it has caught up."""
        return self._uptime_s

    def behind_s(self) -> float:
        """How far there is still to go."""
        return max(0.0, self._real.uptime_s() - self._uptime_s)

    def done_ratio(self) -> float:
        """How much of the past is made, 0 to 1."""
        made_s = self._uptime_s - self._started_s
        return made_s / (made_s + self.behind_s()) if made_s else 0.0

    def wait_until(self, uptime_s: float) -> None:
        """Move there at once while in the past; really wait for a moment that is yet to come."""
        if uptime_s > self._real.uptime_s():
            self._real.wait_until(uptime_s)
            uptime_s = min(uptime_s, self._real.uptime_s())
        if uptime_s > self._uptime_s:
            for follower in self._followers:
                follower(uptime_s)
            self._uptime_s = uptime_s

    def follow(self, follower: Callable[[float], None]) -> None:
        """Call `follower` with every new moment."""
        self._followers.append(follower)
