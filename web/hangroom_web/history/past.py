"""What was read and done in a room in a time, in the keeper's units, ready to be drawn. Pure."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property

from hangroom.store.air_cells import Cell, SensorOf
from hangroom.store.relay_times import RelayTime
from hangroom.store.room_past import Mark, Wanted
from hangroom.terms import RelayKind
from hangroom.units import Units, temperature_shown
from hangroom_web.day import LEAST_SPAN_C, LEAST_SPAN_PCT
from hangroom_web.history.window import Window
from hangroom_web.words import _

# The journal writes once a minute: what was read since is not missing.
NOT_WRITTEN_YET = timedelta(seconds=120)


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """A time without any reading. `controller_off`: the controller did not run for most of it.

    `before_all`: nothing had ever been recorded by then.
    """

    from_at: datetime
    to_at: datetime
    controller_off: bool
    before_all: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """What was wanted of a quantity for a time, in the unit shown."""

    from_at: datetime
    to_at: datetime
    low: float
    setpoint: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """Temperature or humidity, stretch by stretch, in the unit shown; None where nothing was read.

    `span`: the lowest and highest that its strip shows.
    """

    name: str
    unit: str
    css: str
    low: Sequence[float | None]
    mean: Sequence[float | None]
    high: Sequence[float | None]
    bands: Sequence[Band]
    span: tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class Past:
    """Everything that a picture of a time shows.

    `cells` as the sensor read them, `unread` the times without a reading, `runs` when the
    controller ran, `begins` when it first did. `belongs`: the sensor hangs in the room itself, so
    that what is wanted there concerns it.
    """

    room: str
    title: str
    sensor: SensorOf | None
    belongs: bool
    window: Window
    cells: Sequence[Cell | None]
    unread: Sequence[tuple[datetime, datetime]]
    wanted: Sequence[Wanted]
    relays: Mapping[RelayKind, Sequence[RelayTime]]
    marks: Sequence[Mark]
    runs: Sequence[tuple[datetime, datetime]]
    begins: datetime | None
    units: Units

    def starts(self, place: int) -> datetime:
        """Return when a stretch starts."""
        return self.window.since + place * self.window.stretch

    @cached_property
    def corrected(self) -> bool:
        """Whether the sensor's calibration is in the humidity shown, for any of the time."""
        name = self.sensor.name if self.sensor else ""
        return self.belongs and any(name in wanted.corrections for wanted in self.wanted)

    @cached_property
    def temperature(self) -> Quantity:
        """The temperature."""
        units = self.units

        def shown(value_c: float) -> float:
            return temperature_shown(value_c, units)

        bands = [
            Band(
                from_at=one.from_at,
                to_at=one.to_at,
                low=shown(one.temperature[0] - one.temperature[1]),
                setpoint=shown(one.temperature[0]),
                high=shown(one.temperature[0] + one.temperature[1]),
            )
            for one in self.wanted
            if one.temperature is not None and self.belongs
        ]
        low = [None if cell is None else shown(cell.lowest_c) for cell in self.cells]
        high = [None if cell is None else shown(cell.highest_c) for cell in self.cells]
        return Quantity(
            name=_("Temperature"),
            unit=f"°{units.temperature}",
            css="t",
            low=low,
            mean=[None if cell is None else shown(cell.mean_c) for cell in self.cells],
            high=high,
            bands=bands,
            span=_span(low, high, bands, LEAST_SPAN_C),
        )

    @cached_property
    def humidity(self) -> Quantity:
        """The relative humidity, with the calibration that held at the time."""
        bands = [
            Band(
                from_at=one.from_at,
                to_at=one.to_at,
                low=one.humidity[0] - one.humidity[1],
                setpoint=one.humidity[0],
                high=one.humidity[0] + one.humidity[1],
            )
            for one in self.wanted
            if one.humidity is not None and self.belongs
        ]
        corrections = list(self._corrections()) if self.corrected else []
        low = _corrected([cell and cell.lowest_pct for cell in self.cells], corrections)
        high = _corrected([cell and cell.highest_pct for cell in self.cells], corrections)
        return Quantity(
            name=_("Humidity"),
            unit="%",
            css="h",
            low=low,
            mean=_corrected([cell and cell.mean_pct for cell in self.cells], corrections),
            high=high,
            bands=bands,
            span=_span(low, high, bands, LEAST_SPAN_PCT, most=100.0),
        )

    @property
    def quantities(self) -> tuple[Quantity, Quantity]:
        """Both, in the order they are drawn."""
        return self.temperature, self.humidity

    @cached_property
    def gaps(self) -> Sequence[Gap]:
        """The times without any reading, oldest first; the empty rest up to now is one too."""
        found = []
        for from_at, end in self.unread:
            to_at = min(end, self.window.until)
            if to_at <= from_at:
                continue
            at_end = self.window.live and to_at == self.window.until
            if at_end and to_at - from_at < NOT_WRITTEN_YET + self.window.stretch:
                continue
            ran = sum(
                (max(min(b, to_at) - max(a, from_at), timedelta()) for a, b in self.runs),
                timedelta(),
            )
            found.append(
                Gap(
                    from_at=from_at,
                    to_at=to_at,
                    controller_off=ran < (to_at - from_at) / 2,
                    before_all=self.begins is not None
                    and from_at < self.begins
                    and to_at - self.begins < NOT_WRITTEN_YET,
                )
            )
        return found

    def _corrections(self) -> Iterator[tuple[float, float] | None]:
        """Yield gain and offset for each stretch, None where none held."""
        name = self.sensor.name if self.sensor else ""
        held = [one for one in self.wanted if name in one.corrections and self.belongs]
        at = 0
        for place in range(len(self.cells)):
            start = self.starts(place)
            while at < len(held) and held[at].to_at <= start:
                at += 1
            here = at < len(held) and held[at].from_at < start + self.window.stretch
            yield held[at].corrections[name] if here else None


def _corrected(
    values: Sequence[float | None], corrections: Sequence[tuple[float, float] | None]
) -> list[float | None]:
    if not corrections:
        return list(values)
    return [
        value
        if value is None or correction is None
        else min(100.0, max(0.0, correction[0] * value + correction[1]))
        for value, correction in zip(values, corrections, strict=True)
    ]


def _span(
    low: Sequence[float | None],
    high: Sequence[float | None],
    bands: Sequence[Band],
    least: float,
    *,
    most: float | None = None,
) -> tuple[float, float]:
    values = [value for value in (*low, *high) if value is not None]
    values += [edge for band in bands for edge in (band.low, band.high)]
    if not values:
        return 0.0, least
    lowest, highest = min(values), max(values)
    spare = max(0.0, least - (highest - lowest)) / 2.0
    bottom, top = float((lowest - spare) // 1), float(-(-(highest + spare) // 1))
    return bottom, top if most is None else min(top, most)
