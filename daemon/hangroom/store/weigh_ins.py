"""Entering weigh-ins. The page's table; every entry carries a key, so that twice is once."""

from dataclasses import dataclass
from datetime import datetime

from sqlite_utils import Database

from hangroom.errors import InputError
from hangroom.store.database import durably
from hangroom.store.moments import to_ms


@dataclass(frozen=True, slots=True, kw_only=True)
class NewWeighIn:
    """One inspection as it is entered, SI."""

    key: str
    tag: str
    taken_at: datetime
    weight_g: float
    squeeze: int | None = None
    wrinkle_mm: float | None = None
    diameter_mm: float | None = None
    note: str = ""


def add_weigh_in(db: Database, entry: NewWeighIn) -> bool:
    """Store an entry and return True, or False where the same key is already stored.

    Raises InputError where no stick bears the tag.
    """
    stick = db.execute("select id from stick where tag = ?", (entry.tag,)).fetchone()
    if stick is None:
        raise InputError(f"No stick bears the tag {entry.tag}. Check the tag; nothing was stored.")
    with durably(db):
        done = db.execute(
            "insert into weigh_in (key, stick_id, taken_ms, weight_g, squeeze, wrinkle_mm,"
            " diameter_mm, note) values (?, ?, ?, ?, ?, ?, ?, ?) on conflict (key) do nothing",
            (
                entry.key,
                stick[0],
                to_ms(entry.taken_at),
                entry.weight_g,
                entry.squeeze,
                entry.wrinkle_mm,
                entry.diameter_mm,
                entry.note,
            ),
        )
    return bool(done.rowcount)


def last_entry_at(db: Database, batch_number: int) -> int | None:
    """Return the time (UTC ms) of the newest weigh-in of a batch, or None."""
    (last_ms,) = db.execute(
        "select max(taken_ms) from weigh_in join stick on stick.id = stick_id"
        " join stick_group on stick_group.id = group_id join batch on batch.id = batch_id"
        " where batch.number = ?",
        (batch_number,),
    ).fetchone()
    return None if last_ms is None else int(last_ms)
