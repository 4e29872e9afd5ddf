"""A sensor's air in stretches of equal length, each with its lowest, mean and highest.

Long stretches come from the roll-ups, what those have not got yet from the readings themselves.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple

from sqlite_utils import Database

from hangroom.store.moments import from_ms, to_ms
from hangroom.store.rollups import MINUTE_S, QUARTER_MS, QUARTER_S, rolled_until_ms

# So many readings are fetched at a time where all of a long time are asked for.
AT_A_TIME = 2000

# How finely times without readings are looked for; over more than two days, in quarters.
FINE_S = 300
_FEW_DAYS_MS = 2 * 86_400_000


class Cell(NamedTuple):
    """What one stretch saw, as it stood on the sensor: degC and %RH, and of how many readings."""

    readings: int
    lowest_c: float
    mean_c: float
    highest_c: float
    lowest_pct: float
    mean_pct: float
    highest_pct: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorOf:
    """A sensor that a room's record knows, by its number in the store."""

    number: int
    room: str
    name: str


_OF_ROLLUPS = """
    select (starts_ms - :since) / :long, sum(readings),
        min(lowest_c), sum(mean_c * readings) / sum(readings), max(highest_c),
        min(lowest_pct), sum(mean_pct * readings) / sum(readings), max(highest_pct)
    from air_rollup
    where sensor_id = :sensor and long_s = :unit and starts_ms >= :since and starts_ms < :until
    group by 1
"""
_OF_READINGS = """
    select (taken_ms - :since) / :long, count(*),
        min(temperature_c), avg(temperature_c), max(temperature_c),
        min(humidity_pct), avg(humidity_pct), max(humidity_pct)
    from reading where sensor_id = :sensor and taken_ms >= :from and taken_ms < :until
    group by 1
"""


def sensors_of(db: Database, room: str) -> list[SensorOf]:
    """Return the sensors of a room, or of the air outside, by name."""
    rows = db.execute(
        "select sensor.id, sensor.name from sensor join room on room.id = room_id"
        " where room.name = ? order by sensor.name",
        (room,),
    )
    return [SensorOf(number=number, room=room, name=name) for number, name in rows]


def air_cells(
    db: Database, sensor: SensorOf, *, since: datetime, stretches: int, stretch_s: int
) -> list[Cell | None]:
    """Return what a sensor read in each stretch from `since` on; None where it read nothing.

    `since` lies on a whole number of stretches after 1970, so that roll-ups fit into them.
    """
    since_ms, long_ms = to_ms(since), stretch_s * 1000
    until_ms = since_ms + stretches * long_ms
    asked = {"sensor": sensor.number, "since": since_ms, "until": until_ms, "long": long_ms}
    cells: list[Cell | None] = [None] * stretches
    unit_s = next((unit for unit in (QUARTER_S, MINUTE_S) if stretch_s % unit == 0), None)
    from_ms_ = since_ms
    if unit_s is not None:
        rolled_ms = rolled_until_ms(db, sensor.number, before_ms=until_ms)
        if rolled_ms is not None and rolled_ms > since_ms:
            from_ms_ = min(rolled_ms, until_ms)
            rows = db.execute(_OF_ROLLUPS, asked | {"unit": unit_s, "until": from_ms_})
            for place, *figures in rows:
                cells[place] = Cell(*figures)
    if from_ms_ < until_ms:
        for place, *figures in db.execute(_OF_READINGS, asked | {"from": from_ms_}):
            cells[place] = _together(cells[place], Cell(*figures))
    return cells


def unread_between(
    db: Database,
    sensor: SensorOf,
    cells: Sequence[Cell | None],
    *,
    since: datetime,
    stretch_s: int,
) -> list[tuple[datetime, datetime]]:
    """Return the times without any reading, oldest first: from the last reading to the next.

    `cells` are those of the time. One that is shorter than a stretch is found too where it leaves
    five minutes without a reading, over more than two days a quarter of an hour.
    """
    since_ms, long_ms = to_ms(since), stretch_s * 1000
    until_ms = since_ms + len(cells) * long_ms
    rolled_ms = rolled_until_ms(db, sensor.number, before_ms=until_ms)
    if until_ms - since_ms > _FEW_DAYS_MS and rolled_ms is not None and rolled_ms > since_ms:
        spans = list(_unread_quarters(db, sensor, since_ms, rolled_ms, until_ms))
    else:
        if stretch_s > FINE_S:
            long_ms = FINE_S * 1000
            cells = air_cells(
                *(db, sensor),
                since=since,
                stretches=(until_ms - since_ms) // long_ms,
                stretch_s=FINE_S,
            )
        spans = [(since_ms + a * long_ms, since_ms + b * long_ms) for a, b in _empty(cells)]
    return [
        (from_ms(max(start_ms, since_ms)), from_ms(min(end_ms, until_ms)))
        for start_ms, end_ms in (_exactly(db, sensor, *span) for span in spans)
    ]


_LAST = "select max(taken_ms) from reading where sensor_id = ? and taken_ms < ? and taken_ms >= ?"
_NEXT = "select min(taken_ms) from reading where sensor_id = ? and taken_ms >= ? and taken_ms < ?"


def _exactly(db: Database, sensor: SensorOf, start_ms: int, end_ms: int) -> tuple[int, int]:
    """Return a time without readings as wide as it is, where the readings are still kept."""
    (last_ms,) = db.execute(_LAST, (sensor.number, start_ms, start_ms - QUARTER_MS)).fetchone()
    (next_ms,) = db.execute(_NEXT, (sensor.number, end_ms, end_ms + QUARTER_MS)).fetchone()
    return (
        start_ms if last_ms is None else last_ms,
        end_ms if next_ms is None else next_ms,
    )


_HOLES = """
    select ends_ms, starts_ms from (
        select starts_ms, lag(starts_ms) over (order by starts_ms) + 900000 as ends_ms
        from air_rollup where sensor_id = ? and long_s = 900 and starts_ms >= ? and starts_ms < ?
    ) where starts_ms > ends_ms
"""


def _unread_quarters(
    db: Database, sensor: SensorOf, since_ms: int, rolled_ms: int, until_ms: int
) -> Iterator[tuple[int, int]]:
    (first_ms,) = db.execute(
        "select min(starts_ms) from air_rollup where sensor_id = ? and long_s = 900"
        " and starts_ms >= ?",
        (sensor.number, since_ms),
    ).fetchone()
    if first_ms > since_ms:
        yield since_ms, first_ms
    yield from db.execute(_HOLES, (sensor.number, since_ms, rolled_ms)).fetchall()
    quarters = air_cells(
        *(db, sensor),
        since=from_ms(rolled_ms),
        stretches=(until_ms - rolled_ms) // QUARTER_MS,
        stretch_s=QUARTER_S,
    )
    for first, end in _empty(quarters):
        yield rolled_ms + first * QUARTER_MS, rolled_ms + end * QUARTER_MS


def _empty(cells: Sequence[Cell | None]) -> Iterator[tuple[int, int]]:
    first: int | None = None
    for place, cell in enumerate(cells):
        if cell is None and first is None:
            first = place
        elif cell is not None and first is not None:
            yield first, place
            first = None
    if first is not None:
        yield first, len(cells)


def readings_between(
    db: Database, sensor: SensorOf, *, since: datetime, until: datetime
) -> Iterator[tuple[datetime, float, float]]:
    """Yield when, degC and %RH of each reading that is still kept, oldest first.

    A few at a time, so that neither memory nor the write-ahead log grows with the time asked for.
    """
    at_ms, until_ms = to_ms(since), to_ms(until)
    while True:
        rows = db.execute(
            "select taken_ms, temperature_c, humidity_pct from reading where sensor_id = ?"
            " and taken_ms >= ? and taken_ms < ? order by taken_ms limit ?",
            (sensor.number, at_ms, until_ms, AT_A_TIME),
        ).fetchall()
        for taken_ms, temperature_c, humidity_pct in rows:
            yield from_ms(taken_ms), temperature_c, humidity_pct
        if len(rows) < AT_A_TIME:
            return
        at_ms = rows[-1][0] + 1


def _together(one: Cell | None, other: Cell) -> Cell:
    if one is None:
        return other
    readings = one.readings + other.readings
    share_ratio = other.readings / readings
    return Cell(
        readings=readings,
        lowest_c=min(one.lowest_c, other.lowest_c),
        mean_c=one.mean_c + share_ratio * (other.mean_c - one.mean_c),
        highest_c=max(one.highest_c, other.highest_c),
        lowest_pct=min(one.lowest_pct, other.lowest_pct),
        mean_pct=one.mean_pct + share_ratio * (other.mean_pct - one.mean_pct),
        highest_pct=max(one.highest_pct, other.highest_pct),
    )
