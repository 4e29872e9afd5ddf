"""How long each relay of a room was on, stretch by stretch, from the commands and the runs."""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from typing import NamedTuple

from sqlite_utils import Database

from hangroom.store.moments import from_ms, to_ms

SpanMs = tuple[int, int]

# Relays that run for weeks without a word are looked for no further back than their run's start.
_BEFORE = (
    "select closed from command where room_id = ? and relay = ? and given_ms < ? and given_ms >= ?"
    " order by given_ms desc, id desc limit 1"
)
_GIVEN = (
    "select given_ms, relay, closed from command where room_id = ? and given_ms >= ?"
    " and given_ms < ? order by given_ms, id"
)


class RelayTime(NamedTuple):
    """A stretch of time: how long the relay was on, and how long the daemon ran, ms."""

    on_ms: int
    known_ms: int

    @property
    def on_ratio(self) -> float | None:
        """The share of the known time that it was on; None where none of it is known."""
        return self.on_ms / self.known_ms if self.known_ms else None


def runs_between(
    db: Database, since_ms: int, until_ms: int, *, alive_until: datetime | None
) -> list[SpanMs]:
    """Return when the daemon ran, oldest first; it notes that once a minute.

    `alive_until`: until when it is known to run by other means, None where it is not.
    """
    rows = db.execute(
        "select started_ms, last_ms, id = (select max(id) from run) from run"
        " where started_ms < ? order by started_ms, id",
        (until_ms,),
    )
    found = []
    for started_ms, last_ms, newest in rows:
        ended_ms = max(last_ms, to_ms(alive_until)) if newest and alive_until else last_ms
        if ended_ms > since_ms:
            found.append((started_ms, ended_ms))
    return found


def first_run_at(db: Database) -> datetime | None:
    """Return when the daemon first ran, None where it never did."""
    (started_ms,) = db.execute("select min(started_ms) from run").fetchone()
    return None if started_ms is None else from_ms(started_ms)


def relay_times(
    db: Database,
    room_id: int,
    relays: Iterable[str],
    *,
    since_ms: int,
    stretches: int,
    stretch_ms: int,
    runs: Sequence[SpanMs],
) -> dict[str, list[RelayTime]]:
    """Return each relay's times in `stretches` stretches from `since_ms` on.

    A relay is open where no run is known: each run of the daemon starts with every relay open.
    """
    until_ms = since_ms + stretches * stretch_ms
    known = _shares(runs, since_ms, stretches, stretch_ms)
    given: dict[str, list[tuple[int, int]]] = {relay: [] for relay in relays}
    run_now_ms = next((run[0] for run in reversed(runs) if run[0] <= since_ms <= run[1]), None)
    if run_now_ms is not None:
        for relay, told in given.items():
            before = db.execute(_BEFORE, (room_id, relay, since_ms, run_now_ms)).fetchone()
            if before is not None:
                told.append((since_ms, before[0]))
    for given_ms, relay, closed in db.execute(_GIVEN, (room_id, since_ms, until_ms)):
        if relay in given:
            given[relay].append((given_ms, closed))
    return {
        relay: [
            RelayTime(on_ms=min(on_ms, known_ms), known_ms=known_ms)
            for on_ms, known_ms in zip(
                _shares(_closed(told, runs, until_ms), since_ms, stretches, stretch_ms),
                known,
                strict=True,
            )
        ]
        for relay, told in given.items()
    }


def relays_of(db: Database, room_id: int, since_ms: int, until_ms: int) -> list[str]:
    """Return which relays were told anything in a time."""
    rows = db.execute(
        "select distinct relay from command where room_id = ? and given_ms >= ? and given_ms < ?",
        (room_id, since_ms, until_ms),
    )
    return [relay for (relay,) in rows]


def _closed(
    given: Iterable[tuple[int, int]], runs: Sequence[SpanMs], until_ms: int
) -> Iterator[SpanMs]:
    """Yield when a relay was closed, from what it was told when, 1 for closed."""
    starts = [started_ms for started_ms, _ended in runs]

    def end_of_run(at_ms: int) -> int:
        place = bisect_right(starts, at_ms) - 1
        return max(runs[place][1], at_ms) if place >= 0 else at_ms

    on_ms: int | None = None
    for at_ms, closed in given:
        if on_ms is not None and (not closed or end_of_run(on_ms) < at_ms):
            yield on_ms, min(at_ms, end_of_run(on_ms))
            on_ms = None
        if closed and on_ms is None:
            on_ms = at_ms
    if on_ms is not None:
        yield on_ms, min(until_ms, end_of_run(on_ms))


def _shares(
    spans: Iterable[SpanMs], since_ms: int, stretches: int, stretch_ms: int
) -> Sequence[int]:
    """Return how much of each stretch the spans cover; spans do not overlap."""
    covered: dict[int, int] = defaultdict(int)
    until_ms = since_ms + stretches * stretch_ms
    for started_ms, ended_ms in spans:
        at_ms, end_ms = max(started_ms, since_ms), min(ended_ms, until_ms)
        while at_ms < end_ms:
            place = (at_ms - since_ms) // stretch_ms
            edge_ms = min(end_ms, since_ms + (place + 1) * stretch_ms)
            covered[place] += edge_ms - at_ms
            at_ms = edge_ms
    return [min(covered[place], stretch_ms) for place in range(stretches)]
