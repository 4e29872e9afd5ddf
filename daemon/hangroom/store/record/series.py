"""Internal temperatures over time, as typed, pasted or logged. Owns series and series_point.

A series belongs to a batch or a group, to the cook or the chill, and says where the probe sat. Its
points are in order of time or it is refused: two probes mixed, or a slip, is for the keeper to see.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum
from typing import ClassVar

from sqlite_utils import Database

from hangroom.errors import InputError
from hangroom.product.temperatures import Point, in_order
from hangroom.store.checks import check_moment, check_number, check_text
from hangroom.store.database import durably
from hangroom.store.moments import from_ms, to_ms
from hangroom.store.record.entries import Entry, entries_of, insert_entry

# Inside moist meat nothing is hotter than boiling water; a figure above is often degF.
INTERNAL_C = (-40.0, 105.0)
MOST_POINTS = 200_000


class SeriesKind(StrEnum):
    """Which part of the work a series is of."""

    COOK = "cook"
    CHILL = "chill"


class Origin(StrEnum):
    """How the points came in."""

    TYPED = "typed"
    PASTED = "pasted"
    CSV = "csv"


@dataclass(frozen=True, slots=True, kw_only=True)
class TemperaturePoint:
    """One reading inside a stick, degC; raises InputError for what cannot be."""

    at: datetime
    temperature_c: float

    def __post_init__(self) -> None:
        try:
            check_number("internal temperature in degC", self.temperature_c, INTERNAL_C)
        except InputError as fault:
            raise InputError(
                f"{fault} Is it in degF? Then say so where the series is entered."
            ) from None


@dataclass(frozen=True, slots=True, kw_only=True)
class Series(Entry):
    """Temperatures inside a stick, earliest first; `probe` says where it sat.

    `group` None: the whole batch. Raises InputError for points out of order or in the future.
    """

    TABLE: ClassVar[str] = "series"

    kind: SeriesKind
    probe: str
    origin: Origin
    group: str | None = None
    note: str = ""
    points: tuple[TemperaturePoint, ...] = ()

    def __post_init__(self) -> None:
        Entry.__post_init__(self)
        check_text("place of the probe", self.probe, needed=True)
        check_text("note", self.note)
        if len(self.points) > MOST_POINTS:
            raise InputError(
                f"{len(self.points)} readings are more than one series holds ({MOST_POINTS}). "
                "Thin the logger's file out; nothing was stored."
            )
        if self.points:
            first = self.points[0].at
            in_order(self.points_since(first))
            check_moment("first reading", first, entered_at=self.entered_at)

    def points_since(self, moment: datetime) -> tuple[Point, ...]:
        """Return the readings as the product's sums take them, in seconds since a moment."""
        return tuple(
            Point((point.at - moment) / timedelta(seconds=1), point.temperature_c)
            for point in self.points
        )


def add_series(db: Database, batch_number: int, series: Series) -> bool:
    """Store a series with its points and return True, or False where the key is already stored.

    Raises InputError where there is no such batch or group.
    """
    with durably(db):
        return insert_series(db, batch_number, series)


def insert_series(db: Database, batch_number: int, series: Series) -> bool:
    """Do the same in the caller's transaction."""
    # Readings are added to a series after it was entered, so only now is its last one known to be.
    if series.points:
        check_moment("last reading", series.points[-1].at, entered_at=series.entered_at)
    if not insert_entry(db, batch_number, series):
        return False
    _insert_points(db, series.key, series.points)
    return True


def add_points(db: Database, key: str, points: Sequence[TemperaturePoint], *, now: datetime) -> int:
    """Store readings that go on a series, and return how many were new; one sent twice is one.

    Raises InputError where there is no such series, a reading is not later than those stored, or
    another temperature is stored for its moment.
    """
    with durably(db):
        stored = dict(_points_of(db, key))
        new = [point for point in points if stored.get(point.at) != point.temperature_c]
        for point in new:
            check_moment("reading", point.at, entered_at=now)
            if point.at in stored:
                raise InputError(
                    f"At {point.at:%H:%M:%S} UTC the series has {stored[point.at]:g} degC already, "
                    f"not {point.temperature_c:g}. Correct that reading; nothing was stored."
                )
        series = [TemperaturePoint(at=at, temperature_c=t_c) for at, t_c in stored.items()]
        start = series[0].at if series else now
        in_order(
            Point((point.at - start) / timedelta(seconds=1), point.temperature_c)
            for point in [*series, *new]
        )
        _insert_points(db, key, new)
    return len(new)


def series_of(db: Database, batch_id: int) -> list[Series]:
    """Return a batch's series with their points, as they were entered."""
    points = defaultdict(list)
    for key, at_ms, temperature_c in db.execute(
        "select key, at_ms, temperature_c from series join series_point on series_id = series.id"
        " where batch_id = ? order by series_id, at_ms",
        (batch_id,),
    ):
        points[key].append(TemperaturePoint(at=from_ms(at_ms), temperature_c=temperature_c))
    return [
        replace(series, points=tuple(points[series.key]))
        for series in entries_of(db, Series, batch_id)
    ]


def _points_of(db: Database, key: str) -> list[tuple[datetime, float]]:
    if db.execute("select 1 from series where key = ?", (key,)).fetchone() is None:
        raise InputError("There is no such series. Load the page again; nothing was stored.")
    rows = db.execute(
        "select at_ms, temperature_c from series join series_point on series_id = series.id"
        " where key = ? order by at_ms",
        (key,),
    )
    return [(from_ms(at_ms), temperature_c) for at_ms, temperature_c in rows]


def _insert_points(db: Database, key: str, points: Sequence[TemperaturePoint]) -> None:
    db.conn.executemany(
        "insert into series_point select id, ?, ? from series where key = ?",
        [(to_ms(point.at), point.temperature_c, key) for point in points],
    )
