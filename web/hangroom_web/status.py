"""What can be said of the rooms at this moment: live where it is live, plainly unknown elsewhere.

Pure: settings, board and times in, frozen views out. The Room page and the JSON API are both made
of these, so that neither can show what the other would not.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from hangroom.reasons import say
from hangroom.settings import RoomTable
from hangroom.store.live import LiveBoard, LiveRelay, LiveRoom, LiveSensor
from hangroom.terms import AirReading, Because, RelayKind, Stage
from hangroom.units import Units, say_duration, say_temperature, temperature_shown
from hangroom_web.dates import say_ago, say_moment
from hangroom_web.freshness import Freshness, ask_again_s, board_age_s, is_alive, reading_freshness
from hangroom_web.site import Site
from hangroom_web.words import _

# More rows than this wait in the daemon's memory only when the disk takes none: it writes once a
# minute, and two rooms make fewer than a hundred rows in that time.
ROWS_OF_TROUBLE = 400

RELAY_NAMES = {
    RelayKind.HUMIDIFIER: _("Humidifier"),
    RelayKind.EXHAUST_FAN: _("Exhaust fan"),
    RelayKind.CIRCULATION_FAN: _("Circulation fan"),
    RelayKind.COOLING: _("Cooling"),
    RelayKind.HEATER: _("Heater"),
}

STAGE_NAMES = {
    Stage.CASING_DRY: _("casing dry"),
    Stage.HANG: _("hang"),
    Stage.REST: _("rest"),
    Stage.HOLD: _("hold"),
    Stage.EMPTY: _("empty"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingNow:
    """A room's newest reading and how far it may be shown; `said` is the sentence below it."""

    freshness: Freshness
    reading: AirReading | None
    age_s: float | None
    said: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RelayNow:
    """One relay: `closed` is None where nobody knows; `said` is the sentence for the page."""

    kind: RelayKind
    closed: bool | None
    since_at: datetime | None
    because: str | None
    said: str
    unknown: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomNow:
    """One room as it may be shown."""

    name: str
    title: str
    stage: str
    reading: ReadingNow
    temperature_wanted: str | None
    humidity_wanted: str | None
    humidity_setpoint_pct: float | None
    relays: Sequence[RelayNow]
    asked: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Status:
    """All rooms, whether the daemon lives, and what is wrong, worst first."""

    at: datetime
    alive: bool
    board_age_s: float | None
    ask_again_s: float
    rooms: Sequence[RoomNow]
    troubles: Sequence[str]


def status_of(
    site: Site,
    board: LiveBoard | None,
    *,
    last_seen_at: datetime | None = None,
    kept: Mapping[str, AirReading] | None = None,
    asked: Mapping[str, str] | None = None,
    records_fault: str | None = None,
) -> Status:
    """Return what may be shown now.

    `kept`: the newest reading of each room in the database, spoken of where there is no board.
    `last_seen_at`: when the daemon last wrote to the database. `asked`: what became of the newest
    wish for each room. `records_fault`: why the database cannot be used.
    """
    at, uptime_s = site.now(), site.clock.uptime_s()
    alive = is_alive(board, boot_id=site.boot_id, uptime_s=uptime_s)
    rooms = [
        _room(
            name,
            table,
            board.rooms.get(name) if board else None,
            (kept or {}).get(name),
            asked=(asked or {}).get(name),
            site=site,
            alive=alive,
            at=at,
            uptime_s=uptime_s if board and board.boot_id == site.boot_id else None,
        )
        for name, table in site.settings.room.items()
    ]
    seen_at = board.written_at if board else last_seen_at
    troubles = [
        *_daemon_troubles(site, alive=alive, seen_at=seen_at, at=at),
        *(_reading_troubles(rooms) if alive else ()),
        *([records_fault] if records_fault else ()),
        *(_writing_troubles(board) if alive and board else ()),
    ]
    return Status(
        at=at,
        alive=alive,
        board_age_s=board_age_s(board, boot_id=site.boot_id, uptime_s=uptime_s),
        ask_again_s=ask_again_s(board, boot_id=site.boot_id, uptime_s=uptime_s),
        rooms=rooms,
        troubles=troubles,
    )


def _room(
    name: str,
    table: RoomTable,
    live: LiveRoom | None,
    kept: AirReading | None,
    *,
    asked: str | None,
    site: Site,
    alive: bool,
    at: datetime,
    uptime_s: float | None,
) -> RoomNow:
    setpoint_pct, temperature = None, table.temperature
    wanted_c = (temperature.setpoint_c, temperature.band_c) if temperature else None
    wanted_pct = None
    if table.humidity is not None:
        setpoint_pct = table.humidity.setpoint_pct
        if live is not None and live.humidity_setpoint_pct is not None:
            setpoint_pct = live.humidity_setpoint_pct
        wanted_pct = (setpoint_pct, table.humidity.band_pct)
    return RoomNow(
        name=name,
        title=table.title,
        stage=STAGE_NAMES[live.stage if live else Stage(table.stage)],
        reading=_reading(live, kept, site=site, alive=alive, at=at, uptime_s=uptime_s),
        temperature_wanted=_wanted_temperature(wanted_c, site.units),
        humidity_wanted=_("{0:g} ± {1:g} %").format(*wanted_pct) if wanted_pct else None,
        humidity_setpoint_pct=setpoint_pct,
        relays=[
            _relay(kind, live.relays.get(kind) if live and alive else None, site=site, at=at)
            for kind in (relay.switches() for relay in table.relay.values())
        ],
        asked=asked,
    )


def _wanted_temperature(wanted_c: tuple[float, float] | None, units: Units) -> str | None:
    if wanted_c is None:
        return None
    setpoint_c, band_c = wanted_c
    step = temperature_shown(1.0, units) - temperature_shown(0.0, units)
    return _("{setpoint:g} ± {band:g} °{unit}").format(
        setpoint=round(temperature_shown(setpoint_c, units), 1),
        band=round(band_c * step, 1),
        unit=units.temperature,
    )


def _reading(
    live: LiveRoom | None,
    kept: AirReading | None,
    *,
    site: Site,
    alive: bool,
    at: datetime,
    uptime_s: float | None,
) -> ReadingNow:
    sensor = _newest_sensor(live)
    if live is None or sensor is None or sensor.reading is None:
        if kept is None:
            said = _("No reading yet. The first comes within a minute of wiring the sensor.")
            return ReadingNow(freshness=Freshness.NONE, reading=None, age_s=None, said=said)
        age_s = (at - kept.taken_at).total_seconds()
        return _stale(kept, age_s, site=site, at=at)
    reading = sensor.reading
    if uptime_s is None:
        return _stale(reading, (at - reading.taken_at).total_seconds(), site=site, at=at)
    age_s = uptime_s - reading.taken_uptime_s
    freshness = reading_freshness(sensor, live, alive=alive, uptime_s=uptime_s)
    match freshness:
        case Freshness.STALE | Freshness.NONE:
            return _stale(reading, age_s, site=site, at=at)
        case Freshness.DOUBTED:
            said = _("The sensor gives values that cannot be. It may be wet, or its wire loose.")
        case _:
            said = _("Read {ago}").format(ago=say_ago(age_s))
    return ReadingNow(freshness=freshness, reading=reading, age_s=age_s, said=said)


def _newest_sensor(live: LiveRoom | None) -> LiveSensor | None:
    with_reading = [s for s in live.sensors.values() if s.reading] if live else []
    return max(
        with_reading, key=lambda s: s.reading.taken_uptime_s if s.reading else 0.0, default=None
    )


def _stale(reading: AirReading, age_s: float, *, site: Site, at: datetime) -> ReadingNow:
    said = last_good(
        reading, units=site.units, moment=say_moment(reading.taken_at, site.zone, now=at)
    )
    return ReadingNow(
        freshness=Freshness.STALE,
        reading=reading,
        age_s=age_s,
        said=f"{said}, {say_ago(age_s)}.",
    )


def last_good(reading: AirReading, *, units: Units, moment: str) -> str:
    """Return for example 'Last good reading 13.1 °C and 76.0 % at 09:41'."""
    return _("Last good reading {temperature} and {humidity:.1f} % at {moment}").format(
        temperature=say_temperature(reading.temperature_c, units),
        humidity=reading.humidity_pct,
        moment=moment,
    )


def _relay(kind: RelayKind, live: LiveRelay | None, *, site: Site, at: datetime) -> RelayNow:
    name = RELAY_NAMES[kind]
    unknown = _("{relay}: unknown").format(relay=name)
    if live is None:
        return RelayNow(
            kind=kind, closed=None, since_at=None, because=None, said=unknown, unknown=unknown
        )
    because = _because(live.because, site.units)
    said = _("{relay} {position} since {moment}: {because}.").format(
        relay=name,
        position=_("on") if live.closed else _("off"),
        moment=say_moment(live.since_at, site.zone, now=at),
        because=because,
    )
    return RelayNow(
        kind=kind,
        closed=live.closed,
        since_at=live.since_at,
        because=because,
        said=said,
        unknown=unknown,
    )


def _because(because: Because, units: Units) -> str:
    try:
        return say(because, units)
    except KeyError:
        # A daemon newer than this page may know reasons that the page does not.
        return because.code


def _daemon_troubles(
    site: Site, *, alive: bool, seen_at: datetime | None, at: datetime
) -> Iterator[str]:
    if alive:
        return
    if seen_at is None:
        yield _(
            "The controller program has never reported here. No room is being run. "
            "Start `hangroom daemon`, then look here again."
        )
        return
    yield _(
        "The controller program has not reported since {moment} ({silence}). "
        "Relays may be in any state: look at the rooms, then start it again."
    ).format(
        moment=say_moment(seen_at, site.zone, now=at),
        silence=say_duration((at - seen_at).total_seconds()),
    )


def _reading_troubles(rooms: Sequence[RoomNow]) -> Iterator[str]:
    for room in rooms:
        match room.reading.freshness:
            case Freshness.STALE:
                yield _(
                    "{room}: no good reading for {age}. Its relays go to their resting positions. "
                    "Check the sensor and its wire."
                ).format(room=room.title, age=say_duration(room.reading.age_s or 0.0))
            case Freshness.NONE | Freshness.DOUBTED:
                yield f"{room.title}: {room.reading.said}"
            case _:
                pass


def _writing_troubles(board: LiveBoard) -> Iterator[str]:
    if board.unwritten_rows > ROWS_OF_TROUBLE:
        yield _(
            "The controller cannot write its records: {rows} rows wait in its memory. "
            "Control goes on. Check that the disk is there and not full."
        ).format(rows=board.unwritten_rows)
