"""One group as its batch's page and record show it: where it hung, how dry it is. Pure."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from markupsafe import Markup

from hangroom.product.drying_priors import PUBLISHED
from hangroom.product.forecast_words import say_learned
from hangroom.product.kept import LEAST_WARM_H, Kept
from hangroom.product.recipe import Recipe
from hangroom.product.storage import COLD_F
from hangroom.product.temperatures import celsius
from hangroom.store.batch_facts import SurfaceFinding
from hangroom.store.batches import Group, Stick
from hangroom.store.hanging import Hang
from hangroom.store.record.whole import BatchRecord
from hangroom.units import say_length, say_weight
from hangroom_web.batch_view.makeup import BASES, Made, made_of, say_yields, weights_of
from hangroom_web.batch_view.wording import Wording
from hangroom_web.draw.rail import coin
from hangroom_web.draw.yields import Curve, draw_yields
from hangroom_web.forecasts.foretold import Foretold
from hangroom_web.forecasts.wording import ForecastView, forecast_view
from hangroom_web.rail import (
    drawn,
    group_estimate,
    say_change,
    yield_pct,
)
from hangroom_web.words import _, in_a_sentence, sentence


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupView:
    """A group in words; `hours` is the line on warm hours that always stands on the page.

    `yields` and `makeup`: name, figure when last weighed, figure at the target.
    """

    number: int
    letter: str
    title: str
    count: str
    stays: Sequence[str]
    pulled: str
    hangs: bool
    forecast: ForecastView | None
    learned: Sequence[str]
    yields: Sequence[tuple[str, str, str]]
    makeup: Sequence[tuple[str, str, str]]
    like: str
    curve: Markup
    made: Made
    sticks: Sequence[Mapping[str, object]]
    looks: Sequence[Mapping[str, str]]
    hours: str
    measured: Sequence[str]


def group_view(
    record: BatchRecord,
    group: Group,
    *,
    recipe: Recipe | None,
    kept: Kept | None,
    like: str,
    foretold: Foretold | None,
    wanted: str,
    wording: Wording,
) -> GroupView:
    """Return one group; `like` says whom it shall be as dry as.

    `foretold`: what holds of one that hangs. `wanted` is the moisture:protein ratio that somebody
    asked for, or ''.
    """
    told = group_estimate(group, wording.zone)
    hangs = group.room is not None
    now_pct = told.yield_pct if told else None
    made = made_of(record.batch, group, recipe, now_pct=now_pct, wanted=wanted, units=wording.units)
    return GroupView(
        number=group.number,
        letter=group.letter,
        title=_("Group {letter}, {finish}").format(letter=group.letter, finish=group.finish),
        count=_("{count} sticks, {tagged} tagged").format(
            count=group.sticks, tagged=len(group.tagged)
        ),
        stays=[_stay(stay, wording) for stay in record.stays if stay.group == group.letter],
        pulled=_("Pulled {moment}.").format(moment=wording.moment(group.pulled_at))
        if group.pulled_at is not None
        else "",
        hangs=hangs,
        forecast=forecast_view(
            foretold, group, units=wording.units, zone=wording.zone, look_at=wording.look_at
        )
        if hangs and foretold
        else None,
        learned=_learned(foretold, wording.room(group.room)) if group.room and foretold else (),
        yields=_yields(group, now_pct),
        makeup=_makeup(made),
        like=like,
        curve=_curve(record, group, foretold if hangs else None, wording=wording),
        made=made,
        sticks=[_stick(stick, foretold if hangs else None, wording) for stick in group.tagged],
        looks=_looks(record, group, wording),
        hours=_hours(kept, hung=any(s.group == group.letter for s in record.stays)),
        measured=_measured(record, group, wording),
    )


def _yields(group: Group, now_pct: float | None) -> list[tuple[str, str, str]]:
    """Return each base, the yield on it when last weighed, and the target on it."""
    weights = weights_of(group)
    now, target = say_yields(now_pct, weights), say_yields(group.target_yield_pct, weights)
    return [(words, now[base], target[base]) for base, words in BASES.items()]


def _makeup(made: Made) -> list[tuple[str, str, str]]:
    """Return name, figure when last weighed and figure at the target."""
    facts = [column.facts for column in made.columns]
    if not facts:
        return []
    at_target, as_weighed = facts[-1], facts[0] if len(facts) > 1 else {}
    return [(name, as_weighed.get(name, ""), at_target[name]) for name in at_target]


def _stay(stay: Hang, wording: Wording) -> str:
    room = wording.room(stay.room)
    if stay.to_at is None:
        return _("In {room} since {start}.").format(room=room, start=wording.moment(stay.from_at))
    return _("In {room} {span}.").format(room=room, span=wording.span(stay.from_at, stay.to_at))


def _hours(kept: Kept | None, *, hung: bool) -> str:
    """Return the line on warm hours that always stands on the page."""
    if kept is None or not hung:
        return ""
    hours, limit = kept.hours, _cold()
    unknown = _say_h(hours.unknown_h) if hours.unknown_h >= LEAST_WARM_H else ""
    if hours.warm_h > 0.0:
        said = _("Above {limit} for {lasted} while it hung{unmeasured}.").format(
            limit=limit,
            lasted=_say_h(hours.warm_h),
            unmeasured=_unmeasured(kept),
        )
        return said + (_(" No readings for {} of that time.").format(unknown) if unknown else "")
    if unknown:
        return _(
            "Above {limit}: no reading shows it, but for {unknown} of its time there is none."
        ).format(limit=limit, unknown=unknown)
    return _("Above {limit}: not at all while it hung, by the room's readings.").format(limit=limit)


def _unmeasured(kept: Kept) -> str:
    if kept.unmeasured_warm_h <= 0.0:
        return ""
    if kept.unmeasured_warm_h == kept.hours.warm_h:
        return _(", water activity and pH not measured by then")
    return _(", {lasted} of it before water activity or pH was measured").format(
        lasted=_say_h(kept.unmeasured_warm_h)
    )


def _say_h(lasted_h: float) -> str:
    """Return for example '38.2 h' or '12 min', as exact as the checks say it."""
    if lasted_h < 1.0:
        return _("{:.0f} min").format(60.0 * lasted_h)
    return _("{:.1f} h").format(lasted_h)


def _cold() -> str:
    return _("{celsius:.0f} °C ({fahrenheit} °F)").format(
        celsius=celsius(COLD_F), fahrenheit=COLD_F
    )


def _measured(record: BatchRecord, group: Group, wording: Wording) -> list[str]:
    return [
        _("{figures}, {when}, with: {instrument}{by}{note}").format(
            figures=_(" and ").join(
                f"{name} {figure:g}"
                for name, figure in ((_("water activity"), one.aw), (_("pH"), one.ph))
                if figure is not None
            ),
            when=wording.moment(one.taken_at),
            instrument=one.instrument,
            by=_(", by {}").format(one.entered_by) if one.entered_by else "",
            note=f". {one.note}" if one.note else "",
        )
        for one in record.measurements
        if one.group == group.letter
    ]


def _curve(
    record: BatchRecord, group: Group, foretold: Foretold | None, *, wording: Wording
) -> Markup:
    hangs = group.room is not None
    # A group that was moved came into its room later than it was hung.
    hung_at = min((s.from_at for s in record.stays if s.group == group.letter), default=None)
    curves = [_points(stick, hung_at) for stick in group.tagged]
    return draw_yields(
        [curve for curve in curves if curve.points],
        target_pct=group.target_yield_pct,
        told=foretold.line if foretold else None,
        band=foretold.band() if foretold else (),
        until=wording.now if hangs or group.pulled_at is None else group.pulled_at,
        ended=not hangs and group.pulled_at is not None,
        zone=wording.zone,
    )


def _points(stick: Stick, hung_at: datetime | None) -> Curve:
    hung = (
        [(hung_at, yield_pct(stick, stick.hang_weight_g))]
        if hung_at is not None and stick.hang_weight_g is not None
        else []
    )
    looks = [(look.taken_at, yield_pct(stick, look.weight_g)) for look in stick.weigh_ins]
    return Curve(tag=stick.tag, points=hung + looks)


def _learned(foretold: Foretold, room: str) -> Sequence[str]:
    """Return what the group's own weights say of its room and its meat."""
    if foretold.kept is None or foretold.kept.weighings == 0:
        return ()
    before = foretold.kept.before or PUBLISHED
    room = _("the {}").format(in_a_sentence(room))
    return say_learned(foretold.kept.forecast.beliefs, before, room=room)


def _stick(stick: Stick, foretold: Foretold | None, wording: Wording) -> dict[str, object]:
    size, units = drawn(stick), wording.units
    look = stick.weigh_ins[-1] if stick.weigh_ins else None
    across = "" if size.diameter_mm is None else say_length(size.diameter_mm, units)
    weights = [
        _("{base} {weight}").format(base=base, weight=say_weight(weight_g, units))
        for base, weight_g in (
            (_("green"), stick.green_weight_g),
            (_("cooked"), stick.cooked_weight_g),
            (_("hung"), stick.hang_weight_g),
        )
        if weight_g is not None
    ]
    if across:
        weights.append(
            _("across {width}").format(width=across)
            if size.measured
            else _("across {width}, reckoned").format(width=across)
        )
    return {
        "tag": stick.tag,
        "coin": coin(size),
        "said": say_change(stick, look, wording.zone, now=wording.now)
        if look
        else _("Not weighed since hanging"),
        "now": _say_now(foretold, stick.tag) if foretold else "",
        "weights": sentence(", ".join(weights)),
    }


def _say_now(foretold: Foretold, tag: str) -> str:
    here = foretold.stick_now(tag)
    if here is None:
        return ""
    return _("By the forecast {now:.1f} % now (±\N{NO-BREAK SPACE}{spread:.1f})").format(
        now=here.middle_pct, spread=here.spread_pct
    )


def _looks(record: BatchRecord, group: Group, wording: Wording) -> list[dict[str, str]]:
    """Return every weigh-in and look of the group, the newest first."""
    units = wording.units
    rows: list[tuple[datetime, str, dict[str, str]]] = []
    for stick in group.tagged:
        for look in stick.weigh_ins:
            row = {
                "tag": stick.tag,
                "weight": say_weight(look.weight_g, units),
                "yield": f"{yield_pct(stick, look.weight_g):.1f} %",
                "squeeze": "" if look.squeeze is None else str(look.squeeze),
                "wrinkle": "" if look.wrinkle_mm is None else f"{look.wrinkle_mm:g}",
                "across": "" if look.diameter_mm is None else say_length(look.diameter_mm, units),
                "surface": say_surface(look.surface),
                "note": look.note,
                "by": look.entered_by,
            }
            rows.append((look.taken_at, stick.tag, row))
    for seen in record.looks:
        if seen.group == group.letter:
            row = {
                "tag": _("all"),
                "weight": "",
                "yield": "",
                "squeeze": "" if seen.squeeze is None else str(seen.squeeze),
                "wrinkle": "" if seen.wrinkle_mm is None else f"{seen.wrinkle_mm:g}",
                "across": "",
                "surface": say_surface(seen.surface),
                "note": seen.note,
                "by": seen.entered_by,
            }
            rows.append((seen.taken_at, "", row))
    return [
        {
            "when": wording.moment(at),
            "iso": at.astimezone(wording.zone).isoformat(timespec="minutes"),
            **row,
        }
        for at, _tag, row in sorted(rows, key=lambda row: (row[0], row[1]), reverse=True)
    ]


def say_surface(found: Collection[SurfaceFinding] | None) -> str:
    """Return what was found on the surface; '' where nobody looked."""
    if found is None:
        return ""
    return ", ".join(sorted(found)) or _("nothing found")
