"""Rolling up what the daemon noted: minutes and quarters of an hour. Owns the two roll-up tables.

Each stretch keeps its lowest, mean and highest, so that no picture made of them loses a short
excursion. A stretch is rolled when it is over, and again where rows came to it late: after a full
disk, or a clock that was put back. One that has lost rows since, because old ones are not kept for
ever, stays as it was rolled.
"""

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from sqlite_utils import Database

from hangroom.store.moments import to_ms
from hangroom.store.relay_times import relay_times, relays_of, runs_between

MINUTE_S, QUARTER_S = 60, 900
QUARTER_MS = QUARTER_S * 1000

# How far back late rows are looked for each time; all the rest is gone through once a night.
LOOK_BACK_MS = 24 * QUARTER_MS

# The journal writes once a minute: by then the last row of a quarter is there.
GRACE = timedelta(seconds=120)

# No more than this is done in one transaction, or the journal would have to wait for it.
_CHUNK_MS = 24 * QUARTER_MS
_EARLIEST_MS = -(2**62)

_MINUTES = """
    insert or replace into air_rollup
    select sensor_id, 60, taken_ms / 60000 * 60000, count(*),
        min(temperature_c), avg(temperature_c), max(temperature_c),
        min(humidity_pct), avg(humidity_pct), max(humidity_pct)
    from reading where sensor_id = ? and taken_ms >= ? and taken_ms < ? group by 3
"""
_QUARTER = """
    insert or replace into air_rollup
    select sensor_id, 900, ?, sum(readings),
        min(lowest_c), sum(mean_c * readings) / sum(readings), max(highest_c),
        min(lowest_pct), sum(mean_pct * readings) / sum(readings), max(highest_pct)
    from air_rollup where sensor_id = ? and long_s = 60 and starts_ms >= ? and starts_ms < ?
"""
_RELAY = "insert or replace into relay_rollup values (?, ?, ?, ?, ?)"


def roll_up(db: Database, *, now: datetime, everything: bool = False) -> int:
    """Roll up the quarters that are over, and return how many of a sensor were rolled.

    Looks back six hours, and over all there is where `everything` is asked for or nothing was
    ever rolled. Done twice, it changes nothing.
    """
    until_ms = to_ms(now - GRACE) // QUARTER_MS * QUARTER_MS
    nothing_yet = db.execute("select 1 from air_rollup limit 1").fetchone() is None
    since_ms = _EARLIEST_MS if everything or nothing_yet else until_ms - LOOK_BACK_MS
    rolled = 0
    rooms = db.execute("select id from room order by id").fetchall()
    for (room_id,) in rooms:
        rows = db.execute("select id from sensor where room_id = ? order by id", (room_id,))
        sensors = [sensor_id for (sensor_id,) in rows.fetchall()]
        # Asked once: to find them means to walk through all that was rolled.
        relays = set(_rolled_relays(db, room_id))
        for start_ms, end_ms in _chunks(db, room_id, sensors, since_ms, until_ms):
            rolled += sum(_roll_sensor(db, each, start_ms, end_ms) for each in sensors)
            # One that was told nothing in this time may have been on all through it.
            relays |= set(relays_of(db, room_id, start_ms, end_ms))
            _roll_relays(db, room_id, sorted(relays), start_ms, end_ms)
    return rolled


def rolled_until_ms(db: Database, sensor_id: int, *, before_ms: int) -> int | None:
    """Return up to when a sensor's quarters are rolled, of those that begin before a moment."""
    (newest_ms,) = db.execute(
        "select max(starts_ms) from air_rollup where sensor_id = ? and long_s = 900"
        " and starts_ms < ?",
        (sensor_id, before_ms),
    ).fetchone()
    return None if newest_ms is None else int(newest_ms) + QUARTER_MS


def _chunks(
    db: Database, room_id: int, sensors: Sequence[int], since_ms: int, until_ms: int
) -> Iterator[tuple[int, int]]:
    """Yield stretches of whole quarters in which a room has rows, oldest first."""
    at_ms = since_ms
    while True:
        firsts = [
            db.execute(
                "select min(taken_ms) from reading where sensor_id = ? and taken_ms >= ?"
                " and taken_ms < ?",
                (sensor_id, at_ms, until_ms),
            ).fetchone()[0]
            for sensor_id in sensors
        ]
        firsts += db.execute(
            "select min(given_ms) from command where room_id = ? and given_ms >= ?"
            " and given_ms < ?",
            (room_id, at_ms, until_ms),
        ).fetchone()
        first_ms = min((ms for ms in firsts if ms is not None), default=None)
        if first_ms is None:
            return
        start_ms = first_ms // QUARTER_MS * QUARTER_MS
        at_ms = min(start_ms + _CHUNK_MS, until_ms)
        yield start_ms, at_ms


def _roll_sensor(db: Database, sensor_id: int, start_ms: int, end_ms: int) -> int:
    there = db.execute(
        "select taken_ms / ?, count(*) from reading"
        " where sensor_id = ? and taken_ms >= ? and taken_ms < ? group by 1",
        (QUARTER_MS, sensor_id, start_ms, end_ms),
    ).fetchall()
    rolled = dict(
        db.execute(
            "select starts_ms / ?, readings from air_rollup"
            " where sensor_id = ? and long_s = 900 and starts_ms >= ? and starts_ms < ?",
            (QUARTER_MS, sensor_id, start_ms, end_ms),
        ).fetchall()
    )
    due = [place * QUARTER_MS for place, readings in there if readings > rolled.get(place, 0)]
    if due:
        with db.atomic():
            for at_ms in due:
                db.execute(_MINUTES, (sensor_id, at_ms, at_ms + QUARTER_MS))
                db.execute(_QUARTER, (at_ms, sensor_id, at_ms, at_ms + QUARTER_MS))
    return len(due)


def _roll_relays(
    db: Database, room_id: int, relays: Sequence[str], start_ms: int, end_ms: int
) -> None:
    times = relay_times(
        db,
        room_id,
        relays,
        since_ms=start_ms,
        stretches=(end_ms - start_ms) // QUARTER_MS,
        stretch_ms=QUARTER_MS,
        runs=runs_between(db, start_ms, end_ms, alive_until=None),
    )
    marks = ", ".join("?" * len(relays))
    kept = {
        (relay, starts_ms): known_ms
        for relay, starts_ms, known_ms in db.execute(
            # By relay too: only so are those of all the years before left aside.
            "select relay, starts_ms, known_ms from relay_rollup where room_id = ?"  # noqa: S608 - marks only
            f" and relay in ({marks}) and starts_ms >= ? and starts_ms < ?",
            (room_id, *relays, start_ms, end_ms),
        )
    }
    fresh = [
        (room_id, relay, start_ms + place * QUARTER_MS, time.on_ms, time.known_ms)
        for relay, stretches in times.items()
        for place, time in enumerate(stretches)
        # Commands are written together with how long the daemon has run by then.
        if time.known_ms > kept.get((relay, start_ms + place * QUARTER_MS), 0)
    ]
    if fresh:
        with db.atomic():
            for row in fresh:
                db.execute(_RELAY, row)


def _rolled_relays(db: Database, room_id: int) -> list[str]:
    rows = db.execute("select distinct relay from relay_rollup where room_id = ?", (room_id,))
    return [relay for (relay,) in rows]
