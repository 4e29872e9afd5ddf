"""Every entry of a batch's record in a few words, so that one can be found and corrected. Pure."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from hangroom.store.record.edits import Kept
from hangroom.store.record.whole import BatchRecord
from hangroom.units import say_temperature, say_weight
from hangroom_web.batch.doubts import typed_g
from hangroom_web.batch.series_view import KIND_NAMES
from hangroom_web.batch.step_form import STEP_NAMES
from hangroom_web.batch_view.wording import Wording
from hangroom_web.surface import say_surface
from hangroom_web.words import _, sentence


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One entry: what it is of, its key, and what it says."""

    kept: Kept
    key: str
    said: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """The entries of one kind."""

    title: str
    rows: Sequence[Row]


# Batch, groups and sticks can be corrected, but not struck out.
STANDING = frozenset({Kept.BATCH, Kept.GROUP, Kept.STICK})


def entries_by_kind(record: BatchRecord) -> dict[Kept, Sequence[Any]]:
    """Return every entry that can be corrected; each has a key, whatever else it has."""
    sticks = [stick for group in record.batch.groups for stick in group.tagged]
    return {
        Kept.BATCH: [record.batch],
        Kept.RECIPE_LINE: record.recipe,
        Kept.SUMS: record.sums,
        Kept.GROUP: record.batch.groups,
        Kept.STICK: sticks,
        Kept.STEP: record.steps,
        Kept.SERIES: record.series,
        Kept.STAY: record.stays,
        Kept.WEIGH_IN: [look for stick in sticks for look in stick.weigh_ins],
        Kept.LOOK: record.looks,
        Kept.MEASUREMENT: record.measurements,
        Kept.PHOTO: record.photos,
        Kept.FINISH_PROFILE: record.profiles,
    }


TITLES = {
    Kept.BATCH: _("The batch"),
    Kept.RECIPE_LINE: _("Recipe"),
    Kept.SUMS: _("Curing sums"),
    Kept.GROUP: _("Groups"),
    Kept.STICK: _("Sticks"),
    Kept.STEP: _("Steps"),
    Kept.SERIES: _("Inside the stick"),
    Kept.STAY: _("Where it hung"),
    Kept.WEIGH_IN: _("Weigh-ins"),
    Kept.LOOK: _("Looks"),
    Kept.MEASUREMENT: _("Measured"),
    Kept.PHOTO: _("Photos"),
    Kept.FINISH_PROFILE: _("Tastings"),
}


def parts_of(record: BatchRecord, wording: Wording) -> list[Part]:
    """Return every part of the record that has entries, in the order of the making."""
    return [
        Part(
            title=TITLES[kept],
            rows=[
                Row(kept=kept, key=entry.key, said=say_entry(kept, entry, record, wording))
                for entry in entries
            ],
        )
        for kept, entries in entries_by_kind(record).items()
        if entries
    ]


def say_entry(kept: Kept, entry: Any, record: BatchRecord, wording: Wording) -> str:  # noqa: ANN401
    """Return for example 'A1, Thu 26 Nov 09:52, 71.4 g'."""
    told = [part for part in _SAY[kept](entry, record, wording) if part]
    return sentence(", ".join(told))


def _group(entry: Any) -> str:  # noqa: ANN401 - any entry of a group
    return _("group {letter}").format(letter=entry.group) if entry.group else ""


def _tag(look: Any, record: BatchRecord) -> str:  # noqa: ANN401 - a weigh-in
    sticks = (stick for group in record.batch.groups for stick in group.tagged)
    return next(stick.tag for stick in sticks if look in stick.weigh_ins)


def _measured(entry: Any) -> list[str]:  # noqa: ANN401 - a measurement
    told = []
    if entry.aw is not None:
        told.append(_("aw {aw:g}").format(aw=entry.aw))
    if entry.ph is not None:
        told.append(_("pH {ph:g}").format(ph=entry.ph))
    return told


def _air(step: Any, wording: Wording) -> str:  # noqa: ANN401 - a step
    air_c = step.set_temperature_c
    return "" if air_c is None else say_temperature(air_c, wording.units)


Say = Callable[[Any, BatchRecord, Wording], Sequence[str]]

_SAY: dict[Kept, Say] = {
    Kept.BATCH: lambda e, _r, w: [e.name, w.moment(e.started_at)],
    Kept.RECIPE_LINE: lambda e, _r, w: [
        e.name,
        f"{typed_g(round(e.weight_g, 2), w.units)} {w.units.weight}",
    ],
    Kept.SUMS: lambda e, _r, w: [w.moment(e.entered_at), e.entered_by],
    Kept.GROUP: lambda e, _r, _s: [_("group {letter}").format(letter=e.letter), e.finish],
    Kept.STICK: lambda e, _r, w: [e.tag, say_weight(e.green_weight_g, w.units)],
    Kept.STEP: lambda e, _r, w: [STEP_NAMES[e.kind], _air(e, w), w.moment(e.from_at), _group(e)],
    Kept.SERIES: lambda e, _r, _s: [
        KIND_NAMES[e.kind],
        e.probe,
        _("{count} readings").format(count=len(e.points)),
    ],
    Kept.STAY: lambda e, _r, w: [_group(e), w.room(e.room), w.moment(e.from_at)],
    Kept.WEIGH_IN: lambda e, r, w: [
        _tag(e, r),
        w.moment(e.taken_at),
        say_weight(e.weight_g, w.units),
    ],
    Kept.LOOK: lambda e, _r, w: [_group(e), w.moment(e.taken_at), say_surface(e.surface), e.note],
    Kept.MEASUREMENT: lambda e, _r, w: [_group(e), w.moment(e.taken_at), *_measured(e)],
    Kept.PHOTO: lambda e, _r, w: [w.moment(e.taken_at), e.caption],
    Kept.FINISH_PROFILE: lambda e, _r, w: [_group(e), w.moment(e.tasted_at), e.words],
}
