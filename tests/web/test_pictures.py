import re
import xml.etree.ElementTree as ET
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hangroom.store.history import Bucket, Switching
from hangroom.terms import RelayKind
from hangroom.units import Units
from hangroom_web.day import BUCKET, Day, day_of_room, gaps_between, say_day, stretches
from hangroom_web.draw.day import draw_day
from hangroom_web.draw.rail import PX_PER_MM, RailGroup, rail
from hangroom_web.draw.svg import n, path
from hangroom_web.draw.yields import Curve, draw_yields
from hangroom_web.rail import Drawn

NOW = datetime(2026, 11, 26, 15, 0, tzinfo=UTC)
SINCE = NOW - timedelta(hours=24)
NUMBER = re.compile(r"-?(?:\d+\.?\d*|\.\d+)")


def stick(tag: str = "A1", *, across_mm: float = 18.0, wrinkle_mm: float = 0.0) -> Drawn:
    return Drawn(
        tag=tag,
        hung_diameter_mm=20.0,
        diameter_mm=across_mm,
        length_mm=265.0,
        measured=True,
        wrinkle_mm=wrinkle_mm,
        yield_pct=70.0,
        weighed=True,
    )


def bucket(hours: float, pct: float = 76.0) -> Bucket:
    return Bucket(
        starts_at=SINCE + timedelta(hours=hours),
        lowest_c=12.5,
        highest_c=13.5,
        lowest_pct=pct - 1,
        highest_pct=pct + 1,
    )


def day(buckets: list[Bucket], switchings: list[Switching] | None = None) -> Day:
    return day_of_room(
        buckets,
        switchings or [],
        relays=[RelayKind.HUMIDIFIER],
        until=NOW,
        known=[(SINCE, NOW)],
        wanted_c=None,
        wanted_pct=(76.0, 3.0),
        units=Units(),
    )


def paths(picture: str, css: str) -> list[str]:
    tree = ET.fromstring(picture)  # noqa: S314 - our own drawing
    return [e.attrib["d"] for e in tree.iter("path") if css in e.attrib.get("class", "").split()]


@pytest.mark.parametrize("across_mm", [14.0, 16.5, 19.2])
def test_a_stick_is_as_wide_as_it_was_measured_and_its_ghost_as_it_was_hung(
    across_mm: float,
) -> None:
    picture = rail(
        [RailGroup(title="1 A", window="", sticks=[stick(across_mm=across_mm)])], Units()
    )
    # The first arc of an outline spans the stick from side to side.
    arc = re.compile(r"a[\d.]+ [\d.]+ 0 0 1 ([\d.]+) 0")
    (meat,), (ghost,) = paths(picture, "meat"), paths(picture, "ghost")
    meat_px, ghost_px = (float(arc.findall(d)[0]) for d in (meat, ghost))
    assert meat_px / PX_PER_MM == pytest.approx(across_mm, abs=0.05)
    assert ghost_px / PX_PER_MM == pytest.approx(20.0, abs=0.05)


def test_an_outline_closes_where_it_began_however_wrinkled() -> None:
    for wrinkle_mm in (0.0, 0.5, 3.0):
        picture = rail(
            [RailGroup(title="", window="", sticks=[stick(wrinkle_mm=wrinkle_mm)])], Units()
        )
        (meat,) = paths(picture, "meat")
        down_px = sum(
            float(NUMBER.findall(step)[-1]) for step in re.findall(r"[cv][^a-zA-Z]+", meat)
        )
        assert down_px == pytest.approx(0.0, abs=2.0)  # each step is rounded to a tenth


def test_hostile_words_stay_words() -> None:
    name = '"><script>alert(1)</script>'
    picture = rail([RailGroup(title=name, window=name, sticks=[stick(tag=name)])], Units())
    assert "<script" not in picture
    ET.fromstring(picture)  # noqa: S314 - our own drawing


def test_a_gap_in_the_readings_is_left_open_and_hatched() -> None:
    before = [bucket(hour / 6) for hour in range(60)]  # 0:00 to 10:00
    after = [bucket(12 + hour / 6) for hour in range(72)]  # 12:00 to 24:00
    told = day([*before, *after])
    assert told.gaps == [(SINCE + timedelta(hours=10), SINCE + timedelta(hours=12))]
    picture = draw_day(told, title="closet", zone=ZoneInfo("UTC"))
    assert len(paths(picture, "air")) == 4  # two stretches of two quantities
    assert picture.count("url(#hatch-closet)") == 1


def test_a_day_that_ends_early_is_hatched_to_now() -> None:
    told = day([bucket(hour / 6) for hour in range(60)])
    assert told.gaps == [(SINCE + timedelta(hours=10), NOW)]


def test_a_short_excursion_is_not_lost() -> None:
    buckets = [bucket(hour / 6) for hour in range(144)]
    buckets[70] = bucket(70 / 6, pct=50.0)
    assert "Humidity 49.0 to 77.0 %" in say_day(day(buckets))


def test_a_relays_bar_is_its_share_of_the_time() -> None:
    on_at = SINCE + timedelta(hours=1)
    switchings = [
        Switching(at=on_at, relay="humidifier", closed=True),
        Switching(at=on_at + timedelta(minutes=15), relay="humidifier", closed=False),
    ]
    (relay,) = day([], switchings).relays
    assert relay.shares == [(on_at, 1.0), (on_at + BUCKET, 0.5)]
    assert relay.on_pct == pytest.approx(100 * 15 / 1440)


def test_a_relay_is_not_taken_as_on_while_no_daemon_ran() -> None:
    switchings = [Switching(at=SINCE + timedelta(hours=1), relay="humidifier", closed=True)]
    told = day_of_room(
        [],
        switchings,
        relays=[RelayKind.HUMIDIFIER],
        until=NOW,
        known=[(SINCE, SINCE + timedelta(hours=2)), (SINCE + timedelta(hours=20), NOW)],
        wanted_c=None,
        wanted_pct=None,
        units=Units(),
    )
    (relay,) = told.relays
    assert sum(share for _at, share in relay.shares) == pytest.approx(6.0)  # one hour of buckets


@given(st.sets(st.integers(0, 143)))
def test_gaps_and_stretches_together_make_up_the_day(covered: set[int]) -> None:
    starts = [SINCE + place * BUCKET for place in sorted(covered)]
    dark = sum((b - a for a, b in gaps_between(starts, SINCE, NOW)), timedelta())
    lit = sum(len(s) for s in stretches([(at, 0.0, 0.0) for at in starts])) * BUCKET
    assert dark + lit == timedelta(hours=24)


@given(st.lists(st.tuples(st.floats(-500, 500), st.floats(-500, 500)), min_size=1, max_size=30))
def test_a_path_goes_through_its_points_to_a_tenth(points: list[tuple[float, float]]) -> None:
    numbers = [float(number) for number in NUMBER.findall(path(points))]
    x = y = 0.0
    for (want_x, want_y), dx, dy in zip(points, numbers[::2], numbers[1::2], strict=True):
        x, y = x + dx, y + dy
        assert (x, y) == pytest.approx((want_x, want_y), abs=0.0501)


@pytest.mark.parametrize(
    ("value", "written"), [(0.0, "0"), (-0.04, "0"), (12.0, "12"), (1.26, "1.3"), (-3.5, "-3.5")]
)
def test_coordinates_are_short(value: float, written: str) -> None:
    assert n(value) == written


def test_yields_are_drawn_for_each_stick_with_the_target() -> None:
    curves = [Curve(tag=tag, points=[(SINCE, 88.0), (NOW, 82.0)]) for tag in ("A1", "A2")]
    picture = draw_yields(curves, target_pct=72.0, told=None, until=NOW, zone=ZoneInfo("UTC"))
    assert len(paths(picture, "curve")) == 2
    assert len(paths(picture, "target")) == 1
    assert "Yields from 88.0 down to 82.0 %; target 72 % of green weight." in picture


def test_nothing_weighed_draws_nothing() -> None:
    assert draw_yields([], target_pct=72.0, told=None, until=NOW, zone=ZoneInfo("UTC")) == ""
