"""Reading batches back with their groups, sticks and weigh-ins: five queries, however many batches.

Owns no table.
"""

import json
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from hangroom.store.batch_facts import CasingKind, GroupName, SurfaceFinding, surface_read
from hangroom.store.moments import from_ms


@dataclass(frozen=True, slots=True, kw_only=True)
class WeighIn:
    """One inspection of one stick; only the weight is always there.

    `surface` is what was found on it: nothing, where it is empty; not looked at, where it is None.
    """

    taken_at: datetime
    weight_g: float
    squeeze: int | None
    wrinkle_mm: float | None
    diameter_mm: float | None
    note: str
    surface: frozenset[SurfaceFinding] | None = None
    entered_by: str = ""
    key: str = field(default="", compare=False)


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
    cooked_weight_g: float | None = None
    key: str = field(default="", compare=False)


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
    like: GroupName | None = None
    key: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """A batch with its groups; `sample` marks invented data."""

    number: int
    name: str
    started_at: datetime
    note: str
    sample: bool
    groups: tuple[Group, ...]
    green_weight_g: float | None = None
    fat_drip_g: float | None = None
    casing: CasingKind | None = None
    casing_diameter_mm: float | None = None
    entered_by: str = ""
    key: str = field(default="", compare=False)

    @property
    def hangs(self) -> bool:
        """Whether any of its groups hangs in a room now."""
        return any(group.room is not None for group in self.groups)


def batches(db: Database) -> list[Batch]:
    """Return every batch with everything that belongs to it, newest first."""
    return _with_groups(db, db.execute(f"{_BATCH} order by number desc").fetchall())


def batch(db: Database, number: int) -> Batch | None:
    """Return one batch with everything that belongs to it, or None where there is none."""
    rows = db.execute(f"{_BATCH} where number = ?", (number,)).fetchall()
    return next(iter(_with_groups(db, rows)), None)


def hanging_batches(db: Database) -> list[Batch]:
    """Return the batches of which a group hangs now, newest first."""
    rows = db.execute(f"{_BATCH} {_HANGING} order by number desc").fetchall()
    return _with_groups(db, rows)


def batches_in_short(db: Database) -> list[Batch]:
    """Return every batch as a list needs it, newest first: each stick's newest weigh-in only."""
    rows = db.execute(f"{_BATCH} order by number desc").fetchall()
    return _with_groups(db, rows, weigh_ins=_NEWEST_WEIGH_INS)


_BATCH = """select id, number, name, started_ms, note, sample, green_weight_g, fat_drip_g,
    casing, casing_diameter_mm, entered_by, key from batch"""

_HANGING = """where id in (
    select batch_id from stick_group join hang on group_id = stick_group.id
    where to_ms is null and struck_ms is null
)"""

# The batches that are asked for come as one value: their row ids, as JSON.
_STAYS = """select group_id, room, from_ms, to_ms
    from json_each(?) join stick_group on batch_id = json_each.value
    join hang on group_id = stick_group.id where struck_ms is null order by from_ms, hang.id"""

_GROUPS = """select of.batch_id, of.id, of.letter, of.finish, of.target_yield_pct, of.sticks,
    of.key, batch.number, liked.letter
    from json_each(?) join stick_group of on of.batch_id = json_each.value
    left join stick_group liked on liked.key = of.like_key
    left join batch on batch.id = liked.batch_id
    order by of.letter"""

_STICKS = """select group_id, stick.id, tag, green_weight_g, cooked_weight_g, hang_weight_g,
    hang_diameter_mm, length_mm, stick.key
    from json_each(?) join stick_group on batch_id = json_each.value
    join stick on group_id = stick_group.id order by stick.id"""

_WEIGH_IN = """select stick_id, taken_ms, weight_g, squeeze, wrinkle_mm, diameter_mm, note, surface,
    entered_by, weigh_in.key
    from json_each(?) join stick_group on batch_id = json_each.value
    join stick on group_id = stick_group.id"""

_WEIGH_INS = f"""{_WEIGH_IN} join weigh_in on stick_id = stick.id
    where struck_ms is null order by taken_ms, weigh_in.id"""

_NEWEST_WEIGH_INS = f"""{_WEIGH_IN} join weigh_in on weigh_in.id = (
        select id from weigh_in where stick_id = stick.id and struck_ms is null
        order by taken_ms desc, id desc limit 1
    )"""  # noqa: S608 - both parts are this file's own text


def _with_groups(
    db: Database, rows: Sequence[tuple[Any, ...]], weigh_ins: str = _WEIGH_INS
) -> list[Batch]:
    ids = json.dumps([row[0] for row in rows])
    groups = _groups(db, ids, _sticks(db, ids, _weigh_ins(db, ids, weigh_ins)))
    return [
        Batch(
            number=number,
            name=name,
            started_at=from_ms(started_ms),
            note=note,
            sample=bool(sample),
            groups=tuple(groups[batch_id]),
            green_weight_g=green_g,
            fat_drip_g=drip_g,
            casing=None if casing is None else CasingKind(casing),
            casing_diameter_mm=across_mm,
            entered_by=by,
            key=key,
        )
        for (
            batch_id,
            number,
            name,
            started_ms,
            note,
            sample,
            green_g,
            drip_g,
            casing,
            across_mm,
            by,
            key,
        ) in rows
    ]


def _groups(db: Database, ids: str, sticks: Mapping[int, list[Stick]]) -> dict[int, list[Group]]:
    # The newest stay of each group comes last, and stays.
    stays = {group_id: stay for group_id, *stay in db.execute(_STAYS, (ids,))}
    groups: dict[int, list[Group]] = defaultdict(list)
    for batch_id, number, letter, finish, target_pct, count, key, *like in db.execute(
        _GROUPS, (ids,)
    ):
        room, from_ms_, to_ms_ = stays.get(number, (None, None, None))
        groups[batch_id].append(
            Group(
                number=number,
                letter=letter,
                finish=finish,
                target_yield_pct=target_pct,
                sticks=count,
                room=room if to_ms_ is None else None,
                hung_at=None if from_ms_ is None else from_ms(from_ms_),
                tagged=tuple(sticks[number]),
                pulled_at=None if to_ms_ is None else from_ms(to_ms_),
                like=None if like[0] is None else GroupName(batch=like[0], letter=like[1]),
                key=key,
            )
        )
    return groups


def _sticks(
    db: Database, ids: str, weigh_ins: Mapping[int, list[WeighIn]]
) -> dict[int, list[Stick]]:
    sticks: dict[int, list[Stick]] = defaultdict(list)
    for group_id, number, tag, green_g, cooked_g, hang_g, across_mm, length_mm, key in db.execute(
        _STICKS, (ids,)
    ):
        sticks[group_id].append(
            Stick(
                number=number,
                tag=tag,
                green_weight_g=green_g,
                cooked_weight_g=cooked_g,
                hang_weight_g=hang_g,
                hang_diameter_mm=across_mm,
                length_mm=length_mm,
                weigh_ins=tuple(weigh_ins[number]),
                key=key,
            )
        )
    return sticks


def _weigh_ins(db: Database, ids: str, sql: str) -> dict[int, list[WeighIn]]:
    weigh_ins: dict[int, list[WeighIn]] = defaultdict(list)
    for stick_id, taken_ms, weight_g, squeeze, wrinkle_mm, across_mm, note, *more in db.execute(
        sql, (ids,)
    ):
        surface, by, key = more
        weigh_ins[stick_id].append(
            WeighIn(
                taken_at=from_ms(taken_ms),
                weight_g=weight_g,
                squeeze=squeeze,
                wrinkle_mm=wrinkle_mm,
                diameter_mm=across_mm,
                note=note,
                surface=surface_read(surface),
                entered_by=by,
                key=key,
            )
        )
    return weigh_ins
