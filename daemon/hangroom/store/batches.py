"""Entering batches, their groups and tagged sticks; the door to all that is known of them.

Owns the tables batch, stick_group and stick. `hangroom.store.batch_view` reads them back,
`hangroom.store.hanging` owns where the groups hang, and `hangroom.store.record` owns what else a
batch's record holds, and every correction. The page writes all of these.
"""

import secrets
from collections.abc import Sequence
from datetime import datetime

from sqlite_utils import Database

from hangroom.errors import InputError
from hangroom.store.batch_facts import (
    BatchFacts,
    CasingKind,
    GroupName,
    NewGroup,
    NewStick,
)
from hangroom.store.batch_view import (
    Batch,
    Group,
    Stick,
    WeighIn,
    batch,
    batches,
    batches_in_short,
    hanging_batches,
)
from hangroom.store.checks import check_moment
from hangroom.store.database import durably
from hangroom.store.hanging import insert_stay, pull_group
from hangroom.store.moments import to_ms

__all__ = [
    "Batch",
    "Group",
    "NewGroup",
    "NewStick",
    "Stick",
    "WeighIn",
    "add_batch",
    "add_group",
    "batch",
    "batch_id_of",
    "batch_ids",
    "batches",
    "batches_in_short",
    "group_named",
    "hanging_batches",
    "pull_group",
]


def add_batch(
    db: Database,
    *,
    name: str,
    started_at: datetime,
    groups: Sequence[NewGroup],
    note: str = "",
    sample: bool = False,
    green_weight_g: float | None = None,
    casing: CasingKind | None = None,
    casing_diameter_mm: float | None = None,
    key: str | None = None,
    by: str = "",
    now: datetime | None = None,
) -> int:
    """Store a batch with its groups and tagged sticks, and return its number.

    `key` is made where the batch is typed: the same key twice is one batch. `now` is when it is
    entered; left out, it is when all of it had happened. Raises InputError where a tag is already
    in use on a stick of another batch, or for what cannot be; nothing is stored then.
    """
    facts = BatchFacts(
        name=name,
        started_at=started_at,
        note=note,
        green_weight_g=green_weight_g,
        casing=casing,
        casing_diameter_mm=casing_diameter_mm,
    )
    hung = [group.hung_at for group in groups if group.hung_at is not None]
    entered_at = now or max([started_at, *hung])
    check_moment("batch's start", started_at, entered_at=entered_at)
    with durably(db):
        known = db.execute("select number from batch where key = ?", (key,)).fetchone()
        if known is not None:
            return int(known[0])
        (number,) = db.execute("select coalesce(max(number), 0) + 1 from batch").fetchone()
        (batch_id,) = db.execute(
            "insert into batch (number, name, started_ms, note, green_weight_g, casing,"
            " casing_diameter_mm, sample, key, entered_ms, entered_by)"
            " values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) returning id",
            (
                number,
                facts.name,
                to_ms(facts.started_at),
                facts.note,
                facts.green_weight_g,
                facts.casing,
                facts.casing_diameter_mm,
                int(sample),
                key or _new_key(),
                to_ms(entered_at),
                by,
            ),
        ).fetchone()
        for group in groups:
            _add_group(db, batch_id, group, by=by, now=entered_at)
    return int(number)


def add_group(
    db: Database, batch_number: int, group: NewGroup, *, now: datetime, by: str = ""
) -> bool:
    """Store one more group and return True, or False where the batch has one of that letter.

    Raises InputError where there is no such batch or a tag is in use; nothing is stored then.
    """
    with durably(db):
        batch_id = batch_id_of(db, batch_number)
        if db.execute(
            "select 1 from stick_group where batch_id = ? and letter = ?", (batch_id, group.letter)
        ).fetchone():
            return False
        _add_group(db, batch_id, group, by=by, now=now)
    return True


def _add_group(db: Database, batch_id: int, group: NewGroup, *, by: str, now: datetime) -> None:
    like_key = None if group.like is None else group_named(db, group.like)[1]
    (group_id,) = db.execute(
        "insert into stick_group (batch_id, letter, finish, target_yield_pct, sticks, like_key,"
        " key) values (?, ?, ?, ?, ?, ?, ?) returning id",
        (
            batch_id,
            group.letter,
            group.finish,
            group.target_yield_pct,
            group.sticks,
            like_key,
            _new_key(),
        ),
    ).fetchone()
    if group.room is not None and group.hung_at is not None:
        check_moment("time it was hung", group.hung_at, entered_at=now)
        insert_stay(db, group_id, room=group.room, at=group.hung_at, by=by, now=now)
    for stick in group.tagged:
        _add_stick(db, group_id, stick)


def _add_stick(db: Database, group_id: int, stick: NewStick) -> None:
    if db.execute("select 1 from stick where tag = ?", (stick.tag,)).fetchone():
        raise InputError(
            f"Tag {stick.tag} is already in use. Give each stick a tag of its own; "
            "nothing was stored."
        )
    db.execute(
        "insert into stick (group_id, tag, green_weight_g, cooked_weight_g, hang_weight_g,"
        " hang_diameter_mm, length_mm, key) values (?, ?, ?, ?, ?, ?, ?, ?)",
        (
            group_id,
            stick.tag,
            stick.green_weight_g,
            stick.cooked_weight_g,
            stick.hang_weight_g,
            stick.hang_diameter_mm,
            stick.length_mm,
            _new_key(),
        ),
    )


def batch_ids(db: Database) -> dict[int, int]:
    """Return the row id of every batch by its number."""
    return dict(db.execute("select number, id from batch").fetchall())


def batch_id_of(db: Database, number: int) -> int:
    """Return the row id of a batch; InputError where there is none."""
    row = db.execute("select id from batch where number = ?", (number,)).fetchone()
    if row is None:
        raise InputError(f"There is no batch {number}. Check the number; nothing was stored.")
    return int(row[0])


def group_named(db: Database, name: GroupName) -> tuple[int, str]:
    """Return a group's row id and key; InputError where there is none."""
    row = db.execute(
        "select stick_group.id, stick_group.key from stick_group join batch on batch.id = batch_id"
        " where number = ? and letter = ?",
        (name.batch, name.letter),
    ).fetchone()
    if row is None:
        raise InputError(
            f"There is no group {name.letter} in batch {name.batch}. Check both; "
            "nothing was stored."
        )
    return int(row[0]), str(row[1])


def _new_key() -> str:
    return secrets.token_hex(16)
