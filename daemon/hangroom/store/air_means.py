"""A room's air in stretches of equal length, sensor by sensor, as a forecast takes it."""

from dataclasses import dataclass
from datetime import datetime

from sqlite_utils import Database

from hangroom.store.moments import from_ms, to_ms


@dataclass(frozen=True, slots=True, kw_only=True)
class AirMean:
    """What one sensor read on the mean of one stretch of time, as it stood on the sensor."""

    starts_at: datetime
    sensor: str
    temperature_c: float
    humidity_pct: float


def air_means(
    db: Database,
    room: str,
    *,
    since: datetime,
    until: datetime,
    stretch_s: int,
    within_pct: tuple[float, float],
    within_c: tuple[float, float],
) -> list[AirMean]:
    """Return each sensor's mean of each stretch from `since` on, in order of time.

    Readings at or beyond the ends of `within_*` are none: a sensor that is wet stands at its top.
    A stretch without readings has no row.
    """
    # Along the primary key, stretch by stretch, as `warmest_by_stretch` does and for its reason.
    rows = db.execute(
        _MEANS,
        {
            "since": to_ms(since),
            "until": to_ms(until),
            "long": stretch_s * 1000,
            "room": room,
            "low_pct": within_pct[0],
            "high_pct": within_pct[1],
            "low_c": within_c[0],
            "high_c": within_c[1],
        },
    )
    return [
        AirMean(
            starts_at=from_ms(at_ms),
            sensor=sensor,
            temperature_c=temperature_c,
            humidity_pct=humidity_pct,
        )
        for at_ms, sensor, temperature_c, humidity_pct in rows
        if temperature_c is not None and humidity_pct is not None
    ]


_READINGS = """
    from reading where sensor_id = sensors.id and taken_ms >= at_ms
    and taken_ms < min(at_ms + :long, :until)
    and humidity_pct > :low_pct and humidity_pct < :high_pct
    and temperature_c > :low_c and temperature_c < :high_c
"""

_MEANS = f"""
    with recursive stretch (at_ms) as (
        select :since union all select at_ms + :long from stretch where at_ms + :long < :until
    ),
    sensors (id, name) as (
        select sensor.id, sensor.name from sensor join room on room.id = room_id
        where room.name = :room
    )
    select at_ms, name, (select avg(temperature_c) {_READINGS}),
        (select avg(humidity_pct) {_READINGS})
    from stretch cross join sensors order by at_ms, id
"""  # noqa: S608 - both parts are this file's own text
