"""All that was measured and switched, and all alarms, row by row for a spreadsheet. Owns no table.

Each name ends in its unit, SI and %RH; times are ISO 8601 in UTC with their offset. Rows come
sensor by sensor, each oldest first, so that nothing has to be sorted or held.
"""

from collections.abc import Callable, Iterator, Mapping
from datetime import UTC, datetime

from sqlite_utils import Database

from hangroom.alarm_table.table import TABLE
from hangroom.alarm_table.titles import TITLES
from hangroom.store.alarms import events_since
from hangroom.store.moments import from_ms

Rows = Iterator[tuple[object, ...]]

_EVER = datetime(1970, 1, 1, tzinfo=UTC)

READING_HEADS = ("taken_at", "room", "sensor", "temperature_c", "humidity_pct")
MEAN_HEADS = (
    *("starts_at", "long_s", "room", "sensor", "readings"),
    *("lowest_c", "mean_c", "highest_c", "lowest_pct", "mean_pct", "highest_pct"),
)
RELAY_HEADS = ("starts_at", "long_s", "room", "relay", "on_s", "known_s")
ALARM_HEADS = (
    *("at", "scope", "alarm", "title", "priority", "event", "suppression", "occurrences"),
    *("by", "reason", "figures_si"),
)

# How long the stretches of relays are, s; those of sensors say it themselves.
QUARTER_S = 900


def readings(db: Database) -> Rows:
    """Yield every reading that is still kept, as it stood on its sensor."""
    rows = db.execute(
        "select taken_ms, room.name, sensor.name, temperature_c, humidity_pct from sensor"
        " join room on room.id = room_id join reading on sensor_id = sensor.id"
        " order by sensor.id, taken_ms"
    )
    for taken_ms, *rest in rows:
        yield _said(taken_ms), *rest


def means(db: Database) -> Rows:
    """Yield every minute and quarter of an hour of each sensor that was rolled up."""
    rows = db.execute(
        "select starts_ms, long_s, room.name, sensor.name, readings, lowest_c, mean_c, highest_c,"
        " lowest_pct, mean_pct, highest_pct from sensor join room on room.id = room_id"
        " join air_rollup on sensor_id = sensor.id order by sensor.id, long_s, starts_ms"
    )
    for starts_ms, *rest in rows:
        yield _said(starts_ms), *rest


def relays(db: Database) -> Rows:
    """Yield how long each relay was on, and for how long the daemon knew, quarter by quarter."""
    rows = db.execute(
        "select starts_ms, room.name, relay, on_ms, known_ms from relay_rollup"
        " join room on room.id = room_id order by room_id, relay, starts_ms"
    )
    for starts_ms, room, relay, on_ms, known_ms in rows:
        yield _said(starts_ms), QUARTER_S, room, relay, on_ms / 1000, known_ms / 1000


def alarms(db: Database) -> Rows:
    """Yield every line of the alarm log, in the order it was written."""
    for one in events_since(db, _EVER):
        event = one.event
        yield (
            event.at.isoformat(timespec="milliseconds"),
            one.scope,
            str(event.alarm),
            TITLES[event.alarm],
            str(TABLE[event.alarm].priority),
            str(event.event),
            str(event.suppression),
            event.occurrences,
            event.by,
            event.reason,
            "; ".join(f"{name} {value:g}" for name, value in event.figures.items()),
        )


AIR: Mapping[str, tuple[tuple[str, ...], Callable[[Database], Rows]]] = {
    "readings.csv": (READING_HEADS, readings),
    "means.csv": (MEAN_HEADS, means),
    "relays.csv": (RELAY_HEADS, relays),
}


def _said(ms: int) -> str:
    return from_ms(ms).isoformat(timespec="milliseconds")
