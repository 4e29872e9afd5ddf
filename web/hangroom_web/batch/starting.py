"""The form for a new batch: its name, its groups and tagged sticks, its casing. Pure."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from statistics import median

from hangroom.store.batch_facts import (
    LONGEST_STICK_MM,
    THICKEST_MM,
    CasingKind,
    GroupName,
    NewGroup,
    NewStick,
)
from hangroom_web.batch.doubts import factor_doubt, heavier_doubt, typed_g
from hangroom_web.forms import Form
from hangroom_web.words import _

GROUPS = ("A", "B")
FINISHES = {"A": _("supple"), "B": _("snap")}
TARGETS = {"A": "72", "B": "60"}
FIRST_ROWS, MORE_ROWS, MOST_ROWS = 3, 3, 12
STICK_FIELDS = ("tag", "green", "hung", "across", "length")
TAG = re.compile(r"[A-Za-z0-9][A-Za-z0-9-]{0,7}")
MOST_STICKS = 500
TARGET_PCT = (20.0, 100.0)

CASING_NAMES = {
    CasingKind.COLLAGEN: _("collagen"),
    CasingKind.NATURAL: _("natural"),
    CasingKind.CELLULOSE: _("cellulose"),
    CasingKind.FIBROUS: _("fibrous"),
    CasingKind.ALGINATE: _("alginate"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Liked:
    """A tasted group that a new one may become as dry as, and the target yield that makes it so."""

    name: GroupName
    said: str
    target_pct: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Started:
    """A new batch as its form says it."""

    name: str
    note: str
    groups: Sequence[NewGroup]
    green_weight_g: float | None
    casing: CasingKind | None
    casing_diameter_mm: float | None


def usual(rooms: Sequence[str]) -> dict[str, str]:
    """Return what a fresh form holds: the usual two finishes."""
    typed = {}
    for letter in GROUPS:
        typed[f"{letter}-finish"] = FINISHES[letter]
        typed[f"{letter}-target"] = TARGETS[letter]
        typed[f"{letter}-room"] = rooms[0]
    return typed


def rows_in(form: Form) -> int:
    """Return how many tagged sticks each group has room for."""
    rows = form.raw("rows")
    return min(int(rows), MOST_ROWS) if re.fullmatch("[0-9]{1,3}", rows) else FIRST_ROWS


def read_batch(
    form: Form, *, rooms: Sequence[str], liked: Mapping[str, Liked], later: bool
) -> Started | None:
    """Return the batch that a form holds, or None where something is wrong or asked.

    `later`: its groups do not hang yet, and it may have none so far.
    """
    started = Started(
        name=form.line("name", needed=_("Give the batch a name.")),
        note=form.note(),
        groups=read_groups(form, rooms=rooms, liked=liked, hung_at=None if later else form.now),
        green_weight_g=form.weight_g("green"),
        casing=form.kind("casing", CasingKind),
        casing_diameter_mm=form.length_mm("casing-diameter", most_mm=THICKEST_MM),
    )
    if not started.groups and not later and form.sound:
        form.refuse(_("Tag at least one stick, or there is nothing to weigh later."), "A-0-tag")
    return started if form.sound else None


def read_groups(
    form: Form,
    *,
    rooms: Sequence[str],
    liked: Mapping[str, Liked],
    hung_at: datetime | None,
    letters: Sequence[str] = GROUPS,
) -> list[NewGroup]:
    """Return the groups of which something was typed; `hung_at` None: they do not hang yet."""
    groups = [
        group
        for letter in letters
        if (group := _group(form, letter, rooms=rooms, liked=liked, hung_at=hung_at))
    ]
    _compare(form, letters)
    return groups


def _group(
    form: Form,
    letter: str,
    *,
    rooms: Sequence[str],
    liked: Mapping[str, Liked],
    hung_at: datetime | None,
) -> NewGroup | None:
    rows = [row for row in range(rows_in(form)) if form.has(*_names(letter, row))]
    meant = rows or (hung_at is None and form.has(f"{letter}-sticks"))
    if not meant:
        return None
    tagged = [_stick(form, letter, row) for row in rows]
    finish = form.line(
        f"{letter}-finish", needed=_("Say how this group shall be, for example supple.")
    )
    chosen = form.one_of(f"{letter}-like", liked)
    like = liked[chosen] if chosen else None
    target_pct = form.number(f"{letter}-target", _("target"), TARGET_PCT, needed=like is None)
    sticks = form.whole(
        f"{letter}-sticks",
        _("number of sticks"),
        (max(1, len(rows)), MOST_STICKS),
        needed=True,
    )
    room = form.one_of(f"{letter}-room", rooms, needed=True) if hung_at else None
    wanted_pct = like.target_pct if like else target_pct
    if form.faults or wanted_pct is None or sticks is None:
        return None
    return NewGroup(
        letter=letter,
        finish=finish,
        target_yield_pct=wanted_pct,
        sticks=sticks,
        like=like.name if like else None,
        tagged=[stick for stick in tagged if stick is not None],
        room=room,
        hung_at=hung_at,
    )


def _names(letter: str, row: int) -> list[str]:
    return [f"{letter}-{row}-{name}" for name in STICK_FIELDS]


def _stick(form: Form, letter: str, row: int) -> NewStick | None:
    tag_name, green, hung, across, length = _names(letter, row)
    tag = form.raw(tag_name)
    if not TAG.fullmatch(tag):
        form.refuse(_("A tag has up to 8 letters and digits, for example A1."), tag_name)
    green_g = form.weight_g(green, needed=True)
    hung_g = form.weight_g(hung)
    across_mm = form.length_mm(across, most_mm=THICKEST_MM)
    length_mm = form.length_mm(length, most_mm=LONGEST_STICK_MM)
    ask_about_hung(form, hung, hung_g, green_g)
    if form.faults or green_g is None:
        return None
    return NewStick(
        tag=tag.upper(),
        green_weight_g=green_g,
        hang_weight_g=hung_g,
        hang_diameter_mm=across_mm,
        length_mm=length_mm,
    )


def ask_about_hung(form: Form, name: str, hung_g: float | None, green_g: float | None) -> None:
    """Ask about a weight as cooked or hung that does not go with the same stick's green one."""
    if green_g is None:
        return
    raw = _("its {weight} when raw").format(
        weight=f"{typed_g(green_g, form.units)} {form.units.weight}"
    )
    form.ask(
        name,
        factor_doubt(hung_g, like_g=green_g, like_called=raw, units=form.units)
        or heavier_doubt(hung_g, than_g=green_g, than_called=raw, units=form.units),
    )


def _compare(form: Form, letters: Sequence[str]) -> None:
    """Ask about a stick that is out of all proportion to the others of its batch."""
    if form.faults:
        return
    green_g = {
        name: weight_g
        for letter in letters
        for row in range(rows_in(form))
        if (weight_g := form.weight_g(name := f"{letter}-{row}-green")) is not None
    }
    if len(green_g) < 3:  # noqa: PLR2004 - of two, nobody can say which is the odd one
        return
    for name, weight_g in green_g.items():
        like_g = median(other for one, other in green_g.items() if one != name)
        form.ask(
            name,
            factor_doubt(
                weight_g, like_g=like_g, like_called=_("the other sticks"), units=form.units
            ),
        )
