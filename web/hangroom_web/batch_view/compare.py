"""Groups side by side: how dry, how long, in which air, how they squeeze, of what. Pure.

The trade pulls one part after a day, leaves one for three, and compares them.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from statistics import median_low

from markupsafe import Markup

from hangroom.errors import InputError
from hangroom.product import profiles
from hangroom.product.profiles import Finish, finish, side_by_side
from hangroom.product.yields import Base, Yield
from hangroom.store.batches import Group, Stick
from hangroom.store.record.finish import FinishProfile, HungAir
from hangroom.store.record.whole import BatchRecord
from hangroom.units import say_temperature
from hangroom_web.batch_view.evidence import recorded_recipe
from hangroom_web.batch_view.makeup import BASES, NO_WEIGHT, say_makeup, weights_of
from hangroom_web.batch_view.wording import Wording
from hangroom_web.draw.rail import RailGroup, rail
from hangroom_web.rail import drawn, group_estimate, newest_yield_pct
from hangroom_web.words import _

ON_BASE: Mapping[Base, str] = {
    Base.GREEN: _("on green weight"),
    Base.COOKED: _("on cooked weight"),
    Base.HUNG: _("on hung weight"),
}

# In points; less than this would be shown as none.
LEAST_APART_PCT = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """One group: its facts by name, in words, its finish as worked out, and a typical stick."""

    name: str
    title: str
    state: str
    facts: Mapping[str, str]
    finish: Finish | None
    stick: Stick | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Groups beside each other; `apart` sets each of the others against the first."""

    titles: Sequence[str]
    rows: Sequence[tuple[str, Sequence[str]]]
    apart: Sequence[str]
    drawing: Markup


def compared(
    record: BatchRecord,
    group: Group,
    *,
    tasted: FinishProfile | None,
    hung: HungAir,
    wording: Wording,
) -> Compared:
    """Return one group: as it was tasted where it was, else as it was weighed last."""
    profile = _profile(record, group, tasted=tasted, hung=hung, wording=wording)
    try:
        worked = finish(profile) if profile else None
    except InputError:
        # The recipe does not go with the weights, which the batch's own page says in words.
        worked = None
    return Compared(
        name=f"{record.batch.number} {group.letter}",
        title=_("{number} {letter}, {finish}").format(
            number=record.batch.number, letter=group.letter, finish=group.finish
        ),
        state=_state(group, wording),
        facts=dict(_facts(record, group, worked, tasted=tasted, hung=hung, wording=wording)),
        finish=worked,
        stick=_typical(group),
    )


def compare(groups: Sequence[Compared], wording: Wording) -> Comparison:
    """Put groups side by side; what only one of them has stands empty for the others."""
    names = dict.fromkeys(name for group in groups for name in group.facts)
    drawings = [
        RailGroup(title=group.title, window=group.state, sticks=[drawn(group.stick)])
        for group in groups
        if group.stick is not None
    ]
    return Comparison(
        titles=[group.title for group in groups],
        rows=[(name, [group.facts.get(name, "") for group in groups]) for name in names],
        apart=[said for group in groups[1:] if (said := _apart(groups[0], group))],
        drawing=rail(drawings, wording.units) if drawings else Markup(""),
    )


def _profile(
    record: BatchRecord,
    group: Group,
    *,
    tasted: FinishProfile | None,
    hung: HungAir,
    wording: Wording,
) -> profiles.FinishProfile | None:
    told = group_estimate(group, wording.zone)
    yield_pct = told.yield_pct if told else None
    if tasted is not None and tasted.yield_pct is not None:
        yield_pct = tasted.yield_pct
    if yield_pct is None:
        return None
    recipe = recorded_recipe(record).recipe
    return profiles.FinishProfile(
        name=group.letter,
        kept=Yield(ratio=yield_pct / 100.0, base=Base.GREEN),
        weights=weights_of(group),
        hung_h=hung.hung_h,
        squeeze=_squeeze(group, tasted),
        air_temperature_c=hung.temperature_c,
        air_humidity_pct=hung.humidity_pct,
        rating=tasted.rating if tasted else None,
        green=recipe.green if recipe else None,
        fat_drip_g=record.batch.fat_drip_g or 0.0,
    )


def _facts(
    record: BatchRecord,
    group: Group,
    worked: Finish | None,
    *,
    tasted: FinishProfile | None,
    hung: HungAir,
    wording: Wording,
) -> Iterator[tuple[str, str]]:
    for base, words in BASES.items():
        kept = None if worked is None else worked.kept.get(base)
        missing = _("not weighed") if worked is None else NO_WEIGHT[base]
        yield (
            _("Yield, {base}").format(base=words),
            missing if kept is None else f"{100.0 * kept.ratio:.1f} %",
        )
    yield from _hung(hung, wording)
    yield from _felt(group, tasted)
    if worked is not None and worked.made is not None:
        for name, said in say_makeup(worked.made).items():
            yield _("{name}, estimated").format(name=name), said
    measured = [one for one in record.measurements if one.group == group.letter]
    yield _("Water activity, measured"), _newest([one.aw for one in measured])
    yield _("pH, measured"), _newest([one.ph for one in measured])


def _hung(hung: HungAir, wording: Wording) -> Iterator[tuple[str, str]]:
    yield _("Hung"), _("{days:.1f} days").format(days=hung.hung_h / 24.0)
    if hung.temperature_c is not None and hung.humidity_pct is not None:
        air = _("{temperature}, {humidity:.0f} %").format(
            temperature=say_temperature(hung.temperature_c, wording.units),
            humidity=hung.humidity_pct,
        )
        yield _("Mean air"), air


def _felt(group: Group, tasted: FinishProfile | None) -> Iterator[tuple[str, str]]:
    squeeze = _squeeze(group, tasted)
    if squeeze is not None:
        yield _("Squeeze, 1 soft to 5 hard"), str(squeeze)
    newest = [stick.weigh_ins[-1].wrinkle_mm for stick in group.tagged if stick.weigh_ins]
    wrinkles_mm = [depth_mm for depth_mm in newest if depth_mm is not None]
    if wrinkles_mm:
        yield _("Deepest wrinkle"), f"{max(wrinkles_mm):g} mm"
    if tasted is not None and tasted.rating is not None:
        yield _("Rated, of 5"), str(tasted.rating)
    if tasted is not None and tasted.words:
        yield _("Tasted"), tasted.words


def _newest(figures: Sequence[float | None]) -> str:
    known = [figure for figure in figures if figure is not None]
    return f"{known[-1]:g}" if known else _("never")


def _squeeze(group: Group, tasted: FinishProfile | None) -> int | None:
    if tasted is not None and tasted.squeeze is not None:
        return tasted.squeeze
    newest = [s.weigh_ins[-1].squeeze for s in group.tagged if s.weigh_ins]
    known = [squeeze for squeeze in newest if squeeze is not None]
    return median_low(known) if known else None


def _typical(group: Group) -> Stick | None:
    """Return the stick in the middle of the group's yields, or any where none was weighed."""
    weighed = [stick for stick in group.tagged if stick.weigh_ins]
    ordered = sorted(weighed, key=lambda stick: newest_yield_pct(stick) or 0.0)
    return ordered[len(ordered) // 2] if ordered else next(iter(group.tagged), None)


def _state(group: Group, wording: Wording) -> str:
    if group.room is not None:
        return _("hangs in {room}").format(room=wording.room(group.room))
    if group.pulled_at is not None:
        return _("pulled {moment}").format(moment=wording.moment(group.pulled_at))
    return _("not hung yet")


def _apart(first: Compared, other: Compared) -> str:
    """Return how much drier the other is than the first, never across bases; '' where unknown."""
    if first.finish is None or other.finish is None:
        return ""
    found = side_by_side(first.finish.profile, other.finish.profile)
    drier = {base: pct for base, pct in found.drier_pct.items() if abs(pct) >= LEAST_APART_PCT}
    if not drier:
        return _("{other} is as dry as {first}.").format(other=other.name, first=first.name)
    return _("{other} beside {first}: its yield is {points}.").format(
        other=other.name,
        first=first.name,
        points=", ".join(
            _("{points:.1f} points {way} {base}").format(
                points=abs(pct), way=_("lower") if pct > 0 else _("higher"), base=ON_BASE[base]
            )
            for base, pct in drier.items()
        ),
    )
