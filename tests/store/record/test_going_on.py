"""What is entered when it begins and goes on: a step that ends later, readings that follow."""

from datetime import timedelta

import pytest
from sqlite_utils import Database
from store.record.full_batch import ANN, STARTED, after

from hangroom.errors import InputError
from hangroom.store.batches import add_batch
from hangroom.store.record.edits import Kept, correct
from hangroom.store.record.entries import add_entry
from hangroom.store.record.series import (
    Origin,
    Series,
    SeriesKind,
    TemperaturePoint,
    add_points,
    add_series,
)
from hangroom.store.record.steps import Step, StepKind
from hangroom.store.record.whole import batch_record


@pytest.fixture
def begun(db: Database) -> Database:
    add_batch(db, name="x", started_at=STARTED, groups=[], now=STARTED)
    return db


def test_a_step_entered_when_it_began_ends_hours_later(begun: Database) -> None:
    smoke = Step(
        key="smoke", entered_at=after(1), entered_by=ANN, kind=StepKind.SMOKE, from_at=after(1)
    )
    add_entry(begun, 1, smoke)
    ended = {"to_at": after(4)}
    assert correct(begun, Kept.STEP, "smoke", ended, key="end", by=ANN, now=after(4))
    record = batch_record(begun, 1)
    assert record is not None
    assert record.steps[0].to_at == after(4)


def test_a_step_cannot_be_made_to_end_in_the_future(begun: Database) -> None:
    smoke = Step(
        key="smoke", entered_at=after(1), entered_by=ANN, kind=StepKind.SMOKE, from_at=after(1)
    )
    add_entry(begun, 1, smoke)
    ended = {"to_at": after(4)}
    with pytest.raises(InputError, match="in the future"):
        correct(begun, Kept.STEP, "smoke", ended, key="end", by=ANN, now=after(2))


def test_readings_follow_for_hours_and_are_read_back(begun: Database) -> None:
    first = TemperaturePoint(at=after(1), temperature_c=4.0)
    series = Series(
        key="cook",
        entered_at=after(1),
        entered_by=ANN,
        kind=SeriesKind.COOK,
        probe="thickest stick",
        origin=Origin.TYPED,
        points=(first,),
    )
    add_series(begun, 1, series)
    later = TemperaturePoint(at=after(5), temperature_c=61.0)
    add_points(begun, "cook", [later], now=after(5))
    record = batch_record(begun, 1)
    assert record is not None
    assert record.series[0].points == (first, later)


def test_a_new_series_with_a_reading_to_come_is_refused(begun: Database) -> None:
    points = tuple(
        TemperaturePoint(at=after(1) + timedelta(hours=hours), temperature_c=60.0)
        for hours in (0, 3)
    )
    series = Series(
        key="cook",
        entered_at=after(2),
        entered_by=ANN,
        kind=SeriesKind.COOK,
        probe="thickest stick",
        origin=Origin.PASTED,
        points=points,
    )
    with pytest.raises(InputError, match=r"last reading.*in the future"):
        add_series(begun, 1, series)
