"""How fast each range of History is answered from a month of readings, beside a naive query.

    python tests/bench/history_range.py [--days 30] [--read-every-s 2] [--rounds 40] [--keep FOLDER]

Makes a database of one room whose sensor is read every two seconds, the fastest there is, with
1,700 commands a day (what the demo's closet is told), a plan a day and marks; all of it invented.
"JSON" is the whole answer to the page's script through the web application, "page" the page with
the picture that stands without script; both at p50 and p95 of the rounds, in one process, and p95 of
the processor's time alone, which does not hang on what else the machine does. "Naive" is the plain
query for the same stretches over every reading, air alone, the middle of five. The last lines say what the roll-ups cost and weigh, and what sending every reading takes.
"""

import argparse
import resource
import statistics
import time
from collections.abc import Callable, Iterable
from datetime import UTC, datetime, timedelta
from functools import partial
from math import sin
from pathlib import Path
from tempfile import TemporaryDirectory

from sqlite_utils import Database

from hangroom.settings import Settings, check_settings
from hangroom.store.database import connect, prepare_database
from hangroom.store.journal import PLAN_FORM
from hangroom.store.moments import to_ms
from hangroom.store.rollups import roll_up
from hangroom_web.api.history import MOST_DRAWN
from hangroom_web.app import create_app
from hangroom_web.history.window import LENGTHS, Range, window_of

NOW = datetime(2026, 11, 26, 14, 52, 4, tzinfo=UTC)
COMMANDS_A_DAY = 1700
NAIVE = """
    select taken_ms / ?, min(temperature_c), avg(temperature_c), max(temperature_c),
        min(humidity_pct), avg(humidity_pct), max(humidity_pct)
    from reading join sensor on sensor.id = sensor_id join room on room.id = room_id
    where room.name = 'closet' and taken_ms >= ? and taken_ms < ? group by 1
"""


class Stopped:
    """A clock that stands still."""

    def now(self) -> datetime:
        return NOW

    def uptime_s(self) -> float:
        return 90_000.0

    def wait_until(self, uptime_s: float) -> None:
        raise NotImplementedError


def settings(folder: Path) -> Settings:
    return check_settings(
        {
            "site": {"name": "Bench", "timezone": "Europe/Berlin"},
            "store": {"folder": str(folder)},
            "room": {
                "closet": {
                    "title": "Closet",
                    "humidity": {
                        "setpoint_pct": 76.0,
                        "band_pct": 3.0,
                        "low_limit_pct": 55.0,
                        "high_limit_pct": 90.0,
                    },
                    "sensor": {"rail": {"kind": "dht22", "pin": 4, "read_every_s": 2.0}},
                    "relay": {
                        "humidifier": {"kind": "humidifier", "pin": 17},
                        "fan": {"kind": "fan", "role": "exhaust", "pin": 27},
                    },
                }
            },
        },
        source="bench",
    )


def fill(folder: Path, *, days: int, read_every_s: int) -> int:
    """Write the month and return how many readings it has."""
    db = connect(prepare_database(folder))
    start, step_ms = NOW - timedelta(days=days), read_every_s * 1000
    start_ms, now_ms = to_ms(start), to_ms(NOW)
    with db.atomic():
        db.execute("insert into room values (1, 'closet')")
        db.execute("insert into sensor values (1, 1, 'rail')")
        db.execute(
            "insert into run (id, boot_id, version, started_ms, last_ms, start_uptime_ms, tick_ms)"
            " values (1, 'b', '0', ?, ?, 0, 2000)",
            (start_ms, now_ms),
        )
        db.conn.executemany(
            "insert into reading values (1, ?, ?, ?, ?, 1, ?)",
            (
                (
                    at_ms,
                    at_ms - start_ms,
                    round(13 + 0.9 * sin(at_ms / 9e6) + 0.4 * sin(at_ms / 2e5), 1),
                    round(76 + 2.2 * sin(at_ms / 4e5) + 1.5 * sin(at_ms / 3e7), 1),
                    at_ms - start_ms,
                )
                for at_ms in range(start_ms, now_ms - 2000, step_ms)
                # A sensor that was off for three hours on the tenth day, and two lost minutes.
                if not 864e6 < at_ms - start_ms < 875e6 and at_ms - start_ms >= 120e3
            ),
        )
        every_ms = 86_400_000 // COMMANDS_A_DAY
        db.conn.executemany(
            "insert into command (room_id, given_ms, uptime_ms, relay, closed, code, figures,"
            " run_id) values (1, ?, ?, ?, ?, 'too-dry', '{}', 1)",
            (
                (
                    at_ms,
                    at_ms - start_ms,
                    "exhaust-fan" if place % 40 in {0, 1} else "humidifier",
                    place % 2,
                )
                for place, at_ms in enumerate(range(start_ms, now_ms, every_ms))
            ),
        )
        plan = settings(folder).room["closet"].plan("closet")
        for day in range(days):
            db.execute(
                "insert into room_plan (run_id, room_id, uptime_ms, plan) values (1, 1, ?, ?)",
                (day * 86_400_000, PLAN_FORM.dump_json(plan).decode()),
            )
            kind = ("humidity-setpoint", "inspection-begun", "stage-begun")[day % 3]
            db.execute(
                "insert into event (at_ms, kind, room_id, figures, words) values (?, ?, 1, ?, ?)",
                (
                    start_ms + day * 86_400_000 + 30_000_000,
                    kind,
                    '{"setpoint_pct": 78}' if kind == "humidity-setpoint" else "{}",
                    '{"by": "Ada", "stage": "hang", "before": "casing-dry"}',
                ),
            )
    (count,) = db.execute("select count(*) from reading").fetchone()
    db.close()
    return int(count)


def spent_ms(doing: Callable[[], object]) -> tuple[float, float]:
    """Time on the clock, and of the processor."""
    started, cpu_started = time.perf_counter(), time.process_time()
    doing()
    return (
        (time.perf_counter() - started) * 1000,
        (time.process_time() - cpu_started) * 1000,
    )


def at(values: Iterable[float], share: float) -> float:
    found = sorted(values)
    return found[min(len(found) - 1, int(len(found) * share))]


def naive_ms(db: Database, asked: Range) -> tuple[float, float]:
    window = window_of({"range": asked}, now=NOW, hung=[], most=MOST_DRAWN, read_every_s=2.0)
    values = (window.stretch_s * 1000, to_ms(window.since), to_ms(window.until))
    spent = [spent_ms(lambda: db.execute(NAIVE, values).fetchall()) for _round in range(5)]
    return statistics.median(wall for wall, _cpu in spent), statistics.median(
        cpu for _wall, cpu in spent
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--days", type=int, default=30)
    parser.add_argument("--read-every-s", type=int, default=2)
    parser.add_argument("--rounds", type=int, default=40)
    parser.add_argument("--keep", type=Path, default=None, help="leave the database there")
    given = parser.parse_args()
    with TemporaryDirectory() as temporary:
        folder = given.keep or Path(temporary)
        count = fill(folder, days=given.days, read_every_s=given.read_every_s)
        db = connect(folder / "hangroom.db")
        print(f"{given.days} days, {count} readings of one sensor every {given.read_every_s} s")
        (before,) = db.execute("select page_count * 4096 from pragma_page_count").fetchone()
        _wall, first_ms = spent_ms(lambda: roll_up(db, now=NOW))
        (after,) = db.execute("select page_count * 4096 from pragma_page_count").fetchone()
        client = create_app(settings(folder), clock=Stopped(), boot_id="b").test_client()
        print(
            f"\n{'range':>6} {'JSON p50':>9} {'p95':>7} {'CPU p95':>8} {'page p50':>9} {'p95':>7}"
            f" {'CPU p95':>8} {'naive':>8} {'its CPU':>8} {'CPU naive / JSON':>17}   (ms)"
        )
        for asked in LENGTHS:
            columns = [f"{asked:>6}"]
            cpu_ms = []
            for path in ("/api/v1/rooms/closet/history", "/rooms/closet/history"):
                address = f"{path}?range={asked}"
                assert client.get(address).status_code == 200
                spent = [spent_ms(partial(client.get, address)) for _round in range(given.rounds)]
                wall = [one for one, _cpu in spent]
                cpu_ms.append(at((cpu for _wall, cpu in spent), 0.95))
                columns.append(f"{at(wall, 0.5):9.1f} {at(wall, 0.95):7.1f} {cpu_ms[-1]:8.1f}")
            naive, naive_cpu = naive_ms(db, asked)
            columns.append(f"{naive:8.1f} {naive_cpu:8.1f} {naive_cpu / cpu_ms[0]:16.1f}x")
            print(" ".join(columns))
        _wall, again_ms = spent_ms(lambda: roll_up(db, now=NOW))
        _wall, night_ms = spent_ms(lambda: roll_up(db, now=NOW, everything=True))
        print(
            f"\nroll-ups, CPU: first {first_ms:.0f} ms, each quarter {again_ms:.1f} ms, at night"
            f" {night_ms:.0f} ms; {(after - before) / 1e6:.1f} MB beside {before / 1e6:.0f} MB"
        )
        peak_kb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        sent, started = 0, time.perf_counter()
        with client.get(
            "/rooms/closet/readings.csv?range=30d", headers={"Accept-Encoding": "gzip"}
        ) as answer:
            for part in answer.iter_encoded():
                sent += len(part)
        grown_kb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - peak_kb
        print(
            f"every reading as CSV: {time.perf_counter() - started:.1f} s, {sent / 1e6:.1f} MB"
            f" packed, {grown_kb / 1024:.1f} MB more memory at its peak"
        )
        db.close()


if __name__ == "__main__":
    main()
