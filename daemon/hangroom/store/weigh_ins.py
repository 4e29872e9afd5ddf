"""Entering weigh-ins: the table weigh_in. Every entry carries a key, so that twice is once."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlite_utils import Database

from hangroom.errors import InputError
from hangroom.product.slips import Slip, slip_in
from hangroom.store.batch_facts import THICKEST_MM, SurfaceFinding, surface_stored
from hangroom.store.checks import (
    LONGEST_KEY,
    check_aware,
    check_moment,
    check_number,
    check_text,
    check_weight,
    check_whole,
)
from hangroom.store.database import durably
from hangroom.store.moments import from_ms, to_ms

DEEPEST_WRINKLE_MM = 50.0
SQUEEZES = (1, 5)


@dataclass(frozen=True, slots=True, kw_only=True)
class NewWeighIn:
    """One inspection as it is entered, SI; `surface` None: not looked at.

    Left out, `entered_at` is the time it was taken. Raises InputError for what cannot be.
    """

    key: str
    tag: str
    taken_at: datetime
    weight_g: float
    squeeze: int | None = None
    wrinkle_mm: float | None = None
    diameter_mm: float | None = None
    note: str = ""
    surface: frozenset[SurfaceFinding] | None = None
    entered_at: datetime | None = None
    entered_by: str = ""
    struck_at: datetime | None = None

    def __post_init__(self) -> None:
        check_text("key", self.key, needed=True, longest=LONGEST_KEY)
        check_weight(f"weight of {self.tag}", self.weight_g)
        if self.squeeze is not None:
            check_whole(f"squeeze of {self.tag}", self.squeeze, SQUEEZES)
        if self.wrinkle_mm is not None:
            check_number("wrinkle depth in mm", self.wrinkle_mm, (0.0, DEEPEST_WRINKLE_MM))
        if self.diameter_mm is not None:
            check_number("diameter in mm", self.diameter_mm, (0.0, THICKEST_MM), above=True)
        check_text("note", self.note)
        check_aware("time of the weigh-in", self.taken_at)
        if self.entered_at is not None:
            check_moment("time of the weigh-in", self.taken_at, entered_at=self.entered_at)


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """Something about an entry that looks like a slip; it is stored where the caller confirms it.

    `last_g` is what the stick weighed before, `last_at` when, None for its green or hang weight.
    """

    entry: NewWeighIn
    slip: Slip
    last_g: float
    last_at: datetime | None


def add_weigh_in(db: Database, entry: NewWeighIn) -> bool:
    """Store an entry and return True, or False where the same key is already stored.

    Raises InputError where no stick bears the tag.
    """
    with durably(db):
        return insert_weigh_in(db, entry)


def insert_weigh_in(db: Database, entry: NewWeighIn) -> bool:
    """Do the same in the caller's transaction."""
    done = db.execute(
        "insert into weigh_in (key, stick_id, taken_ms, weight_g, squeeze, wrinkle_mm,"
        " diameter_mm, note, surface, entered_ms, entered_by)"
        " values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) on conflict (key) do nothing",
        (
            entry.key,
            _stick_id(db, entry.tag),
            to_ms(entry.taken_at),
            entry.weight_g,
            entry.squeeze,
            entry.wrinkle_mm,
            entry.diameter_mm,
            entry.note,
            surface_stored(entry.surface),
            to_ms(entry.entered_at or entry.taken_at),
            entry.entered_by,
        ),
    )
    return bool(done.rowcount)


def add_weigh_ins(db: Database, entries: Sequence[NewWeighIn]) -> list[NewWeighIn]:
    """Store entries, all or none, and return those that were new.

    Raises InputError where no stick bears a tag.
    """
    with durably(db):
        return [entry for entry in entries if insert_weigh_in(db, entry)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stored:
    """Whose entry a key is of, and when it was entered; struck out or not."""

    tag: str
    entered_at: datetime
    struck: bool


def stored_as(db: Database, key: str) -> Stored | None:
    """Return what is stored under a key, or None where nothing is."""
    row = db.execute(
        "select tag, entered_ms, struck_ms from weigh_in join stick on stick.id = stick_id"
        " where weigh_in.key = ?",
        (key,),
    ).fetchone()
    if row is None:
        return None
    tag, entered_ms, struck_ms = row
    return Stored(tag=tag, entered_at=from_ms(entered_ms), struck=struck_ms is not None)


def stored_weight_g(db: Database, key: str) -> float | None:
    """Return what an entry's weight is by now, corrected or not, g; None where it is not stored."""
    row = db.execute("select weight_g from weigh_in where key = ?", (key,)).fetchone()
    return None if row is None else float(row[0])


def tags_in_use(db: Database) -> frozenset[str]:
    """Return the tag of every stick."""
    return frozenset(tag for (tag,) in db.execute("select tag from stick"))


def questions(db: Database, entries: Sequence[NewWeighIn]) -> list[Question]:
    """Return what to ask about entries before they are stored, in the order they were taken.

    Each is held against the weighing of its stick before it, stored or among the entries. An entry
    whose key is stored is not asked about. Raises InputError where no stick bears a tag.
    """
    asked = []
    taken: dict[str, _Weighing] = {}
    for entry in sorted(entries, key=lambda entry: entry.taken_at):
        if db.execute("select 1 from weigh_in where key = ?", (entry.key,)).fetchone():
            continue
        last = _stored_before(db, entry)
        earlier = taken.get(entry.tag, last)
        if earlier.since_at > last.since_at:
            last = earlier
        slip = slip_in(
            entry.weight_g,
            last_g=last.weight_g,
            since_days=max(0.0, (entry.taken_at - last.since_at) / timedelta(days=1)),
        )
        if slip is None:
            taken[entry.tag] = _Weighing(entry.weight_g, entry.taken_at, entry.taken_at)
        else:
            asked.append(
                Question(entry=entry, slip=slip, last_g=last.weight_g, last_at=last.taken_at)
            )
    return asked


def last_entry_at(db: Database, batch_number: int, *, until: datetime) -> int | None:
    """Return the time (UTC ms) of the newest weigh-in of a batch until a moment, or None."""
    (last_ms,) = db.execute(
        "select max(taken_ms) from weigh_in join stick on stick.id = stick_id"
        " join stick_group on stick_group.id = group_id join batch on batch.id = batch_id"
        " where batch.number = ? and struck_ms is null and taken_ms <= ?",
        (batch_number, to_ms(until)),
    ).fetchone()
    return None if last_ms is None else int(last_ms)


@dataclass(frozen=True, slots=True)
class _Weighing:
    weight_g: float
    taken_at: datetime | None
    since_at: datetime


def _stored_before(db: Database, entry: NewWeighIn) -> _Weighing:
    stick_id = _stick_id(db, entry.tag)
    row = db.execute(
        "select weight_g, taken_ms from weigh_in where stick_id = ? and taken_ms <= ?"
        " and struck_ms is null order by taken_ms desc, id desc limit 1",
        (stick_id, to_ms(entry.taken_at)),
    ).fetchone()
    if row is not None:
        weight_g, taken_ms = row
        return _Weighing(weight_g, from_ms(taken_ms), from_ms(taken_ms))
    # Never weighed since it was hung, or since it was stuffed.
    weight_g, since_ms = db.execute(
        "select coalesce(hang_weight_g, cooked_weight_g, stick.green_weight_g),"
        " coalesce((select min(from_ms) from hang where hang.group_id = stick.group_id"
        " and struck_ms is null), started_ms) from stick"
        " join stick_group on stick_group.id = group_id join batch on batch.id = batch_id"
        " where stick.id = ?",
        (stick_id,),
    ).fetchone()
    return _Weighing(weight_g, None, from_ms(since_ms))


def _stick_id(db: Database, tag: str) -> int:
    row = db.execute("select id from stick where tag = ?", (tag,)).fetchone()
    if row is None:
        raise InputError(f"No stick bears the tag {tag}. Check the tag; nothing was stored.")
    return int(row[0])
