"""What may be believed of a history's readings, written apart from the rules it watches.

What counts as a usable reading comes from the DHT22's data sheet (-40 to 80 degC, 0 to 99.9 %RH),
not from `control.sensors`.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import nan

from hangroom.terms import AirOutside, AirReading, RoomPlan

BLIND_AFTER_S = 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """One tick of a history: what control was given, and after it ran, what it decided."""

    uptime_s: float
    plan: RoomPlan
    readings: tuple[AirReading | None, ...]
    outside: AirOutside | None = None

    def by_sensor(self) -> dict[str, AirReading | None]:
        return {f"sensor-{n}": reading for n, reading in enumerate(self.readings)}


def usable(tick: Tick) -> list[AirReading]:
    """Return the readings a person with the sensor's data sheet would go by."""
    return [
        r
        for r in tick.readings
        if r is not None
        and -2 <= tick.uptime_s - r.taken_uptime_s <= BLIND_AFTER_S
        and -40 < r.temperature_c < 80
        and 0 < r.humidity_pct < 99.8
        and (r.temperature_c, r.humidity_pct) != (25.5, 25.5)
    ]


def measured(ticks: Sequence[Tick]) -> Iterator[list[AirReading]]:
    """Yield, tick by tick, each sensor's newest usable reading.

    It counts until it expires, though a bad one came after it.
    """
    newest: dict[int, AirReading] = {}
    for tick in ticks:
        known = usable(tick)
        for number, reading in enumerate(tick.readings):
            if reading is not None and reading in known:
                newest[number] = reading
            elif (
                number in newest
                and reading
                and reading.taken_uptime_s <= tick.uptime_s + 2
                and reading.humidity_pct > newest[number].humidity_pct
            ):
                # A bad one of by now, but it may be that wet.
                del newest[number]
        yield usable(replace(tick, readings=tuple(newest.values())))


def beyond_doubt(ticks: Sequence[Tick]) -> Iterator[list[AirReading]]:
    """Yield, tick by tick, the usable readings that nobody with sense would doubt.

    Each lies near the one before it, in an ordinary room, and its sensor never gave three in a row
    that did not, was never near the top of the scale, and did not stand still for an hour.
    """
    newest: dict[int, AirReading] = {}
    steady: set[int] = set()
    shaky: dict[int, int] = {}
    same_since_s: dict[int, float] = {}
    spoilt: set[int] = set()
    for tick in ticks:
        known = usable(tick)
        for number, reading in enumerate(tick.readings):
            before = newest.get(number)
            age_s = tick.uptime_s - reading.taken_uptime_s if reading else nan
            if reading is None or reading is before or not -2 <= age_s <= BLIND_AFTER_S:
                continue
            newest[number] = reading
            if before is None or air_of(before) != air_of(reading):
                same_since_s[number] = reading.taken_uptime_s
            steady.discard(number)
            if before is not None and ordinary(before) and ordinary(reading):
                (c, pct), (then_c, then_pct) = air_of(reading), air_of(before)
                if abs(c - then_c) <= 2 and abs(pct - then_pct) <= 10:
                    steady.add(number)
            shaky[number] = 0 if number in steady else shaky.get(number, 0) + 1
            still_s = reading.taken_uptime_s - same_since_s[number]
            if shaky[number] >= 3 or not reading.humidity_pct < 99.4 or still_s > 3600:
                spoilt.add(number)
        yield [newest[n] for n in sorted(steady - spoilt) if newest[n] in known]


def air_of(reading: AirReading) -> tuple[float, float]:
    return reading.temperature_c, reading.humidity_pct


def ordinary(reading: AirReading) -> bool:
    return -9 < reading.temperature_c < 49 and 2 < reading.humidity_pct < 99.4
