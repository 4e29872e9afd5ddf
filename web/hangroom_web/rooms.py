"""One room as it may be shown: its stage, its air, what is wanted of it, its relays. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from hangroom.settings import RoomTable
from hangroom.stage_table import FOLLOWS_HUMIDITY, FOLLOWS_TEMPERATURE
from hangroom.store.live import LiveRoom
from hangroom.terms import AirReading, Stage
from hangroom_web.dates import say_moment
from hangroom_web.relays import RelayNow, relay_now, say_watched
from hangroom_web.sensors import ReadingNow, SensorNow, room_reading, sensors_now
from hangroom_web.site import Site
from hangroom_web.stages import (
    STAGE_NAMES,
    StageNow,
    say_band_c,
    say_band_pct,
    stage_now,
)
from hangroom_web.words import _


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomNow:
    """One room as it may be shown.

    `*_wanted`: None where nothing acts on it, or the stage does not follow it. `door_until_at`:
    until when somebody has announced an open door. `watch`: which relays are only watched.
    """

    name: str
    title: str
    stage: str
    stage_run: StageNow | None
    reading: ReadingNow
    sensors: Sequence[SensorNow]
    temperature_wanted: str | None
    humidity_wanted: str | None
    humidity_setpoint_pct: float | None
    temperature_setpoint_c: float | None
    relays: Sequence[RelayNow]
    door_until_at: datetime | None
    door: str
    watch: str
    asked: str | None


def room_now(
    name: str,
    table: RoomTable,
    live: LiveRoom | None,
    kept: AirReading | None,
    *,
    asked: str | None,
    site: Site,
    alive: bool,
    now: datetime,
    uptime_s: float | None,
) -> RoomNow:
    """Return what may be said of a room.

    `kept`: the newest reading of its record, spoken of where there is no board. `asked`: what
    became of a wish. `uptime_s` is None where the board's clock is not this machine's clock now.
    """
    stage = live.stage if live else Stage(table.stage)
    humidity, temperature = _wanted(stage, table, live, site)
    door_until_at = live.inspection_ends_at if live and alive else None
    relays = [
        relay_now(kind, live.relays.get(kind) if live and alive else None, site=site, now=now)
        for kind in (relay.switches() for relay in table.relay.values())
    ]
    return RoomNow(
        name=name,
        title=table.title,
        stage=STAGE_NAMES[stage],
        stage_run=stage_now(live.stage_run if live and alive else None, site=site, now=now),
        reading=room_reading(
            live, kept, wired=table.sensor, site=site, alive=alive, now=now, uptime_s=uptime_s
        ),
        sensors=sensors_now(live, site=site, alive=alive, now=now, uptime_s=uptime_s),
        temperature_wanted=temperature,
        humidity_wanted=humidity,
        humidity_setpoint_pct=_setpoint_pct(table, live),
        temperature_setpoint_c=_setpoint_c(table, live),
        relays=relays,
        watch=say_watched(relays),
        door_until_at=door_until_at,
        door=_("An open door makes no alarm until {moment}.").format(
            moment=say_moment(door_until_at, site.zone, now=now)
        )
        if door_until_at
        else "",
        asked=asked,
    )


def _wanted(
    stage: Stage, table: RoomTable, live: LiveRoom | None, site: Site
) -> tuple[str | None, str | None]:
    """Return what is wanted of humidity and of temperature, in words."""
    humidity = temperature = None
    setpoint_pct, setpoint_c = _setpoint_pct(table, live), _setpoint_c(table, live)
    if table.humidity is not None and setpoint_pct is not None and stage in FOLLOWS_HUMIDITY:
        band_pct = live.humidity_band_pct if live else None
        humidity = say_band_pct(setpoint_pct, band_pct or table.humidity.band_pct)
    if table.temperature is not None and setpoint_c is not None and stage in FOLLOWS_TEMPERATURE:
        band_c = live.temperature_band_c if live else None
        temperature = say_band_c(setpoint_c, band_c or table.temperature.band_c, site.units)
    return humidity, temperature


def _setpoint_pct(table: RoomTable, live: LiveRoom | None) -> float | None:
    if table.humidity is None:
        return None
    asked_for_pct = live.humidity_setpoint_pct if live else None
    return table.humidity.setpoint_pct if asked_for_pct is None else asked_for_pct


def _setpoint_c(table: RoomTable, live: LiveRoom | None) -> float | None:
    if table.temperature is None:
        return None
    asked_for_c = live.temperature_setpoint_c if live else None
    return table.temperature.setpoint_c if asked_for_c is None else asked_for_c
