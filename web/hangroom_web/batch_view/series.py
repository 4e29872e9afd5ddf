"""Cook and chill as they are shown: the readings, a picture, and the hold that counted. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby, pairwise

from markupsafe import Markup

from hangroom.product.cooking import LONGEST_GAP_S
from hangroom.product.cooling import OPTIONS
from hangroom.product.holds import SALMONELLA_6_5_LOG, HoldTable
from hangroom.product.temperatures import Point, celsius, fahrenheit, holds_at, in_both
from hangroom.store.record.series import Origin, Series, SeriesKind
from hangroom.units import say_temperature
from hangroom_web.batch_view.wording import Wording
from hangroom_web.dates import say_clock
from hangroom_web.draw.series import Held, Level, draw_series
from hangroom_web.words import _

KINDS = {SeriesKind.COOK: _("Cook"), SeriesKind.CHILL: _("Chill")}
ORIGINS = {
    Origin.TYPED: _("typed"),
    Origin.PASTED: _("pasted"),
    Origin.CSV: _("from a logger's file"),
}
# In the printed table; what lies between stays in the file.
MOST_ROWS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class SeriesView:
    """One series in words, with its picture and the rows of its table; `days` is when it was."""

    title: str
    said: str
    entered: str
    note: str
    picture: Markup
    days: str
    rows: Sequence[tuple[str, str]]
    left_out: int


def series_view(series: Series, wording: Wording) -> SeriesView:
    """Return a series as it is shown."""
    points = [(point.at, point.temperature_c) for point in series.points]
    kind = KINDS[series.kind]
    whose = _("whole batch") if series.group is None else _("group {}").format(series.group)
    label = said = _("No reading yet.")
    if points:
        temperatures_c = [t_c for _at, t_c in points]
        said = _(
            "{count} readings from {first} to {last}, {low} to {high}, in the {probe}."
        ).format(
            count=len(points),
            first=wording.moment(points[0][0]),
            last=wording.moment(points[-1][0]),
            low=say_temperature(min(temperatures_c), wording.units),
            high=say_temperature(max(temperatures_c), wording.units),
            probe=series.probe,
        )
        label = f"{kind}. {said}"
    cook = series.kind is SeriesKind.COOK
    shown = _thinned(points)
    return SeriesView(
        title=_("{kind}, {whose}").format(kind=kind, whose=whose),
        said=said,
        entered=_("{origin}, entered by {by} {when}").format(
            origin=ORIGINS[series.origin],
            by=series.entered_by or _("nobody named"),
            when=wording.moment(series.entered_at),
        ),
        note=series.note,
        picture=draw_series(
            points,
            held=held_in(series.points_since(points[0][0]), points[0][0])
            if cook and points
            else None,
            levels=() if cook else _legs(),
            label=label,
            units=wording.units,
            zone=wording.zone,
        ),
        days=_days(points, wording),
        rows=[
            (say_clock(at, wording.zone), say_temperature(t_c, wording.units)) for at, t_c in shown
        ],
        left_out=len(points) - len(shown),
    )


def _days(points: Sequence[tuple[datetime, float]], wording: Wording) -> str:
    days = dict.fromkeys(wording.day(at) for at, _t_c in points)
    return _(" to ").join(list(days)[:1] + list(days)[1:][-1:])


def held_in(
    points: Sequence[Point], origin: datetime, table: HoldTable = SALMONELLA_6_5_LOG
) -> Held | None:
    """Return the stay that the table counts, at its hottest row held long enough; None without."""
    for row_f in sorted(table.holds_s, reverse=True):
        asked_s = table.holds_s[row_f]
        stays = holds_at(points, row_f, LONGEST_GAP_S)
        if any(stay.shortest_s >= asked_s for stay in stays):
            first_s, last_s = max(_stays(points, row_f), key=lambda stay: stay[1] - stay[0])
            return Held(
                row_c=celsius(row_f),
                from_at=origin + timedelta(seconds=first_s),
                to_at=origin + timedelta(seconds=last_s),
                said=_("counted at {row}").format(row=in_both(row_f)),
            )
    return None


def _stays(points: Sequence[Point], row_f: int) -> list[tuple[float, float]]:
    """Return first and last moment, s, of each stay at or above a row that no long gap breaks."""
    stays: list[tuple[float, float]] = []
    hot = [fahrenheit(point.temperature_c) >= row_f for point in points]
    for is_hot, run in groupby(range(len(points)), key=hot.__getitem__):
        if not is_hot:
            continue
        places = list(run)
        first = places[0]
        for earlier, later in pairwise(places):
            if points[later].at_s - points[earlier].at_s > LONGEST_GAP_S:
                stays.append((points[first].at_s, points[earlier].at_s))
                first = later
        stays.append((points[first].at_s, points[places[-1]].at_s))
    return stays


def _legs() -> list[Level]:
    """Return where the first way to cool is timed: its legs' ends."""
    ends = sorted({end for leg in OPTIONS[0].legs for end in (leg.from_f, leg.to_f)})
    return [Level(temperature_c=celsius(end_f), said=in_both(end_f)) for end_f in ends]


def _thinned(points: Sequence[tuple[datetime, float]]) -> Sequence[tuple[datetime, float]]:
    """Return what fits a table: every so many readings, the first, the last and the warmest."""
    if len(points) <= MOST_ROWS:
        return points
    step = -(-len(points) // MOST_ROWS)
    warmest = max(range(len(points)), key=lambda place: points[place][1])
    kept = {*range(0, len(points), step), warmest, len(points) - 1}
    return [points[place] for place in sorted(kept)]
