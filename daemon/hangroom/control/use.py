"""One relay's memory: where it is, how much it ran in the last hour, how often it was refused.

The window slides: it always reaches back exactly an hour from the moment that is asked about. What
has left it is thrown away only when something new is added, so that a quiet tick costs nothing.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

HOUR_S = 3600.0


@dataclass(frozen=True, slots=True)
class Run:
    """A run that has ended, in monotonic seconds."""

    began_uptime_s: float
    ended_uptime_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RelayMemory:
    """A relay's position, when it was last switched, and its last hour; monotonic seconds.

    `runs`: those that reached into the last hour when the newest of them ended, oldest first; the
    one under way is not among them. `refused_uptime_s`: when starts were refused for a rest;
    `refusing`: whether one is at this moment. `locked_uptime_s`: since when it is locked out.
    """

    closed: bool
    changed_uptime_s: float
    runs: tuple[Run, ...] = ()
    refused_uptime_s: tuple[float, ...] = ()
    refusing: bool = False
    locked_uptime_s: float | None = None


def told(memory: RelayMemory, *, closed: bool, uptime_s: float) -> RelayMemory:
    """Return the memory of a relay that has been told its position."""
    if closed == memory.closed:
        return memory
    runs = memory.runs
    if memory.closed:
        runs = within_the_hour((*runs, Run(memory.changed_uptime_s, uptime_s)), uptime_s=uptime_s)
    return replace(memory, closed=closed, changed_uptime_s=uptime_s, runs=runs)


def within_the_hour(runs: Iterable[Run], *, uptime_s: float) -> tuple[Run, ...]:
    """Return the runs that reach into the last hour."""
    return tuple(run for run in runs if run.ended_uptime_s > uptime_s - HOUR_S)


def ran_in_the_hour_s(memory: RelayMemory, *, uptime_s: float) -> float:
    """Return how many seconds of the last hour the relay has been closed."""
    since_s = uptime_s - HOUR_S
    ran_s = uptime_s - max(memory.changed_uptime_s, since_s) if memory.closed else 0.0
    for run in memory.runs:
        if run.ended_uptime_s > since_s:
            ran_s += run.ended_uptime_s - max(run.began_uptime_s, since_s)
    return ran_s


def until_next_start_s(memory: RelayMemory, most: int, *, uptime_s: float) -> float:
    """Return in how many seconds an open relay may start with at most `most` starts in any hour."""
    if len(memory.runs) < most:
        return 0.0
    return max(0.0, memory.runs[-most].began_uptime_s + HOUR_S - uptime_s)


def until_ran_at_most_s(memory: RelayMemory, most_s: float, *, uptime_s: float) -> float:
    """Return in how many seconds an open relay will have run for `most_s` in the last hour."""
    too_much_s = ran_in_the_hour_s(memory, uptime_s=uptime_s) - most_s
    if too_much_s <= 0:
        return 0.0
    since_s = uptime_s - HOUR_S
    left_s = HOUR_S
    for run in memory.runs:
        began_s = max(run.began_uptime_s, since_s)
        lasted_s = max(0.0, run.ended_uptime_s - began_s)
        if too_much_s <= lasted_s:
            left_s = began_s + too_much_s - since_s
            break
        too_much_s -= lasted_s
    return left_s


def refused(memory: RelayMemory, *, uptime_s: float) -> RelayMemory:
    """Return the memory with a refused start more, unless it is the one already being refused."""
    if memory.refusing:
        return memory
    recent = [at_s for at_s in memory.refused_uptime_s if at_s > uptime_s - HOUR_S]
    return replace(memory, refusing=True, refused_uptime_s=(*recent, uptime_s))


def not_refused(memory: RelayMemory) -> RelayMemory:
    """Return the memory with no start being refused."""
    return replace(memory, refusing=False) if memory.refusing else memory


def refused_in_the_hour(memory: RelayMemory, *, uptime_s: float) -> int:
    """Return how many starts were refused for a rest in the last hour."""
    return sum(at_s > uptime_s - HOUR_S for at_s in memory.refused_uptime_s)


def switches_since(memory: RelayMemory, since_uptime_s: float) -> int:
    """Return how often the relay was switched after a moment of the last hour."""
    under_way = memory.closed and memory.changed_uptime_s > since_uptime_s
    return under_way + sum(
        (run.began_uptime_s > since_uptime_s) + (run.ended_uptime_s > since_uptime_s)
        for run in memory.runs
    )
