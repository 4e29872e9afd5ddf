"""A full batch, entered once and again: all of it comes back, and twice is once."""

from dataclasses import replace
from datetime import timedelta

import pytest
from sqlite_utils import Database
from store.record.full_batch import (
    CHILL,
    COOK,
    HUNG,
    LINES,
    STARTED,
    WEIGH_INS,
    FullBatch,
    points,
    steps,
)

from hangroom.store.batch_facts import CasingKind
from hangroom.store.record.whole import BatchRecord, batch_record


def record_of(full: FullBatch) -> BatchRecord:
    found = batch_record(full.db, 1)
    assert found is not None
    return found


def everything(db: Database) -> dict[str, list[tuple[object, ...]]]:
    """Every row of every table, read without any of our own code."""
    tables = [
        name
        for (name,) in db.execute("select name from sqlite_master where type = 'table'").fetchall()
    ]
    return {
        table: db.execute(f"select * from {table} order by 1, 2").fetchall()  # noqa: S608
        for table in tables
    }


def test_what_went_in_and_was_done_comes_back_as_it_was_entered(full: FullBatch) -> None:
    record = record_of(full)
    assert record.recipe == LINES
    assert record.steps == tuple(steps())
    assert record.series == (replace(COOK, points=COOK.points + points(6.25, 68.9)), CHILL)
    assert [entry.key for entry in (*record.measurements, *record.looks)] == ["aw", "look"]
    assert [*record.measurements, *record.looks] == list(full.found())


def test_the_batch_and_its_sticks_come_back_with_what_was_corrected(full: FullBatch) -> None:
    batch = record_of(full).batch
    assert (batch.casing, batch.casing_diameter_mm) == (CasingKind.COLLAGEN, 19.0)
    assert (batch.green_weight_g, batch.fat_drip_g) == (2630.0, 12.5)
    weighed = {
        stick.tag: [(look.weight_g, look.surface) for look in stick.weigh_ins]
        for group in batch.groups
        for stick in group.tagged
    }
    assert weighed == {
        "1A1": [(71.4, frozenset()), (68.30000000000001, None)],
        "1A2": [],
        "1B1": [(71.0, WEIGH_INS[2].surface), (61.7, None)],
        "1B2": [],
    }


def test_where_the_groups_hung_is_told_stay_by_stay(full: FullBatch) -> None:
    stays = [(s.group, s.room, s.from_at - HUNG, s.to_at) for s in record_of(full).stays]
    day = timedelta(days=1)
    assert stays == [
        ("A", "closet", timedelta(0), HUNG + 2 * day + timedelta(hours=1)),
        ("B", "closet", timedelta(0), HUNG + 2 * day),
        ("B", "fridge", 2 * day, None),
    ]


def test_the_frozen_sums_are_those_of_the_handbook_with_their_working(full: FullBatch) -> None:
    """Processing Inspectors' Calculations Handbook, ch. 3: weight x fraction x 1e6 / meat."""
    (frozen,) = record_of(full).sums
    nitrite = frozen.sums[0]
    assert nitrite.working.inputs == {
        "curing_salt_g": 6.2,
        "label_nitrite_pct": 6.25,
        "meat_green_g": 2500.0,
    }
    assert getattr(nitrite, "result_ppm", None) == pytest.approx(6.2 * 0.0625 * 1e6 / 2500)
    assert frozen.checked_at == STARTED + timedelta(hours=0.2)


def test_entering_everything_a_second_time_changes_nothing(full: FullBatch) -> None:
    before = everything(full.db)
    assert full.enter() == 1
    assert everything(full.db) == before


def test_a_batch_that_is_not_there_has_no_record(db: Database) -> None:
    assert batch_record(db, 7) is None
