"""The witness's own book of a contact: its runs of the last hour, through every program."""

from collections import deque

from hangroom.terms import RelayRules

HOUR_S = 3600.0


class Hours:
    """One contact; told its position at every look."""

    def __init__(self) -> None:
        self._runs: deque[tuple[float, float]] = deque()
        self._began_s: float | None = None

    def take(self, *, closed: bool, uptime_s: float) -> None:
        """Enter where the contact is from now on."""
        if closed and self._began_s is None:
            self._began_s = uptime_s
        elif self._began_s is not None and not closed:
            self._runs.append((self._began_s, uptime_s))
            self._began_s = None
        while self._runs and self._runs[0][1] <= uptime_s - HOUR_S:
            self._runs.popleft()

    def starts(self, *, uptime_s: float) -> int:
        """Return how many starts lie in the last hour."""
        began_s = [began for began, _ in self._runs]
        if self._began_s is not None:
            began_s.append(self._began_s)
        return sum(began > uptime_s - HOUR_S for began in began_s)

    def ran_s(self, *, uptime_s: float, since_s: float = 0.0) -> float:
        """Return how long it has been closed in the last hour, or since a later moment."""
        from_s = max(uptime_s - HOUR_S, since_s)
        runs = [*self._runs]
        if self._began_s is not None:
            runs.append((self._began_s, uptime_s))
        return sum(max(0.0, ended - max(began, from_s)) for began, ended in runs)

    def wrong(self, rules: RelayRules, *, uptime_s: float) -> list[str]:
        """Return which of a relay's limits a closed contact is past."""
        if self._began_s is None:
            return []
        starts = self.starts(uptime_s=uptime_s) if self._began_s == uptime_s else 0
        past = {
            "on for longer than its longest run": rules.max_run_s is not None
            and uptime_s - self._began_s >= rules.max_run_s,
            "started more often than it may in an hour": rules.max_starts_per_h is not None
            and starts > rules.max_starts_per_h,
            "on for longer than it may in an hour": rules.max_on_s_per_h is not None
            and self.ran_s(uptime_s=uptime_s) >= rules.max_on_s_per_h,
        }
        return [wrong for wrong, there in past.items() if there]
