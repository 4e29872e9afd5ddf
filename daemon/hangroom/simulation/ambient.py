"""The air outside a simulated room: constant, or a measured series."""

import csv
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from importlib.resources import files
from itertools import pairwise
from math import exp
from pathlib import Path
from statistics import median
from typing import Protocol, Self

from hangroom.errors import InputError
from hangroom.simulation.parts import OutsideAir
from hangroom.simulation.vapour import saturation_kg_per_m3

# Judgement: across more than this a straight line is invention, not interpolation.
LONGEST_GAP_H = 6.0
# Judgement: buildings smooth the weather over about a day, and soak up what would condense.
BUILDING_LAG_H = 24.0
DAMPEST_INDOORS_PCT = 95.0

COLUMNS = ("hours", "temperature_c", "humidity_pct")


class Ambient(Protocol):
    """Air outside as a function of time."""

    def at(self, elapsed_s: float) -> OutsideAir:
        """The air that long after the start."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ConstantAir:
    """The same air always."""

    temperature_c: float
    humidity_pct: float

    def __post_init__(self) -> None:
        """Raises InputError where no air is like that."""
        wrong = _out_of_range(self.temperature_c, self.humidity_pct)
        if wrong:
            raise InputError("\n".join(wrong))

    def at(self, elapsed_s: float) -> OutsideAir:  # noqa: ARG002  # the protocol's
        """The air, whatever the time."""
        return _outside(self.temperature_c, self.humidity_pct)


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """Rows that are missing between two hours of a series."""

    from_h: float
    to_h: float


class AirSeries:
    """Measured air: temperature and vapour density run straight from row to row.

    Vapour density is interpolated rather than humidity, because it is what leaks in; a humidity
    between two temperatures would invent or lose water. Short gaps are bridged the same way and
    listed in `gaps`; longer ones raise InputError. After its last row the series begins again, one
    usual row spacing later.
    """

    def __init__(
        self,
        *,
        hours: Sequence[float],
        temperatures_c: Sequence[float],
        vapours_kg_per_m3: Sequence[float],
    ) -> None:
        if len(hours) < 2:  # noqa: PLR2004  # one row has no spacing
            raise InputError("the air series has fewer than two rows; give at least two")
        steps_h = [later - earlier for earlier, later in pairwise(hours)]
        if min(steps_h) <= 0.0:
            raise InputError("the hours of the air series do not rise; sort its rows by time")
        spacing_h = median(steps_h)
        self.gaps = tuple(
            Gap(from_h=earlier, to_h=later)
            for earlier, later in pairwise(hours)
            if later - earlier > 1.5 * spacing_h
        )
        too_long = [gap for gap in self.gaps if gap.to_h - gap.from_h > LONGEST_GAP_H + spacing_h]
        if too_long:
            raise InputError(
                "\n".join(
                    f"the air series has no rows from hour {gap.from_h:g} to {gap.to_h:g}; gaps up "
                    f"to {LONGEST_GAP_H:g} h are bridged, longer ones must be filled or cut out"
                    for gap in too_long
                )
            )
        self._hours = tuple(hours)
        self._temperatures_c = tuple(temperatures_c)
        self._vapours_kg_per_m3 = tuple(vapours_kg_per_m3)
        self._period_h = hours[-1] - hours[0] + spacing_h

    @classmethod
    def from_humidity(cls, rows: Iterable[tuple[float, float, float]]) -> Self:
        """Build from (hours, degC, %RH)."""
        rows = list(rows)
        return cls(
            hours=[hours for hours, _, _ in rows],
            temperatures_c=[temperature_c for _, temperature_c, _ in rows],
            vapours_kg_per_m3=[
                humidity_pct / 100.0 * saturation_kg_per_m3(temperature_c)
                for _, temperature_c, humidity_pct in rows
            ],
        )

    @property
    def period_s(self) -> float:
        """After this long it begins again."""
        return self._period_h * 3600.0

    def at(self, elapsed_s: float) -> OutsideAir:
        """The air that long after the first row."""
        hours = self._hours
        at_h = hours[0] + (elapsed_s / 3600.0) % self._period_h
        last = bisect_right(hours, at_h) - 1
        following = last + 1
        if following < len(hours):
            following_h = hours[following]
        else:
            following, following_h = 0, hours[0] + self._period_h
        share = (at_h - hours[last]) / (following_h - hours[last])
        temperatures_c, vapours = self._temperatures_c, self._vapours_kg_per_m3
        return OutsideAir(
            temperature_c=temperatures_c[last]
            + share * (temperatures_c[following] - temperatures_c[last]),
            vapour_kg_per_m3=vapours[last] + share * (vapours[following] - vapours[last]),
        )

    def indoors(self, *, floor_c: float = 16.0) -> "AirSeries":
        """The same air brought into a building.

        Temperature follows the weather with a lag of 24 h and is held at or above `floor_c`.
        Vapour density is kept: heating air takes no water out of it and brings none in (the three
        per mille per degree by which it expands are left out). Only where the cooler building
        would be damper than 95 %RH is the surplus left behind.
        """
        smoothed_c = self._temperatures_c[0]
        before_h = self._hours[0]
        temperatures_c, vapours = [], []
        for hour, outdoors_c, vapour in zip(
            self._hours, self._temperatures_c, self._vapours_kg_per_m3, strict=True
        ):
            smoothed_c += (1.0 - exp((before_h - hour) / BUILDING_LAG_H)) * (
                outdoors_c - smoothed_c
            )
            before_h = hour
            inside_c = max(floor_c, smoothed_c)
            temperatures_c.append(inside_c)
            vapours.append(
                min(vapour, DAMPEST_INDOORS_PCT / 100.0 * saturation_kg_per_m3(inside_c))
            )
        return AirSeries(
            hours=self._hours, temperatures_c=temperatures_c, vapours_kg_per_m3=vapours
        )


def load_series(path: Path) -> AirSeries:
    """Read a CSV with the columns hours, temperature_c, humidity_pct.

    An empty cell counts as a missing row. Raises InputError naming every line that cannot be used.
    """
    try:
        with path.open(newline="", encoding="utf-8") as file:
            return AirSeries.from_humidity(_rows(csv.DictReader(file), path.name))
    except OSError as error:
        raise InputError(f"{path}: cannot be read ({error.strerror}); check the name") from error
    except UnicodeDecodeError as error:
        raise InputError(f"{path}: is not plain text; save it as CSV in UTF-8") from error


def april_weather() -> AirSeries:
    """Measured outdoor air of April 2013 (see weather_april.md); hour 0 is its first row."""
    text = files("hangroom.simulation").joinpath("weather_april.csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(text.splitlines()))
    first = datetime.fromisoformat(rows[0]["time_utc"])
    return AirSeries.from_humidity(
        (
            (datetime.fromisoformat(row["time_utc"]) - first).total_seconds() / 3600.0,
            float(row["temperature_c"]),
            float(row["humidity_pct"]),
        )
        for row in rows
    )


def _rows(reader: "csv.DictReader[str]", name: str) -> list[tuple[float, float, float]]:
    missing = [column for column in COLUMNS if column not in (reader.fieldnames or ())]
    if missing:
        raise InputError(
            f"{name}: has no column {', '.join(missing)}; the first line must name "
            f"{', '.join(COLUMNS)}"
        )
    rows: list[tuple[float, float, float]] = []
    wrong: list[str] = []
    for row in reader:
        cells = [(row[column] or "").strip() for column in COLUMNS]
        where = f"{name} line {reader.line_num}"
        if not all(cells):
            continue
        try:
            hours, temperature_c, humidity_pct = (float(cell) for cell in cells)
        except ValueError:
            wrong.append(f"{where}: {', '.join(cells)} are not all numbers; mend or empty the cell")
            continue
        wrong += [f"{where}: {line}" for line in _out_of_range(temperature_c, humidity_pct)]
        if rows and not hours > rows[-1][0]:
            wrong.append(f"{where}: hour {hours:g} does not follow {rows[-1][0]:g}; sort the rows")
        rows.append((hours, temperature_c, humidity_pct))
    if wrong:
        raise InputError("\n".join(wrong))
    return rows


def _out_of_range(temperature_c: float, humidity_pct: float) -> list[str]:
    """What cannot be air; written so that nan is refused too."""
    wrong = []
    if not -40.0 <= temperature_c <= 50.0:  # noqa: PLR2004  # range of the saturation formula
        wrong.append(f"temperature_c is {temperature_c:g}; give -40 to 50")
    if not 0.0 <= humidity_pct <= 100.0:  # noqa: PLR2004  # what relative humidity can be
        wrong.append(f"humidity_pct is {humidity_pct:g}; give 0 to 100")
    return wrong


def _outside(temperature_c: float, humidity_pct: float) -> OutsideAir:
    return OutsideAir(
        temperature_c=temperature_c,
        vapour_kg_per_m3=humidity_pct / 100.0 * saturation_kg_per_m3(temperature_c),
    )
