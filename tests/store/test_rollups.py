"""Roll-ups against a walk over the same rows in plain Python: nothing is lost, nothing invented."""

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from math import fsum, isclose

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlite_utils import Database

from hangroom.store.air_cells import (
    Cell,
    SensorOf,
    air_cells,
    readings_between,
    sensors_of,
    unread_between,
)
from hangroom.store.migrations import MIGRATIONS
from hangroom.store.moments import from_ms, to_ms
from hangroom.store.relay_times import RelayTime, relay_times, runs_between
from hangroom.store.rollups import roll_up
from hangroom.store.room_past import relay_history

START = datetime(2026, 11, 1, tzinfo=UTC)
START_MS = to_ms(START)
HOUR = timedelta(hours=1)
RAIL = SensorOf(number=1, room="closet", name="rail")

# Seconds from the start, tenths of a degree, tenths of a percent.
Reading = tuple[int, int, int]
READINGS = st.lists(
    st.tuples(st.integers(0, 4 * 3600 - 1), st.integers(-50, 400), st.integers(0, 1000)),
    max_size=60,
    unique_by=lambda reading: reading[0],
)


@pytest.fixture(scope="module")
def tables() -> Iterator[Database]:
    """The tables with one closet and its sensor."""
    db = Database(memory=True)
    MIGRATIONS.apply(db)
    db.execute("insert into room (id, name) values (1, 'closet')")
    db.execute("insert into sensor (id, room_id, name) values (1, 1, 'rail')")
    db.conn.commit()
    yield db
    db.close()


def keep(db: Database, readings: Sequence[Reading]) -> None:
    for second, tenths_c, tenths_pct in readings:
        db.execute(
            "insert into reading (sensor_id, taken_ms, uptime_ms, temperature_c, humidity_pct)"
            " values (1, ?, 0, ?, ?)",
            (START_MS + second * 1000, tenths_c / 10, tenths_pct / 10),
        )


def empty(db: Database) -> None:
    for table in ("reading", "air_rollup", "relay_rollup", "command", "run"):
        db.execute(f"delete from {table}")  # noqa: S608 - this file's own words


def walked(readings: Sequence[Reading], stretch_s: int, stretches: int) -> list[Cell | None]:
    """The same cells from a walk over the readings, in plain Python."""
    found: list[Cell | None] = []
    for place in range(stretches):
        inside = [r for r in readings if place * stretch_s <= r[0] < (place + 1) * stretch_s]
        if not inside:
            found.append(None)
            continue
        celsius = [r[1] / 10 for r in inside]
        pct = [r[2] / 10 for r in inside]
        count = len(inside)
        found.append(
            Cell(
                count,
                *(min(celsius), fsum(celsius) / count, max(celsius)),
                *(min(pct), fsum(pct) / count, max(pct)),
            )
        )
    return found


def same(one: Cell | None, other: Cell | None) -> bool:
    """Exact in count, lowest and highest; a mean of means differs in its last digits."""
    if one is None or other is None:
        return one is other
    return (
        (one.readings, one.lowest_c, one.highest_c, one.lowest_pct, one.highest_pct)
        == (other.readings, other.lowest_c, other.highest_c, other.lowest_pct, other.highest_pct)
        and isclose(one.mean_c, other.mean_c, abs_tol=1e-9)
        and isclose(one.mean_pct, other.mean_pct, abs_tol=1e-9)
    )


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(
    readings=READINGS,
    stretch_s=st.sampled_from([10, 60, 300, 900, 1800, 7200]),
    rolled_at_s=st.integers(0, 5 * 3600),
)
def test_the_lowest_and_highest_of_a_stretch_are_never_lost(
    tables: Database, readings: list[Reading], stretch_s: int, rolled_at_s: int
) -> None:
    """However much of the time is rolled up by then, and in however long stretches it is asked."""
    empty(tables)
    keep(tables, readings)
    roll_up(tables, now=START + timedelta(seconds=rolled_at_s))
    stretches = 4 * 3600 // stretch_s
    found = air_cells(tables, RAIL, since=START, stretches=stretches, stretch_s=stretch_s)
    expected = walked(readings, stretch_s, stretches)
    assert len(found) == stretches
    assert all(same(a, b) for a, b in zip(found, expected, strict=True))


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(readings=READINGS, late=READINGS)
def test_what_comes_late_is_rolled_up_later(
    tables: Database, readings: list[Reading], late: list[Reading]
) -> None:
    """After a full disk, rows are written that are hours old; the next roll-up takes them in."""
    empty(tables)
    keep(tables, readings)
    roll_up(tables, now=START + 5 * HOUR)
    taken = {reading[0] for reading in readings}
    late = [reading for reading in late if reading[0] not in taken]
    keep(tables, late)
    roll_up(tables, now=START + 5 * HOUR + timedelta(minutes=15))
    found = air_cells(tables, RAIL, since=START, stretches=16, stretch_s=900)
    expected = walked([*readings, *late], 900, 16)
    assert all(same(a, b) for a, b in zip(found, expected, strict=True))


def test_a_roll_up_outlives_the_readings_it_was_made_of(tables: Database) -> None:
    """Readings are not kept for ever: what was rolled up stays, also in the nightly round."""
    empty(tables)
    keep(tables, [(second, 130, 760) for second in range(0, 3600, 10)])
    assert roll_up(tables, now=START + 2 * HOUR) == 4
    before = air_cells(tables, RAIL, since=START, stretches=4, stretch_s=900)
    tables.execute("delete from reading where taken_ms < ?", (START_MS + 1800_000 + 300_000,))
    assert roll_up(tables, now=START + 2 * HOUR, everything=True) == 0
    assert air_cells(tables, RAIL, since=START, stretches=4, stretch_s=900) == before


def test_done_twice_it_changes_nothing(tables: Database) -> None:
    empty(tables)
    keep(tables, [(second, 130, 760) for second in range(0, 7200, 6)])
    assert roll_up(tables, now=START + 3 * HOUR) == 8
    rows = tables.execute("select * from air_rollup").fetchall()
    assert roll_up(tables, now=START + 3 * HOUR, everything=True) == 0
    assert tables.execute("select * from air_rollup").fetchall() == rows


def test_a_clock_that_was_years_ahead_hides_nothing_afterwards(tables: Database) -> None:
    """One row of 2030 must not make the reader take all before it for rolled up."""
    empty(tables)
    keep(tables, [(4 * 365 * 86_400, 200, 500)])
    roll_up(tables, now=START + timedelta(days=5 * 365))
    keep(tables, [(second, 130, 760) for second in range(0, 1200, 10)])
    found = air_cells(tables, RAIL, since=START, stretches=2, stretch_s=900)
    assert [cell.readings if cell else 0 for cell in found] == [90, 30]


def test_a_gap_shorter_than_a_stretch_is_told_all_the_same(tables: Database) -> None:
    """An hour without readings within three: no cell is empty, yet the gap is named."""
    empty(tables)
    read = [s for s in range(0, 4 * 3600, 10) if not 5400 <= s < 9000]
    keep(tables, [(second, 130, 760) for second in read])
    roll_up(tables, now=START + 5 * HOUR)
    last = START + 1.5 * HOUR - timedelta(seconds=10)
    for stretch_s in (3600, 14_400):
        stretches = 14_400 // stretch_s
        cells = air_cells(tables, RAIL, since=START, stretches=stretches, stretch_s=stretch_s)
        assert None not in cells
        gaps = unread_between(tables, RAIL, cells, since=START, stretch_s=stretch_s)
        assert gaps == [(last, START + 2.5 * HOUR)]


def test_a_gap_is_told_in_a_month_too_and_after_its_readings_are_gone(tables: Database) -> None:
    empty(tables)
    read = [s for s in range(0, 9 * 86_400, 60) if not 86_400 <= s < 90_000]
    keep(tables, [(second, 130, 760) for second in read])
    roll_up(tables, now=START + timedelta(days=9, hours=1))
    cells = air_cells(tables, RAIL, since=START, stretches=9, stretch_s=86_400)
    gaps = unread_between(tables, RAIL, cells, since=START, stretch_s=86_400)
    assert gaps == [(START + timedelta(seconds=86_340), START + timedelta(seconds=90_000))]
    tables.execute("delete from reading")
    gaps = unread_between(tables, RAIL, cells, since=START, stretch_s=86_400)
    assert gaps == [(START + timedelta(days=1), START + timedelta(seconds=90_000))]


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(readings=READINGS, rolled_at_s=st.integers(0, 5 * 3600))
def test_no_reading_lies_in_what_is_told_to_be_unread(
    tables: Database, readings: list[Reading], rolled_at_s: int
) -> None:
    empty(tables)
    keep(tables, readings)
    roll_up(tables, now=START + timedelta(seconds=rolled_at_s))
    for stretch_s in (60, 900, 3600):
        cells = air_cells(
            tables, RAIL, since=START, stretches=14_400 // stretch_s, stretch_s=stretch_s
        )
        gaps = unread_between(tables, RAIL, cells, since=START, stretch_s=stretch_s)
        moments = [START + timedelta(seconds=reading[0]) for reading in readings]
        assert not [at for at in moments for since, until in gaps if since < at < until]
        for place, cell in enumerate(cells):
            start = START + place * timedelta(seconds=stretch_s)
            end = start + timedelta(seconds=stretch_s)
            assert cell or any(since <= start and end <= until for since, until in gaps)


def test_every_reading_is_sent_once_in_order(tables: Database) -> None:
    """More of them than are fetched at a time."""
    empty(tables)
    keep(tables, [(second, second % 300, 760) for second in range(5000)])
    found = list(readings_between(tables, RAIL, since=START, until=START + 2 * HOUR))
    assert [at for at, _c, _pct in found] == [from_ms(START_MS + s * 1000) for s in range(5000)]
    assert [celsius for _at, celsius, _pct in found] == [s % 300 / 10 for s in range(5000)]


def test_sensors_are_those_of_the_room(tables: Database) -> None:
    assert sensors_of(tables, "closet") == [RAIL]
    assert sensors_of(tables, "attic") == []


# Of a relay: seconds at which it was told something, and whether to close.
COMMANDS = st.lists(
    st.tuples(st.integers(0, 4 * 3600 - 1), st.booleans()),
    max_size=30,
    unique_by=lambda told: told[0],
)
RUNS = st.lists(st.integers(0, 4 * 3600), min_size=2, max_size=6, unique=True).map(sorted)


def tell(db: Database, commands: Sequence[tuple[int, bool]], runs: Sequence[int]) -> list[range]:
    """Note runs and commands; the runs as ranges of seconds."""
    lived = [range(a, b) for a, b in zip(runs[::2], runs[1::2], strict=False)]
    for run in lived:
        db.execute(
            "insert into run (boot_id, version, started_ms, last_ms) values ('b', '0', ?, ?)",
            (START_MS + run.start * 1000, START_MS + run.stop * 1000),
        )
    for second, closed in sorted(commands):
        if any(second in run for run in lived):
            db.execute(
                "insert into command (room_id, given_ms, uptime_ms, relay, closed, code, figures)"
                " values (1, ?, 0, 'humidifier', ?, 'too-dry', '{}')",
                (START_MS + second * 1000, int(closed)),
            )
    return lived


def second_by_second(
    commands: Sequence[tuple[int, bool]], lived: Sequence[range], stretch_s: int
) -> list[RelayTime]:
    """The same from a walk in steps of a second: each run starts with the relay open."""
    told = dict(commands)
    on_ms = [0] * (4 * 3600 // stretch_s)
    known_ms = [0] * len(on_ms)
    for run in lived:
        closed = False
        for second in run:
            closed = told.get(second, closed)
            place = second // stretch_s
            if place < len(on_ms):
                known_ms[place] += 1000
                on_ms[place] += 1000 * closed
    return [RelayTime(on, known) for on, known in zip(on_ms, known_ms, strict=True)]


@settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=60
)
@given(
    commands=COMMANDS,
    runs=RUNS,
    stretch_s=st.sampled_from([60, 900, 3600]),
    rolled_at_s=st.integers(0, 5 * 3600),
)
def test_a_relay_was_on_for_as_long_as_a_walk_second_by_second_finds(
    *,
    tables: Database,
    commands: list[tuple[int, bool]],
    runs: list[int],
    stretch_s: int,
    rolled_at_s: int,
) -> None:
    empty(tables)
    lived = tell(tables, commands, runs)
    keep(tables, [(0, 130, 760)])  # a room that rolls up has a sensor
    roll_up(tables, now=START + timedelta(seconds=rolled_at_s))
    found = relay_history(
        *(tables, "closet", ["humidifier"]),
        since=START,
        stretches=4 * 3600 // stretch_s,
        stretch_s=stretch_s,
        alive_until=None,
    )
    expected = second_by_second(commands, lived, stretch_s)
    assert [time.on_ms for time in found["humidifier"]] == [time.on_ms for time in expected]
    if stretch_s < 900:
        assert found["humidifier"] == expected


def test_a_relay_that_was_on_before_the_time_is_on_in_it(tables: Database) -> None:
    empty(tables)
    tell(tables, [(10, True)], [0, 14_400])
    times = relay_times(
        *(tables, 1, ["humidifier"]),
        since_ms=START_MS + 3_600_000,
        stretches=2,
        stretch_ms=60_000,
        runs=runs_between(tables, START_MS, START_MS + 14_400_000, alive_until=None),
    )
    assert times["humidifier"] == [RelayTime(60_000, 60_000)] * 2
    assert times["humidifier"][0].on_ratio == 1.0
    assert RelayTime(0, 0).on_ratio is None
