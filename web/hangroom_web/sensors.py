"""A room's sensors, each with what it is worth, and the air that control believes. Pure."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from hangroom.settings import SensorTable
from hangroom.store.live import LiveRoom, LiveSensor
from hangroom.terms import AirReading, Calibration
from hangroom.units import Units, say_duration, say_temperature
from hangroom_web.dates import say_ago, say_moment
from hangroom_web.freshness import Freshness, reading_freshness
from hangroom_web.relays import say_because
from hangroom_web.site import Site
from hangroom_web.words import _

# A sensor that has just got its power is read a second time before it is right, s: two reads of a
# DHT22 lie at least 2 s apart (its data sheet).
SLOW_START_S = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingNow:
    """The air of a room as control believes it, and how far it may be shown.

    `said` is the sentence below it; `reading` bears the moment of the newest sensor behind it.
    """

    freshness: Freshness
    reading: AirReading | None
    age_s: float | None
    said: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorNow:
    """One sensor: what it reads, how old that is, and whether control goes by it.

    `shown` is '' where its values are old.
    """

    name: str
    freshness: Freshness
    reading: AirReading | None
    age_s: float | None
    shown: str
    said: str
    faults: Mapping[str, int]
    calibration: Calibration | None


def room_reading(
    live: LiveRoom | None,
    kept: AirReading | None,
    *,
    wired: Mapping[str, SensorTable],
    site: Site,
    alive: bool,
    now: datetime,
    uptime_s: float | None,
) -> ReadingNow:
    """Return the air of a room. `kept`: the newest reading of its record, where there is no board.

    `wired`: its sensors as the settings have them, to say where one belongs that was never read.
    `uptime_s` is None where the board's monotonic clock is not this machine's clock now.
    """
    sensor = _newest(live)
    if live is None or sensor is None or sensor.reading is None:
        if kept is None:
            said = say_no_reading(wired)
            return ReadingNow(freshness=Freshness.NONE, reading=None, age_s=None, said=said)
        return _stale(kept, (now - kept.taken_at).total_seconds(), site=site, now=now)
    reading = _believed(live, sensor.reading)
    if uptime_s is None:
        return _stale(reading, (now - reading.taken_at).total_seconds(), site=site, now=now)
    age_s = uptime_s - reading.taken_uptime_s
    freshness = reading_freshness(sensor, alive=alive, uptime_s=uptime_s)
    if freshness.shows_digits and (live.air is None or live.distrusted is not None):
        freshness = Freshness.DOUBTED
    match freshness:
        case Freshness.STALE | Freshness.NONE:
            return _stale(reading, age_s, site=site, now=now)
        case Freshness.DOUBTED:
            why = live.distrusted or sensor.distrusted
            said = (
                _("Not trusted: {why}. Check the sensor and its wire.").format(
                    why=say_because(why, site.units)
                )
                if why
                else _("The controller has not judged its sensors yet.")
            )
        case _:
            said = _("Read {ago}").format(ago=say_ago(age_s))
    return ReadingNow(freshness=freshness, reading=reading, age_s=age_s, said=said)


def say_no_reading(wired: Mapping[str, SensorTable]) -> str:
    """Return that nothing was measured yet, and which wire belongs on which pin."""
    wait_s = max(one.read_every_s for one in wired.values()) + SLOW_START_S
    return _(
        "No reading yet. The first one comes within {wait} of wiring the sensor. {wired}"
    ).format(wait=say_duration(wait_s), wired=say_wired(wired))


def say_wired(wired: Mapping[str, SensorTable]) -> str:
    """Return where each sensor's lines belong."""
    places = [
        _("{name} has its lines on {place}").format(name=name, place=say_place(one))
        for name, one in wired.items()
    ]
    return _("In the settings {places}.").format(places=_(", ").join(places))


def say_place(wired: SensorTable) -> str:
    """Return for example 'pin 4 (BCM)' or 'I2C bus 1 at address 0x44'."""
    match wired.place_numbers():
        case (bus, address):
            return _("I2C bus {bus} at address {address:#04x}").format(bus=bus, address=address)
        case _pin:
            return _("pin {pin} (BCM)").format(pin=wired.pin)


def sensors_now(
    live: LiveRoom | None, *, site: Site, alive: bool, now: datetime, uptime_s: float | None
) -> list[SensorNow]:
    """Return every sensor of a room, by name."""
    return [
        _sensor(name, sensor, site=site, alive=alive, now=now, uptime_s=uptime_s)
        for name, sensor in sorted((live.sensors if live else {}).items())
    ]


def last_good(reading: AirReading, *, units: Units, moment: str) -> str:
    """Return for example 'Last good reading 13.1 °C and 76.0 % at 09:41'."""
    return _("Last good reading {temperature} and {humidity:.1f} % at {moment}").format(
        temperature=say_temperature(reading.temperature_c, units),
        humidity=reading.humidity_pct,
        moment=moment,
    )


def _newest(live: LiveRoom | None) -> LiveSensor | None:
    """Return the sensor with the newest reading, of those that control goes by if there are any."""
    read = [sensor for sensor in live.sensors.values() if sensor.reading] if live else []
    usable = [sensor for sensor in read if sensor.distrusted is None]
    return max(
        usable or read,
        key=lambda sensor: sensor.reading.taken_uptime_s if sensor.reading else 0.0,
        default=None,
    )


def _believed(live: LiveRoom, newest: AirReading) -> AirReading:
    """Return the air that control believes, taken when the newest reading behind it was."""
    if live.air is None:
        return newest
    return AirReading(
        taken_at=newest.taken_at,
        taken_uptime_s=newest.taken_uptime_s,
        temperature_c=live.air.temperature_c,
        humidity_pct=live.air.humidity_pct,
    )


def _stale(reading: AirReading, age_s: float, *, site: Site, now: datetime) -> ReadingNow:
    said = last_good(
        reading, units=site.units, moment=say_moment(reading.taken_at, site.zone, now=now)
    )
    return ReadingNow(
        freshness=Freshness.STALE,
        reading=reading,
        age_s=age_s,
        said=f"{said}, {say_ago(age_s)}.",
    )


def _sensor(
    name: str,
    sensor: LiveSensor,
    *,
    site: Site,
    alive: bool,
    now: datetime,
    uptime_s: float | None,
) -> SensorNow:
    reading = sensor.reading
    freshness = (
        Freshness.STALE
        if uptime_s is None
        else reading_freshness(sensor, alive=alive, uptime_s=uptime_s)
    )
    shown = ""
    if reading is not None and freshness not in {Freshness.STALE, Freshness.NONE}:
        shown = _("{temperature}, {humidity:.1f} %").format(
            temperature=say_temperature(reading.temperature_c, site.units),
            humidity=reading.humidity_pct,
        )
    return SensorNow(
        name=name,
        freshness=freshness,
        reading=reading,
        age_s=None if reading is None or uptime_s is None else uptime_s - reading.taken_uptime_s,
        shown=shown,
        said=_worth(sensor, freshness, site=site, now=now),
        faults=sensor.faults,
        calibration=sensor.calibration,
    )


def _worth(sensor: LiveSensor, freshness: Freshness, *, site: Site, now: datetime) -> str:
    reading = sensor.reading
    match freshness:
        case Freshness.NONE:
            return _("no reading yet")
        case Freshness.STALE if reading is not None:
            moment = say_moment(reading.taken_at, site.zone, now=now)
            return _("silent since {moment}").format(moment=moment)
        case Freshness.DOUBTED if sensor.distrusted is not None:
            why = say_because(sensor.distrusted, site.units)
            return _("not trusted: {why}").format(why=why)
    if sensor.calibration is None or reading is None:
        return _("trusted")
    counts_pct = (
        sensor.calibration.gain_ratio * reading.humidity_pct + sensor.calibration.offset_pct
    )
    return _("trusted; with its calibration {pct:.1f} %").format(pct=counts_pct)
