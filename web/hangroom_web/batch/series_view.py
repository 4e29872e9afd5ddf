"""A series of temperatures as it is shown, and whether a reading was sent twice. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from hangroom.store.moments import to_ms
from hangroom.store.record.series import Origin, Series, SeriesKind
from hangroom.units import Units, say_temperature
from hangroom_web.dates import say_moment
from hangroom_web.words import _

KIND_NAMES = {SeriesKind.COOK: _("cook"), SeriesKind.CHILL: _("chill")}
ORIGIN_NAMES = {
    Origin.TYPED: _("typed"),
    Origin.PASTED: _("pasted"),
    Origin.CSV: _("from a file"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PointView:
    """One reading in words; `at_ms` names it in an address."""

    when: str
    temperature: str
    at_ms: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SeriesView:
    """A series in words, its newest reading first; `seen` names that one, '' for none."""

    key: str
    title: str
    probe: str
    points: Sequence[PointView]
    seen: str


def series_view(series: Series, *, units: Units, zone: ZoneInfo, now: datetime) -> SeriesView:
    """Put a series into words."""
    title = _("{kind}, {origin}").format(
        kind=KIND_NAMES[series.kind].capitalize(), origin=ORIGIN_NAMES[series.origin]
    )
    if series.group:
        title = _("{title}, group {letter}").format(title=title, letter=series.group)
    points = [
        PointView(
            when=say_moment(point.at, zone, now=now),
            temperature=say_temperature(point.temperature_c, units),
            at_ms=to_ms(point.at),
        )
        for point in reversed(series.points)
    ]
    return SeriesView(
        key=series.key,
        title=title,
        probe=series.probe,
        points=points,
        seen=str(points[0].at_ms) if points else "",
    )


def newest_typed(series: Sequence[Series], kind: SeriesKind) -> Series | None:
    """Return the newest series of a kind that is typed reading by reading, or None."""
    typed = [one for one in series if one.kind is kind and one.origin is Origin.TYPED]
    return typed[-1] if typed else None


def is_again(series: Series, *, key: str, seen: str, temperature_c: float | None) -> bool:
    """Whether a reading is in the series already: sent twice, it is one.

    Its form says which reading was the newest when it was shown; the one after that is its own.
    """
    if series.key == key:
        return True
    if not (seen.isascii() and seen.isdecimal()):
        return False
    after = [point for point in series.points if to_ms(point.at) > int(seen)]
    return bool(after) and after[0].temperature_c == temperature_c
