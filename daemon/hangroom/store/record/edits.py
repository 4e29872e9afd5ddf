"""Corrections: what a field held before stays, with who changed it, when and why. Owns edit.

A correction is held to the same rules as the entry itself. Striking an entry out is a correction
too: it stays in its table, and is no longer read. Sent twice with one key, it is one.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from enum import StrEnum
from typing import Any

from sqlite_utils import Database

from hangroom.errors import InputError
from hangroom.store.batch_facts import BatchFacts, GroupFacts, NewStick
from hangroom.store.checks import check_moment
from hangroom.store.database import durably
from hangroom.store.hanging import Hang, check_stays
from hangroom.store.moments import from_ms, to_ms
from hangroom.store.record.entries import Sql, column_value, columns_of, values_read
from hangroom.store.record.finish import FinishProfile
from hangroom.store.record.looks import Look, Measurement
from hangroom.store.record.photos import Photo
from hangroom.store.record.recipe import RecipeLine
from hangroom.store.record.series import Series, TemperaturePoint
from hangroom.store.record.steps import Step
from hangroom.store.record.sums import FrozenSums
from hangroom.store.weigh_ins import NewWeighIn


class Kept(StrEnum):
    """What can be corrected; the word is its table."""

    BATCH = "batch"
    GROUP = "stick_group"
    STICK = "stick"
    STAY = "hang"
    WEIGH_IN = "weigh_in"
    RECIPE_LINE = "recipe_line"
    SUMS = "frozen_sums"
    STEP = "step"
    SERIES = "series"
    MEASUREMENT = "measurement"
    LOOK = "look"
    PHOTO = "photo"
    FINISH_PROFILE = "finish_profile"


@dataclass(frozen=True, slots=True, kw_only=True)
class Edit:
    """One correction: the fields of one entry as they were and as they became.

    `kept` and `entry_key` say which entry. Moments are ISO 8601, the rest is as the tables hold it.
    """

    key: str
    kept: Kept
    entry_key: str
    old: Mapping[str, object]
    new: Mapping[str, object]
    why: str
    entered_at: datetime
    entered_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Form:
    """What a row is held to, what has to be joined to it, and the fields that its table lacks."""

    kind: type[Any]
    joined: str = ""
    batch_id: str = "{table}.batch_id"
    elsewhere: Mapping[str, str] = field(default_factory=dict)
    fixed: frozenset[str] = frozenset()


_GROUP = "left join stick_group on stick_group.id = group_id"
_GROUPS_BATCH = "stick_group.batch_id"
_LETTER = {"group": "letter"}
_ALWAYS_FIXED = frozenset({"key", "entered_at", "entered_by", "letter"})


def _of_group(kind: type[Any], *fixed: str) -> _Form:
    return _Form(kind=kind, joined=_GROUP, elsewhere=_LETTER, fixed=frozenset(fixed))


_FORMS: Mapping[Kept, _Form] = {
    Kept.BATCH: _Form(kind=BatchFacts, batch_id="batch.id"),
    Kept.GROUP: _Form(kind=GroupFacts, elsewhere={"like": "null"}),
    Kept.STICK: _Form(kind=NewStick, joined=_GROUP, batch_id=_GROUPS_BATCH),
    Kept.STAY: _Form(kind=Hang, joined=_GROUP, batch_id=_GROUPS_BATCH, elsewhere=_LETTER),
    Kept.WEIGH_IN: _Form(
        kind=NewWeighIn,
        joined=f"join stick on stick.id = stick_id {_GROUP}",
        batch_id=_GROUPS_BATCH,
        elsewhere={"tag": "tag"},
    ),
    Kept.RECIPE_LINE: _Form(kind=RecipeLine),
    Kept.SUMS: _Form(kind=FrozenSums, fixed=frozenset({"sums", "checked_at", "checked_by"})),
    Kept.STEP: _of_group(Step),
    Kept.SERIES: _of_group(Series),
    Kept.MEASUREMENT: _of_group(Measurement),
    Kept.LOOK: _of_group(Look),
    Kept.PHOTO: _of_group(Photo, "sha256", "media", "size"),
    Kept.FINISH_PROFILE: _of_group(FinishProfile),
}


def correct(
    db: Database,
    kept: Kept,
    entry_key: str,
    changes: Mapping[str, object],
    *,
    key: str,
    by: str,
    now: datetime,
    why: str = "",
) -> bool:
    """Change fields of an entry and keep what they held; False where nothing was to be changed.

    `changes` goes by the names of the entry's fields. Raises InputError where there is no such
    entry, or where it would no longer be one that can be; ValueError for a field that is fixed.
    """
    form = _FORMS[kept]
    columns = {
        name: column for name, column in columns_of(form.kind).items() if name not in form.elsewhere
    }
    if wrong := set(changes) - (set(columns) - _ALWAYS_FIXED - form.fixed):
        raise ValueError(f"{', '.join(sorted(wrong))} of {kept} cannot be corrected")
    with durably(db):
        if db.execute("select 1 from edit where key = ?", (key,)).fetchone():
            return False
        batch_id, entry = _entry(db, kept, form, columns, entry_key)
        new = replace(entry, **changes)
        changed = {n: v for n, v in changes.items() if getattr(entry, n) != v}
        if not changed:
            return False
        for name, value in changed.items():
            if name.endswith("_at") and isinstance(value, datetime):
                check_moment(f"new {name.removesuffix('_at')} time", value, entered_at=now)
        if "tag" in changed:
            _check_free(db, str(changed["tag"]))
        sets = ", ".join(f"{columns[name]} = ?" for name in changed)
        db.execute(
            f"update {kept} set {sets} where key = ?",  # noqa: S608 - our own names
            (*(column_value(form.kind, n, getattr(new, n)) for n in changed), entry_key),
        )
        if kept is Kept.STAY:
            check_stays(db, entry_key)
        edit = Edit(
            key=key,
            kept=kept,
            entry_key=entry_key,
            old={name: getattr(entry, name) for name in changed},
            new=changed,
            why=why,
            entered_at=now,
            entered_by=by,
        )
        _insert(db, batch_id, edit)
    return True


def was_corrected(db: Database, kept: Kept, entry_key: str) -> bool:
    """Return whether an entry is no longer as it was first stored."""
    rows = db.execute(
        "select 1 from edit where entry = ? and entry_key = ? limit 1", (str(kept), entry_key)
    )
    return rows.fetchone() is not None


def strike_out(
    db: Database,
    kept: Kept,
    entry_key: str,
    *,
    key: str,
    by: str,
    now: datetime,
    why: str = "",
) -> bool:
    """Strike an entry out: it is kept, and no longer read. False where it was struck out before.

    `correct` with `struck_at` None takes that back. Raises InputError where there is no such entry.
    """
    return correct(db, kept, entry_key, {"struck_at": now}, key=key, by=by, now=now, why=why)


def correct_point(
    db: Database,
    series_key: str,
    at: datetime,
    temperature_c: float | None,
    *,
    key: str,
    by: str,
    now: datetime,
    why: str = "",
) -> bool:
    """Change one reading of a series, None to take it out; False where nothing was to be changed.

    Raises InputError where the series has no reading at that moment, or for what cannot be.
    """
    if temperature_c is not None:
        TemperaturePoint(at=at, temperature_c=temperature_c)
    with durably(db):
        row = db.execute(
            "select batch_id, series_id, temperature_c from series join series_point"
            " on series_id = series.id where key = ? and at_ms = ?",
            (series_key, to_ms(at)),
        ).fetchone()
        known = db.execute("select 1 from edit where key = ?", (key,)).fetchone()
        if known is not None:
            return False
        if row is None:
            raise InputError("The series has no reading at that time. Nothing was changed.")
        batch_id, series_id, old_c = row
        if old_c == temperature_c:
            return False
        where = (series_id, to_ms(at))
        if temperature_c is None:
            db.execute("delete from series_point where series_id = ? and at_ms = ?", where)
        else:
            db.execute(
                "update series_point set temperature_c = ? where series_id = ? and at_ms = ?",
                (temperature_c, *where),
            )
        edit = Edit(
            key=key,
            kept=Kept.SERIES,
            entry_key=series_key,
            old={"at": at, "temperature_c": old_c},
            new={"at": at, "temperature_c": temperature_c},
            why=why,
            entered_at=now,
            entered_by=by,
        )
        _insert(db, batch_id, edit)
    return True


def edits_of(db: Database, batch_id: int) -> list[Edit]:
    """Return a batch's corrections, oldest first."""
    rows = db.execute(
        "select key, entry, entry_key, old, new, why, entered_ms, entered_by from edit"
        " where batch_id = ? order by entered_ms, id",
        (batch_id,),
    )
    return [
        Edit(
            key=key,
            kept=Kept(kept),
            entry_key=entry_key,
            old=json.loads(old),
            new=json.loads(new),
            why=why,
            entered_at=from_ms(entered_ms),
            entered_by=by,
        )
        for key, kept, entry_key, old, new, why, entered_ms, by in rows
    ]


def _entry(
    db: Database, kept: Kept, form: _Form, columns: Mapping[str, str], key: str
) -> tuple[int, Any]:
    selected = [f"{kept}.{column}" for column in columns.values()] + list(form.elsewhere.values())
    row = db.execute(
        f"select {form.batch_id.format(table=kept)}, {', '.join(selected)} from {kept}"  # noqa: S608
        f" {form.joined} where {kept}.key = ?",
        (key,),
    ).fetchone()
    if row is None:
        raise InputError("There is no such entry. Load the page again; nothing was changed.")
    batch_id, *values = row
    named: dict[str, Sql] = dict(zip([*columns, *form.elsewhere], values, strict=True))
    return batch_id, form.kind(**values_read(form.kind, named))


def _check_free(db: Database, tag: str) -> None:
    if db.execute("select 1 from stick where tag = ?", (tag,)).fetchone():
        raise InputError(f"Tag {tag} is already in use. Take another; nothing was changed.")


def _insert(db: Database, batch_id: int, edit: Edit) -> None:
    db.execute(
        "insert into edit (key, batch_id, entry, entry_key, old, new, why, entered_ms, entered_by)"
        " values (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            edit.key,
            batch_id,
            edit.kept,
            edit.entry_key,
            _plain(edit.old),
            _plain(edit.new),
            edit.why,
            to_ms(edit.entered_at),
            edit.entered_by,
        ),
    )


def _plain(values: Mapping[str, object]) -> str:
    return json.dumps(
        {
            name: value.astimezone(UTC).isoformat()
            if isinstance(value, datetime)
            else sorted(value)
            if isinstance(value, frozenset)
            else value
            for name, value in values.items()
        }
    )
