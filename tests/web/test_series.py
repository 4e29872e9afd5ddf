"""The picture of a cook: what a table counts is marked where the readings show it.

FSIS Appendix A, 6.5-log: 67 s at 150 degF, 27 s at 154 degF, 12 min at 140 degF.
"""

import xml.etree.ElementTree as ET
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from hangroom.product.temperatures import Point, celsius
from hangroom.store.record.series import Origin, Series, SeriesKind, TemperaturePoint
from hangroom.units import TemperatureUnit, Units
from hangroom_web.batch_view.series import MOST_ROWS, held_in, series_view
from hangroom_web.batch_view.wording import Wording
from hangroom_web.draw.series import LEFT, RIGHT, Held, draw_series

START = datetime(2026, 11, 1, 12, tzinfo=UTC)
UTC_ZONE = ZoneInfo("UTC")
WORDING = Wording(
    units=Units(),
    zone=UTC_ZONE,
    now=START + timedelta(days=1),
    room=lambda name: name,
    printed=True,
)


def points(*readings: tuple[float, float]) -> tuple[Point, ...]:
    """Readings as (seconds, degF)."""
    return tuple(Point(at_s, celsius(now_f)) for at_s, now_f in readings)


@pytest.mark.parametrize(
    ("readings", "row_f", "from_s", "to_s"),
    [
        pytest.param(
            [(0, 140), (60, 150), (120, 150), (180, 150), (240, 145)],
            150,
            60,
            180,
            id="67 s at 150",
        ),
        pytest.param(
            [(0, 150), (60, 154), (90, 154), (120, 150)],
            154,
            60,
            90,
            id="the hottest row that is enough",
        ),
        pytest.param([(s, 140) for s in range(0, 780, 60)], 140, 0, 720, id="12 min at 140"),
    ],
)
def test_the_hold_that_counts_is_marked_from_its_first_to_its_last_reading(
    readings: list[tuple[float, float]], row_f: int, from_s: float, to_s: float
) -> None:
    held = held_in(points(*readings), START)
    assert held is not None
    assert held.row_c == pytest.approx(celsius(row_f))
    assert (held.from_at - START).total_seconds() == from_s
    assert (held.to_at - START).total_seconds() == to_s


@pytest.mark.parametrize(
    "readings",
    [
        pytest.param([(0, 140), (60, 150), (120, 149)], id="one reading is no hold"),
        pytest.param([(0, 150), (3600, 150)], id="an hour between readings shows nothing"),
        pytest.param([(0, 129), (9000, 129)], id="below the first row no time counts"),
    ],
)
def test_what_no_row_counts_is_not_marked(readings: list[tuple[float, float]]) -> None:
    assert held_in(points(*readings), START) is None


def picture(*minutes: float, held: Held | None = None) -> ET.Element:
    drawn = draw_series(
        [(START + timedelta(minutes=minute), 60.0) for minute in minutes],
        held=held,
        label="invented",
        units=Units(),
        zone=UTC_ZONE,
    )
    return ET.fromstring(drawn)  # noqa: S314 - our own drawing


def test_readings_with_a_long_gap_between_them_are_not_joined() -> None:
    traces = [e for e in picture(0, 5, 10, 60, 65).iter("path") if "trace" in e.get("class", "")]
    assert len(traces) == 2


def test_the_marked_stretch_lies_where_its_times_are() -> None:
    held = Held(
        row_c=60.0,
        from_at=START + timedelta(minutes=5),
        to_at=START + timedelta(minutes=10),
        said="",
    )
    (rect,) = picture(0, 5, 10, 15, 20, held=held).iter("rect")
    width = RIGHT - LEFT
    assert float(rect.get("x", "")) == pytest.approx(LEFT + width / 4, abs=0.1)
    assert float(rect.get("width", "")) == pytest.approx(width / 4, abs=0.1)


def test_degrees_are_the_keepers() -> None:
    drawn = draw_series(
        [(START, 60.0), (START + timedelta(minutes=5), 68.3)],
        label="",
        units=Units(temperature=TemperatureUnit.FAHRENHEIT),
        zone=UTC_ZONE,
    )
    words = [e.text for e in ET.fromstring(drawn).iter("text")]  # noqa: S314 - our own drawing
    assert "Inside the stick, °F" in words
    assert {"140", "160"} <= set(words)  # 60 degC is 140 degF, 68.3 is 155


def test_nothing_read_draws_nothing() -> None:
    assert draw_series([], label="", units=Units(), zone=UTC_ZONE) == ""


def test_a_long_series_keeps_its_first_last_and_warmest_reading_in_print() -> None:
    temperatures_c = [20.0 + minute / 20 for minute in range(500)]
    temperatures_c[333] = 71.0
    series = Series(
        key="k",
        kind=SeriesKind.COOK,
        probe="middle",
        origin=Origin.CSV,
        points=tuple(
            TemperaturePoint(at=START + timedelta(minutes=minute), temperature_c=now_c)
            for minute, now_c in enumerate(temperatures_c)
        ),
        entered_at=START + timedelta(days=1),
        entered_by="Ada",
    )
    told = series_view(series, WORDING)
    said = [temperature for _clock, temperature in told.rows]
    assert (said[0], said[-1]) == ("20.0 °C", "45.0 °C")  # 499 / 20 more than 20 is 44.95
    assert "71.0 °C" in said
    assert len(told.rows) <= MOST_ROWS + 2
    assert told.left_out == 500 - len(told.rows)
    assert "500 readings" in told.said
