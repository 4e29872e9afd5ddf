"""A batch's whole record, read in a fixed number of queries. Owns no table."""

from dataclasses import dataclass

from sqlite_utils import Database

from hangroom.store.batches import Batch, batch, batch_id_of
from hangroom.store.hanging import Hang, stays_of
from hangroom.store.record.edits import Edit, edits_of
from hangroom.store.record.entries import entries_of
from hangroom.store.record.finish import FinishProfile
from hangroom.store.record.looks import Look, Measurement
from hangroom.store.record.photos import Photo
from hangroom.store.record.recipe import RecipeLine
from hangroom.store.record.series import Series, series_of
from hangroom.store.record.steps import Step
from hangroom.store.record.sums import FrozenSums


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchRecord:
    """All that is kept of one batch and was not struck out, each part oldest first.

    `stays` is where its groups hung; weigh-ins are with the batch's sticks. `edits` has what was
    corrected, and what was struck out.
    """

    batch: Batch
    recipe: tuple[RecipeLine, ...]
    sums: tuple[FrozenSums, ...]
    steps: tuple[Step, ...]
    series: tuple[Series, ...]
    stays: tuple[Hang, ...]
    measurements: tuple[Measurement, ...]
    looks: tuple[Look, ...]
    photos: tuple[Photo, ...]
    profiles: tuple[FinishProfile, ...]
    edits: tuple[Edit, ...]


def batch_record(db: Database, number: int) -> BatchRecord | None:
    """Return a batch's whole record, or None where there is no such batch."""
    found = batch(db, number)
    if found is None:
        return None
    batch_id = batch_id_of(db, number)
    return BatchRecord(
        batch=found,
        recipe=tuple(entries_of(db, RecipeLine, batch_id)),
        sums=tuple(entries_of(db, FrozenSums, batch_id)),
        steps=tuple(entries_of(db, Step, batch_id)),
        series=tuple(series_of(db, batch_id)),
        stays=tuple(stays_of(db, batch_id)),
        measurements=tuple(entries_of(db, Measurement, batch_id)),
        looks=tuple(entries_of(db, Look, batch_id)),
        photos=tuple(entries_of(db, Photo, batch_id)),
        profiles=tuple(entries_of(db, FinishProfile, batch_id)),
        edits=tuple(edits_of(db, batch_id)),
    )
