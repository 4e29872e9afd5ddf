"""Reading back what the daemon noted, in the form pictures need."""

from dataclasses import dataclass
from datetime import datetime

from sqlite_utils import Database

from hangroom.store.moments import from_ms, to_ms
from hangroom.terms import AirReading


@dataclass(frozen=True, slots=True, kw_only=True)
class Bucket:
    """Lowest and highest of one stretch of time; a short excursion is never averaged away."""

    starts_at: datetime
    lowest_c: float
    highest_c: float
    lowest_pct: float
    highest_pct: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AirBetween:
    """Lowest, mean and highest of all readings of a time, degC and %RH."""

    lowest_c: float
    mean_c: float
    highest_c: float
    lowest_pct: float
    mean_pct: float
    highest_pct: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Switching:
    """A relay's position from a moment on."""

    at: datetime
    relay: str
    closed: bool


def air_buckets(
    db: Database, room: str, *, since: datetime, until: datetime, bucket_s: int
) -> list[Bucket]:
    """Return the room's air in buckets of `bucket_s`; a stretch without readings has none."""
    bucket_ms = bucket_s * 1000
    rows = db.execute(
        "select taken_ms / ? * ?, min(temperature_c), max(temperature_c),"
        " min(humidity_pct), max(humidity_pct)"
        " from reading join sensor on sensor.id = sensor_id join room on room.id = room_id"
        " where room.name = ? and taken_ms >= ? and taken_ms < ? group by 1 order by 1",
        (bucket_ms, bucket_ms, room, to_ms(since), to_ms(until)),
    )
    return [
        Bucket(
            starts_at=from_ms(starts_ms),
            lowest_c=lowest_c,
            highest_c=highest_c,
            lowest_pct=lowest_pct,
            highest_pct=highest_pct,
        )
        for starts_ms, lowest_c, highest_c, lowest_pct, highest_pct in rows
    ]


def air_between(db: Database, room: str, *, since: datetime, until: datetime) -> AirBetween | None:
    """Return the room's air of a time as a whole, None where nothing was read."""
    (*air, count) = db.execute(
        "select min(temperature_c), avg(temperature_c), max(temperature_c),"
        " min(humidity_pct), avg(humidity_pct), max(humidity_pct), count(*)"
        " from reading where sensor_id in"
        " (select sensor.id from sensor join room on room.id = room_id where room.name = ?)"
        " and taken_ms >= ? and taken_ms < ?",
        (room, to_ms(since), to_ms(until)),
    ).fetchone()
    if not count:
        return None
    lowest_c, mean_c, highest_c, lowest_pct, mean_pct, highest_pct = air
    return AirBetween(
        lowest_c=lowest_c,
        mean_c=mean_c,
        highest_c=highest_c,
        lowest_pct=lowest_pct,
        mean_pct=mean_pct,
        highest_pct=highest_pct,
    )


def warmest_by_stretch(
    db: Database, room: str, *, since: datetime, until: datetime, stretch_s: int
) -> list[tuple[float, float]]:
    """Return the warmest reading of each stretch of time, so that no excursion is averaged away.

    As seconds from `since` to the stretch's middle, and degC; a stretch without readings has none.
    """
    # Along the primary key, stretch by stretch: to group by a quotient, SQLite sorts every reading.
    rows = db.execute(
        "with recursive stretch (at_ms) as (select :since union all"
        " select at_ms + :long from stretch where at_ms + :long < :until)"
        " select at_ms - :since, (select max(temperature_c) from reading where sensor_id in"
        " (select sensor.id from sensor join room on room.id = room_id where room.name = :room)"
        " and taken_ms >= at_ms and taken_ms < min(at_ms + :long, :until)) from stretch",
        {
            "since": to_ms(since),
            "until": to_ms(until),
            "long": stretch_s * 1000,
            "room": room,
        },
    )
    return [
        (after_ms / 1000 + stretch_s / 2, warmest_c)
        for after_ms, warmest_c in rows
        if warmest_c is not None
    ]


def switchings(db: Database, room: str, *, since: datetime, until: datetime) -> list[Switching]:
    """Return every change of a relay's position in the room, oldest first."""
    rows = db.execute(
        "select given_ms, relay, closed from command join room on room.id = room_id"
        " where room.name = ? and given_ms >= ? and given_ms < ? order by given_ms, command.id",
        (room, to_ms(since), to_ms(until)),
    )
    found: list[Switching] = []
    position: dict[str, bool] = {}
    for given_ms, relay, closed in rows:
        if position.get(relay) != bool(closed):
            position[relay] = bool(closed)
            found.append(Switching(at=from_ms(given_ms), relay=relay, closed=bool(closed)))
    return found


def last_seen_at(db: Database) -> datetime | None:
    """Return when the daemon last wrote to the database, or None where it never did."""
    (last_ms,) = db.execute("select max(last_ms) from run").fetchone()
    return None if last_ms is None else from_ms(last_ms)


def sensors_read(db: Database) -> set[tuple[str, str]]:
    """Return the room and name of every sensor that has ever measured here."""
    rows = db.execute(
        "select room.name, sensor.name from sensor join room on room.id = room_id"
        " where exists (select 1 from reading where sensor_id = sensor.id)"
    )
    return set(rows.fetchall())


def newest_readings(db: Database) -> dict[str, AirReading]:
    """Return the newest stored reading of each room; its uptime may be of an earlier boot."""
    newest: dict[str, AirReading] = {}
    sensors = db.execute("select room.name, sensor.id from sensor join room on room.id = room_id")
    for room, sensor_id in sensors.fetchall():
        row = db.execute(
            "select taken_ms, uptime_ms, temperature_c, humidity_pct from reading"
            " where sensor_id = ? order by taken_ms desc limit 1",
            (sensor_id,),
        ).fetchone()
        if row is None:
            continue
        taken_ms, uptime_ms, temperature_c, humidity_pct = row
        reading = AirReading(
            taken_at=from_ms(taken_ms),
            taken_uptime_s=uptime_ms / 1000,
            temperature_c=temperature_c,
            humidity_pct=humidity_pct,
        )
        if room not in newest or newest[room].taken_at < reading.taken_at:
            newest[room] = reading
    return newest


def daemon_runs(db: Database, *, since: datetime) -> list[tuple[datetime, datetime]]:
    """Return when each run of the daemon started and was last known to live, oldest first."""
    rows = db.execute(
        "select started_ms, last_ms from run where last_ms >= ? order by started_ms, id",
        (to_ms(since),),
    )
    return [(from_ms(started_ms), from_ms(last_ms)) for started_ms, last_ms in rows]
