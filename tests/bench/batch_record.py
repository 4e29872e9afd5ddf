"""How fast a batch's record is read among many, beside the way it was read at first.

    python tests/bench/batch_record.py [--batches 1000] [--rounds 5]

Makes a database of batches with 50 weigh-ins each (two groups of five sticks, five weighings), a
recipe, steps, a cook of 200 readings, measurements and corrections; all of it invented. "As at
first" is how one batch was shown before: every batch read, with one query per batch, group and
stick and without the indices of now. Times are the middle of the rounds, in one process on one
connection; the ratio is against "as at first". Filling takes some ten seconds.

Then the pages, through the whole web application: the list, a batch that was pulled years ago, and
one that has hung for three weeks in a closet whose sensor was read every six seconds.
"""

import argparse
import statistics
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

from sqlite_utils import Database

from hangroom.settings import check_settings
from hangroom.store.batches import (
    Batch,
    Group,
    NewGroup,
    NewStick,
    Stick,
    WeighIn,
    add_batch,
    batch,
    batches,
    batches_in_short,
    hanging_batches,
    pull_group,
)
from hangroom.store.database import connect, prepare_database
from hangroom.store.moments import from_ms, to_ms
from hangroom.store.record.edits import Kept, correct
from hangroom.store.record.entries import Entry, insert_entry
from hangroom.store.record.looks import Measurement
from hangroom.store.record.recipe import LineKind, RecipeLine
from hangroom.store.record.series import Origin, Series, SeriesKind, TemperaturePoint, insert_series
from hangroom.store.record.steps import Step, StepKind
from hangroom.store.record.whole import batch_record
from hangroom.store.weigh_ins import NewWeighIn, insert_weigh_in
from hangroom_web.app import create_app

ROOM = {
    "site": {"name": "Bench", "timezone": "UTC"},
    "room": {
        "closet": {
            "title": "Closet",
            "humidity": {
                "setpoint_pct": 76.0,
                "band_pct": 3.0,
                "low_limit_pct": 55.0,
                "high_limit_pct": 90.0,
            },
            "sensor": {"rail": {"kind": "dht22", "pin": 4, "read_every_s": 6.0}},
            "relay": {"humidifier": {"kind": "humidifier", "pin": 17}},
        }
    },
}
FIRST = datetime(2016, 1, 1, tzinfo=UTC)
HANGING = 3
GOAL_MS = 50.0
PAGE_GOAL_MS = 200.0
WEEKS_OF_READINGS = 3
READ_EVERY_S = 6


class StoppedClock:
    """Time stands still."""

    def __init__(self, now: datetime) -> None:
        self._now = now

    def now(self) -> datetime:
        return self._now

    def uptime_s(self) -> float:
        return 0.0

    def wait_until(self, uptime_s: float) -> None:
        """Nobody waits here."""


def fill(db: Database, count: int) -> None:
    """Enter the batches; the last few hang."""
    for number in range(1, count + 1):
        enter(db, FIRST + timedelta(days=3 * number), f"{number:04d}")
        if number <= count - HANGING:
            for group in (2 * number - 1, 2 * number):
                pull_group(db, group, now=FIRST + timedelta(days=3 * number + 6))


def enter(db: Database, at: datetime, name: str) -> None:
    groups = [
        NewGroup(
            letter=letter,
            finish="supple",
            target_yield_pct=72.0,
            sticks=14,
            room="closet",
            hung_at=at,
            tagged=[NewStick(tag=f"{name}{letter}{n}", green_weight_g=88.0) for n in range(5)],
        )
        for letter in "AB"
    ]
    number = add_batch(db, name=name, started_at=at, groups=groups, key=f"batch {name}")
    now = at + timedelta(days=6)
    with db.atomic():
        for entry in entries(at, name, now):
            insert_entry(db, number, entry)
        insert_series(db, number, cook(at, name, now))
        for group in groups:
            for stick in group.tagged:
                for day in range(1, 6):
                    insert_weigh_in(db, weighed(stick.tag, at, day))
    key = f"{name}A0 1"
    correct(db, Kept.WEIGH_IN, key, {"note": "read again"}, key=name, by="bench", now=now)


def entries(at: datetime, name: str, now: datetime) -> Iterator[Entry]:
    for place in range(9):
        yield RecipeLine(
            key=f"{name} {place}",
            place=place,
            kind=LineKind.SPICE,
            name="spice",
            weight_g=10.0 + place,
            entered_at=now,
            entered_by="bench",
        )
    for hour in range(6):
        yield Step(
            key=f"{name} {hour}",
            kind=StepKind.SMOKE,
            from_at=at + timedelta(hours=hour),
            entered_at=now,
            entered_by="bench",
        )
    yield Measurement(
        key=name,
        group="A",
        taken_at=at,
        aw=0.93,
        instrument="invented",
        entered_at=now,
        entered_by="bench",
    )


def cook(at: datetime, name: str, now: datetime) -> Series:
    points = tuple(
        TemperaturePoint(at=at + timedelta(minutes=minute), temperature_c=10.0 + minute / 4)
        for minute in range(200)
    )
    return Series(
        key=name,
        kind=SeriesKind.COOK,
        probe="middle",
        origin=Origin.CSV,
        points=points,
        entered_at=now,
        entered_by="bench",
    )


def weighed(tag: str, at: datetime, day: int) -> NewWeighIn:
    return NewWeighIn(
        key=f"{tag} {day}",
        tag=tag,
        taken_at=at + timedelta(days=day),
        weight_g=80.0 - 3 * day,
        squeeze=3,
    )


def as_at_first(db: Database, wanted: int) -> Batch:
    """Show one batch as it was done at first."""
    found = [
        Batch(
            number=number,
            name=name,
            started_at=from_ms(started_ms),
            note=note,
            sample=bool(sample),
            groups=tuple(groups_at_first(db, batch_id)),
        )
        for batch_id, number, name, started_ms, note, sample in db.execute(
            "select id, number, name, started_ms, note, sample from batch order by number desc"
        ).fetchall()
    ]
    return next(one for one in found if one.number == wanted)


def groups_at_first(db: Database, batch_id: int) -> Iterator[Group]:
    for number, letter, finish, target_pct, count, room, from_ms_, to_ms_ in db.execute(
        "select stick_group.id, letter, finish, target_yield_pct, sticks, room, from_ms, to_ms"
        " from stick_group left join hang on hang.id ="
        " (select max(id) from hang where group_id = stick_group.id)"
        " where batch_id = ? order by letter",
        (batch_id,),
    ).fetchall():
        yield Group(
            number=number,
            letter=letter,
            finish=finish,
            target_yield_pct=target_pct,
            sticks=count,
            room=room if to_ms_ is None else None,
            hung_at=from_ms(from_ms_),
            tagged=tuple(sticks_at_first(db, number)),
            pulled_at=None if to_ms_ is None else from_ms(to_ms_),
        )


def sticks_at_first(db: Database, group_id: int) -> Iterator[Stick]:
    for number, tag, green_g, hang_g, across_mm, length_mm in db.execute(
        "select id, tag, green_weight_g, hang_weight_g, hang_diameter_mm, length_mm"
        " from stick where group_id = ? order by id",
        (group_id,),
    ).fetchall():
        looks = db.execute(
            "select taken_ms, weight_g, squeeze, wrinkle_mm, diameter_mm, note"
            " from weigh_in where stick_id = ? order by taken_ms, id",
            (number,),
        ).fetchall()
        yield Stick(
            number=number,
            tag=tag,
            green_weight_g=green_g,
            hang_weight_g=hang_g,
            hang_diameter_mm=across_mm,
            length_mm=length_mm,
            weigh_ins=tuple(
                WeighIn(
                    taken_at=from_ms(taken_ms),
                    weight_g=weight_g,
                    squeeze=squeeze,
                    wrinkle_mm=wrinkle_mm,
                    diameter_mm=thick_mm,
                    note=note,
                )
                for taken_ms, weight_g, squeeze, wrinkle_mm, thick_mm, note in looks
            ),
        )


@contextmanager
def without_the_indices_of_now(db: Database) -> Iterator[None]:
    made = db.execute(
        "select name, sql from sqlite_master where name in ('stick_by_group', 'hang_by_group')"
    ).fetchall()
    for name, _ in made:
        db.execute(f"drop index {name}")
    yield
    for _, sql in made:
        db.execute(sql)


def read_the_closet(db: Database, until: datetime) -> int:
    """Let the closet's sensor have been read for some weeks, and return how often it was."""
    count = WEEKS_OF_READINGS * 7 * 86_400 // READ_EVERY_S
    first_ms = to_ms(until) - 1000 * READ_EVERY_S * count
    with db.atomic():
        db.execute("insert into room (id, name) values (1, 'closet')")
        db.execute("insert into sensor (id, room_id, name) values (1, 1, 'rail')")
        db.conn.executemany(
            "insert into reading (sensor_id, taken_ms, uptime_ms, temperature_c, humidity_pct)"
            " values (1, ?, ?, ?, 76.0)",
            (
                (first_ms + 1000 * READ_EVERY_S * place, place, 12.0 + place % 97 / 100)
                for place in range(count)
            ),
        )
    return count


def page_runs(folder: Path, newest: int, some: int, now: datetime) -> dict[str, Callable[[], int]]:
    """Return what asks the web application for a page and gives the bytes of its answer."""
    given = {"store": {"folder": str(folder)}}
    settings = check_settings(given | ROOM, source="bench")
    client = create_app(settings, clock=StoppedClock(now), boot_id="bench").test_client()

    def run(path: str) -> Callable[[], int]:
        return lambda: len(client.get(path).data)

    return {
        "the list": run("/batches"),
        "a batch, pulled": run(f"/batches/{some}"),
        "a batch, hung for three weeks": run(f"/batches/{newest}"),
        "its record to print": run(f"/batches/{newest}/record"),
    }


def middle_ms(read: Callable[[], object], rounds: int) -> float:
    took_ms = []
    for _ in range(rounds):
        began_s = time.perf_counter()
        read()
        took_ms.append(1000 * (time.perf_counter() - began_s))
    return statistics.median(took_ms)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--batches", type=int, default=1000)
    parser.add_argument("--rounds", type=int, default=5)
    given = parser.parse_args()
    with TemporaryDirectory() as folder:
        path = prepare_database(Path(folder))
        db = connect(path)
        fill(db, given.batches)
        (count,) = db.execute("select count(*) from weigh_in").fetchone()
        print(
            f"{given.batches} batches, {count} weigh-ins, {path.stat().st_size / 1e6:.0f} MB,"
            f" middle of {given.rounds}\n"
        )
        some = given.batches // 2
        with without_the_indices_of_now(db):
            first_ms = middle_ms(lambda: as_at_first(db, some), given.rounds)
        runs: dict[str, Callable[[], object]] = {
            "batches: all, with weigh-ins": lambda: batches(db),
            "batches_in_short: all, for a list": lambda: batches_in_short(db),
            "hanging_batches": lambda: hanging_batches(db),
            "batch: one with its weigh-ins": lambda: batch(db, some),
            "batch_record: one, all of it": lambda: batch_record(db, some),
        }
        print(f"{'':36}{'ms':>9}{'ratio':>9}")
        print(f"{'as at first: one batch':36}{first_ms:9.2f}{1:9.4f}")
        for name, read in runs.items():
            took_ms = middle_ms(read, given.rounds)
            print(f"{name:36}{took_ms:9.2f}{took_ms / first_ms:9.4f}")
        print(f"\nGoal: batch_record at most {GOAL_MS:.0f} ms.\n")
        hung_at = FIRST + timedelta(days=3 * given.batches)
        now = hung_at + timedelta(weeks=WEEKS_OF_READINGS)
        print(f"Pages, {read_the_closet(db, now)} readings\n\n{'':36}{'ms':>9}{'kB':>9}")
        db.close()
        pages = page_runs(Path(folder), given.batches, some, now)
        for name, ask in pages.items():
            print(f"{name:36}{middle_ms(ask, given.rounds):9.1f}{ask() / 1000:9.1f}")
        print(f"\nGoal: a batch's page at most {PAGE_GOAL_MS:.0f} ms.")


if __name__ == "__main__":
    main()
