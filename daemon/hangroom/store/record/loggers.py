"""CSV files of weights and temperatures, from a spreadsheet or a logger. Owns no table.

Comma, semicolon or tab between the columns; decimal point or comma; times in ISO 8601, in the
household's zone where they bear no offset. Every fault is told with its line, all at once, and
nothing is taken from a file that has one.
"""

import csv
import io
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256
from typing import TypeVar
from zoneinfo import ZoneInfo

from hangroom.errors import InputError
from hangroom.product.temperatures import celsius
from hangroom.store.moments import to_ms
from hangroom.store.record.series import TemperaturePoint
from hangroom.store.weigh_ins import NewWeighIn
from hangroom.units import typed_number

ReadT = TypeVar("ReadT")

WEIGHT_COLUMNS = ("tag", "time", "weight_g", "squeeze", "wrinkle_mm", "diameter_mm", "note")
WEIGHT_NEEDED = ("tag", "time", "weight_g")
TEMPERATURE_COLUMNS = ("time", "temperature_c", "temperature_f")


@dataclass(frozen=True, slots=True, kw_only=True)
class FiledWeighIn:
    """A weigh-in and the line of the file it stands on."""

    line: int
    entry: NewWeighIn


def read_weights(text: str, *, zone: ZoneInfo, now: datetime, by: str) -> list[FiledWeighIn]:
    """Return the weigh-ins of a CSV file; all but tag, time and weight_g may be left out of it.

    The key of an entry is made of its tag and time, so that the same line twice is one entry.
    Raises InputError with a line for each fault.
    """
    faults: list[str] = []
    found: list[FiledWeighIn] = []
    lines: dict[str, int] = {}

    def read(cells: Mapping[str, str]) -> NewWeighIn:
        tag, taken_at = cells["tag"].upper(), _moment(cells["time"], zone)
        return NewWeighIn(
            key=_key("weight", tag, to_ms(taken_at)),
            tag=tag,
            taken_at=taken_at,
            weight_g=typed_number(cells["weight_g"], what="weight"),
            squeeze=_whole(cells.get("squeeze", "")),
            wrinkle_mm=_typed_mm(cells.get("wrinkle_mm", ""), "wrinkle depth"),
            diameter_mm=_typed_mm(cells.get("diameter_mm", ""), "diameter"),
            note=cells.get("note", ""),
            entered_at=now,
            entered_by=by,
        )

    for line, entry in _read(text, WEIGHT_COLUMNS, WEIGHT_NEEDED, read, faults):
        if entry.key in lines:
            faults.append(
                f"line {line}: {entry.tag} was weighed at that time on line {lines[entry.key]} "
                "already. Take one of the two out."
            )
        lines[entry.key] = line
        found.append(FiledWeighIn(line=line, entry=entry))
    _refuse(faults)
    return found


def read_temperatures(text: str, *, zone: ZoneInfo) -> tuple[TemperaturePoint, ...]:
    """Return the readings of a CSV file, or of pasted lines, with time and temperature_c or _f.

    Raises InputError with a line for each fault, a reading out of order too.
    """
    faults: list[str] = []
    found: list[tuple[int, TemperaturePoint]] = []

    def read(cells: Mapping[str, str]) -> TemperaturePoint:
        at = _moment(cells["time"], zone)
        if "temperature_f" in cells:
            shown = typed_number(cells["temperature_f"], what="temperature")
            return TemperaturePoint(at=at, temperature_c=celsius(shown))
        shown = typed_number(cells.get("temperature_c", ""), what="temperature")
        return TemperaturePoint(at=at, temperature_c=shown)

    for line, point in _read(text, TEMPERATURE_COLUMNS, ("time",), read, faults):
        if found and point.at <= found[-1][1].at:
            faults.append(
                f"line {line}: it is not later than line {found[-1][0]}. Put the readings in "
                "order; if two probes are mixed, give each a file of its own."
            )
        found.append((line, point))
    _refuse(faults)
    return tuple(point for _, point in found)


def series_key(batch_key: str, *parts: str, points: Sequence[TemperaturePoint]) -> str:
    """Return the key of a series from a file: the same readings for the same batch are one."""
    return _key(batch_key, *parts, *(f"{to_ms(p.at)} {p.temperature_c!r}" for p in points))


def _read(
    text: str,
    columns: Sequence[str],
    needed: Sequence[str],
    read: Callable[[Mapping[str, str]], ReadT],
    faults: list[str],
) -> Iterator[tuple[int, ReadT]]:
    """Yield what `read` makes of each line, with its number; what it refuses goes to `faults`."""
    first = text.partition("\n")[0]
    delimiter = next((mark for mark in (";", "\t") if mark in first), ",")
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        names = [name.strip().lower() for name in next(rows, [])]
        wrong = [f"line 1: there is no column {name!r}." for name in names if name not in columns]
        wrong += [
            f"line 1: the column {name!r} is missing." for name in needed if name not in names
        ]
        wrong += [
            f"line 1: the column {name!r} stands there {names.count(name)} times."
            for name in sorted(set(names))
            if names.count(name) > 1
        ]
        faults += [f"{said} The columns are {', '.join(columns)}." for said in wrong]
        for row in () if wrong else rows:
            cells = [cell.strip() for cell in row]
            if not any(cells):
                continue
            if len(cells) != len(names):
                faults.append(
                    f"line {rows.line_num}: it has {len(cells)} columns, line 1 has {len(names)}. "
                    "A decimal comma needs semicolons between the columns, or quotes."
                )
                continue
            try:
                yield rows.line_num, read(dict(zip(names, cells, strict=True)))
            except InputError as fault:
                faults.append(f"line {rows.line_num}: {fault}")
    except csv.Error as fault:
        faults.append(f"line {rows.line_num}: it is no CSV ({fault}). Save it anew as CSV.")


def _refuse(faults: Sequence[str]) -> None:
    if faults:
        raise InputError("\n".join(faults))


def _moment(text: str, zone: ZoneInfo) -> datetime:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        moment = None
    if moment is None or ":" not in text:
        raise InputError(
            f"Write the time as 2026-11-02 08:20. {text!r} is no time; nothing was stored."
        )
    if moment.utcoffset() is None:
        moment = moment.replace(tzinfo=zone)
        if moment.utcoffset() != moment.replace(fold=1).utcoffset():
            raise InputError(
                f"{text} comes twice, or not at all, in the night the clock changes. Add the "
                "offset from UTC, for example -05:00; nothing was stored."
            )
    return moment.astimezone(UTC)


def _typed_mm(text: str, what: str) -> float | None:
    return typed_number(text, what=what) if text else None


def _whole(text: str) -> int | None:
    if text and not (text.isdecimal() and text.isascii()):
        raise InputError(f"Squeeze is one of 1 to 5, {text!r} is not. Nothing was stored.")
    return int(text) if text else None


def _key(*parts: object) -> str:
    return sha256("\n".join(map(str, parts)).encode()).hexdigest()[:32]
