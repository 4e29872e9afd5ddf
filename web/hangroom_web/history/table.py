"""A room's past as rows: for a table on the page, and as lines of CSV. Pure."""

import csv
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from io import StringIO

from hangroom.product.csv_cells import csv_row
from hangroom.units import Units, temperature_shown
from hangroom_web.history.past import Past, Quantity
from hangroom_web.history.words import Saying
from hangroom_web.relays import RELAY_NAMES
from hangroom_web.words import _

# So many lines of CSV go out at a time.
LINES_AT_A_TIME = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One stretch: when it starts, its air and relays in words; `empty` where nothing was read."""

    start: str
    air: Sequence[str]
    relays: Sequence[str]
    empty: bool


def rows_of(past: Past, saying: Saying) -> list[Row]:
    """Return a row for each stretch, the newest first."""
    return [
        Row(
            start=saying.moment(past.starts(place)),
            air=[
                "" if value is None else f"{value:.1f}"
                for quantity in past.quantities
                for value in _three(quantity, place)
            ],
            relays=[_share(times[place].on_ratio) for times in past.relays.values()],
            empty=past.cells[place] is None,
        )
        for place in reversed(range(past.window.stretches))
    ]


def past_as_csv(past: Past, saying: Saying) -> Iterator[str]:
    """Yield the stretches, oldest first; a cell is empty where nothing was read or known."""
    yield _lines(
        [
            [
                *(_("start"), _("sensor"), _("readings")),
                *(head.format(unit=past.units.temperature) for head in _HEADS),
                *(_("{} on (%)").format(RELAY_NAMES[relay]) for relay in past.relays),
            ]
        ]
    )
    sensor = past.sensor.name if past.sensor else ""
    rows: list[list[object]] = []
    for place, cell in enumerate(past.cells):
        rows.append(
            [
                _iso(past.starts(place), saying),
                sensor,
                cell.readings if cell else 0,
                *(
                    None if value is None else round(value, 2)
                    for quantity in past.quantities
                    for value in _three(quantity, place)
                ),
                *(
                    None if (ratio := times[place].on_ratio) is None else round(100 * ratio, 1)
                    for times in past.relays.values()
                ),
            ]
        )
    yield _lines(rows)


def readings_as_csv(
    readings: Iterable[tuple[datetime, float, float]], *, sensor: str, units: Units, saying: Saying
) -> Iterator[str]:
    """Yield every reading as the sensor gave it, oldest first, some lines at a time."""
    yield _lines(
        [
            [
                *(_("taken"), _("sensor")),
                _("temperature (°{unit})").format(unit=units.temperature),
                _("humidity as read (%RH)"),
            ]
        ]
    )
    rows: list[list[object]] = []
    for taken_at, temperature_c, humidity_pct in readings:
        temperature = round(temperature_shown(temperature_c, units), 2)
        rows.append([_iso(taken_at, saying), sensor, temperature, round(humidity_pct, 2)])
        if len(rows) >= LINES_AT_A_TIME:
            yield _lines(rows)
            rows.clear()
    yield _lines(rows)


_HEADS = (
    _("lowest temperature (°{unit})"),
    _("mean temperature (°{unit})"),
    _("highest temperature (°{unit})"),
    _("lowest humidity (%RH)"),
    _("mean humidity (%RH)"),
    _("highest humidity (%RH)"),
)


def _three(quantity: Quantity, place: int) -> tuple[float | None, float | None, float | None]:
    return quantity.low[place], quantity.mean[place], quantity.high[place]


def _share(on_ratio: float | None) -> str:
    return "" if on_ratio is None else f"{100.0 * on_ratio:.0f} %"


def _iso(at: datetime, saying: Saying) -> str:
    return at.astimezone(saying.zone).isoformat(timespec="seconds")


def _lines(rows: Iterable[Iterable[object]]) -> str:
    text = StringIO()
    csv.writer(text).writerows(csv_row(row) for row in rows)
    return text.getvalue()
