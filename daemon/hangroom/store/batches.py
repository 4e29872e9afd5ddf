"""Batches, their groups, where the groups hang, and their tagged sticks. The page's tables."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlite_utils import Database

from hangroom.errors import InputError
from hangroom.store.database import durably
from hangroom.store.moments import from_ms, to_ms


@dataclass(frozen=True, slots=True, kw_only=True)
class NewStick:
    """A tagged stick as it is entered."""

    tag: str
    green_weight_g: float
    hang_weight_g: float | None = None
    hang_diameter_mm: float | None = None
    length_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NewGroup:
    """A group as it is entered; `target_yield_pct` is on green weight, `sticks` counts them all."""

    letter: str
    finish: str
    target_yield_pct: float
    sticks: int
    tagged: Sequence[NewStick]
    room: str
    hung_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class WeighIn:
    """One inspection of one stick; only the weight is always there."""

    taken_at: datetime
    weight_g: float
    squeeze: int | None
    wrinkle_mm: float | None
    diameter_mm: float | None
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Stick:
    """A tagged stick with all its weigh-ins, oldest first."""

    number: int
    tag: str
    green_weight_g: float
    hang_weight_g: float | None
    hang_diameter_mm: float | None
    length_mm: float | None
    weigh_ins: tuple[WeighIn, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """A group, where it hangs now (`room` is None once pulled), and its tagged sticks.

    `hung_at` is when it came into the room where it hangs, or hung last.
    """

    number: int
    letter: str
    finish: str
    target_yield_pct: float
    sticks: int
    room: str | None
    hung_at: datetime | None
    tagged: tuple[Stick, ...]
    pulled_at: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """A batch with its groups; `sample` marks invented data."""

    number: int
    name: str
    started_at: datetime
    note: str
    sample: bool
    groups: tuple[Group, ...]

    @property
    def hangs(self) -> bool:
        """Whether any of its groups hangs in a room now."""
        return any(group.room is not None for group in self.groups)


def add_batch(
    db: Database,
    *,
    name: str,
    started_at: datetime,
    groups: Sequence[NewGroup],
    note: str = "",
    sample: bool = False,
) -> int:
    """Store a batch with its groups and tagged sticks, and return its number.

    Raises InputError where a tag is already in use on a stick of another batch; nothing is
    stored then.
    """
    tags = [stick.tag for group in groups for stick in group.tagged]
    with durably(db):
        for tag in tags:
            if (
                tags.count(tag) > 1
                or db.execute("select 1 from stick where tag = ?", (tag,)).fetchone()
            ):
                raise InputError(
                    f"Tag {tag} is already in use. Give each stick a tag of its own; "
                    "nothing was stored."
                )
        (number,) = db.execute("select coalesce(max(number), 0) + 1 from batch").fetchone()
        batch_id = db.execute(
            "insert into batch (number, name, started_ms, note, sample) values (?, ?, ?, ?, ?)",
            (number, name, to_ms(started_at), note, int(sample)),
        ).lastrowid
        for group in groups:
            _add_group(db, batch_id, group)
    return int(number)


def _add_group(db: Database, batch_id: int | None, group: NewGroup) -> None:
    group_id = db.execute(
        "insert into stick_group (batch_id, letter, finish, target_yield_pct, sticks)"
        " values (?, ?, ?, ?, ?)",
        (batch_id, group.letter, group.finish, group.target_yield_pct, group.sticks),
    ).lastrowid
    db.execute(
        "insert into hang (group_id, room, from_ms) values (?, ?, ?)",
        (group_id, group.room, to_ms(group.hung_at)),
    )
    for stick in group.tagged:
        db.execute(
            "insert into stick (group_id, tag, green_weight_g, hang_weight_g, hang_diameter_mm,"
            " length_mm) values (?, ?, ?, ?, ?, ?)",
            (
                group_id,
                stick.tag,
                stick.green_weight_g,
                stick.hang_weight_g,
                stick.hang_diameter_mm,
                stick.length_mm,
            ),
        )


def batches(db: Database) -> list[Batch]:
    """Return every batch with everything that belongs to it, newest first."""
    return [
        Batch(
            number=number,
            name=name,
            started_at=from_ms(started_ms),
            note=note,
            sample=bool(sample),
            groups=tuple(_groups(db, batch_id)),
        )
        for batch_id, number, name, started_ms, note, sample in db.execute(
            "select id, number, name, started_ms, note, sample from batch order by number desc"
        ).fetchall()
    ]


def batch_ids(db: Database) -> dict[int, int]:
    """Return the row id of every batch by its number."""
    return dict(db.execute("select number, id from batch").fetchall())


def pull_group(db: Database, group_number: int, *, now: datetime) -> None:
    """Note that a group was taken off the rail."""
    with durably(db):
        db.execute(
            "update hang set to_ms = ? where group_id = ? and to_ms is null",
            (to_ms(now), group_number),
        )


def _groups(db: Database, batch_id: int) -> list[Group]:
    rows = db.execute(
        "select stick_group.id, letter, finish, target_yield_pct, sticks, room, from_ms, to_ms"
        " from stick_group left join hang on hang.id ="
        " (select max(id) from hang where group_id = stick_group.id)"
        " where batch_id = ? order by letter",
        (batch_id,),
    ).fetchall()
    return [
        Group(
            number=number,
            letter=letter,
            finish=finish,
            target_yield_pct=target_yield_pct,
            sticks=sticks,
            room=room if to_ms_ is None else None,
            hung_at=None if from_ms_ is None else from_ms(from_ms_),
            tagged=tuple(_sticks(db, number)),
            pulled_at=None if to_ms_ is None else from_ms(to_ms_),
        )
        for number, letter, finish, target_yield_pct, sticks, room, from_ms_, to_ms_ in rows
    ]


def _sticks(db: Database, group_number: int) -> list[Stick]:
    rows = db.execute(
        "select id, tag, green_weight_g, hang_weight_g, hang_diameter_mm, length_mm"
        " from stick where group_id = ? order by id",
        (group_number,),
    ).fetchall()
    return [
        Stick(
            number=number,
            tag=tag,
            green_weight_g=green_g,
            hang_weight_g=hang_g,
            hang_diameter_mm=diameter_mm,
            length_mm=length_mm,
            weigh_ins=tuple(_weigh_ins(db, number)),
        )
        for number, tag, green_g, hang_g, diameter_mm, length_mm in rows
    ]


def _weigh_ins(db: Database, stick_number: int) -> list[WeighIn]:
    rows = db.execute(
        "select taken_ms, weight_g, squeeze, wrinkle_mm, diameter_mm, note"
        " from weigh_in where stick_id = ? order by taken_ms, id",
        (stick_number,),
    ).fetchall()
    return [
        WeighIn(
            taken_at=from_ms(taken_ms),
            weight_g=weight_g,
            squeeze=squeeze,
            wrinkle_mm=wrinkle_mm,
            diameter_mm=diameter_mm,
            note=note,
        )
        for taken_ms, weight_g, squeeze, wrinkle_mm, diameter_mm, note in rows
    ]
