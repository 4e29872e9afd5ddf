"""Batches: the list, one batch with its groups and weigh-ins, a new one, and pulling a group."""

from dataclasses import dataclass

from flask import Blueprint, abort, redirect, render_template, request, url_for
from markupsafe import Markup
from werkzeug.wrappers import Response

from hangroom.errors import InputError
from hangroom.store.batches import Batch, Group, Stick, add_batch, batches, pull_group
from hangroom.units import say_length, say_weight
from hangroom_web.dates import say_day, say_moment
from hangroom_web.draw.rail import coin
from hangroom_web.draw.yields import Curve, draw_yields
from hangroom_web.guidance import Guidance, guidance, said
from hangroom_web.new_batch import Draft, read_draft
from hangroom_web.pages.login import acting
from hangroom_web.rail import (
    drawn,
    estimate_footnote,
    group_estimate,
    newest_yield_pct,
    say_change,
    say_estimate,
    say_window,
    yield_pct,
)
from hangroom_web.site import records, site
from hangroom_web.words import _

batch_pages = Blueprint("batches", __name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupView:
    """A group as its batch's page shows it."""

    number: int
    letter: str
    title: str
    where: str
    estimate: str
    footnote: str
    curve: Markup
    hangs: bool
    guidance: Guidance | None
    guidance_said: str
    sticks: list[dict[str, object]]
    looks: list[dict[str, str]]


@batch_pages.get("/batches")
def batch_list() -> str:
    """List every batch: hanging first, then finished."""
    with records() as db:
        kept = batches(db)
    return render_template(
        "batches.html",
        hanging=[_line(batch) for batch in kept if batch.hangs],
        finished=[_line(batch) for batch in kept if not batch.hangs],
    )


@batch_pages.get("/batches/<int:number>")
def batch(number: int) -> str:
    """Show one batch."""
    found = _batch(number)
    return render_template(
        "batch.html",
        batch=found,
        started=say_day(found.started_at, site().zone),
        groups=[_group_view(group) for group in found.groups],
    )


@batch_pages.get("/batches/new")
@acting
def new_batch() -> str:
    """Show the form for a new batch."""
    return _form(Draft.empty(rooms=list(site().settings.room)))


@batch_pages.post("/batches/new")
@acting
def start_batch() -> Response | str | tuple[str, int]:
    """Store a new batch and hang its groups, or give the form back with what is wrong."""
    here = site()
    draft = read_draft(
        request.form, rooms=list(here.settings.room), now=here.now(), units=here.units
    )
    if "more" in request.form:
        return _form(draft.with_more_rows())
    if draft.faults:
        return _form(draft), 422
    try:
        with records() as db:
            number = add_batch(
                db, name=draft.name, started_at=here.now(), groups=draft.groups, note=draft.note
            )
    except InputError as fault:
        return _form(draft.with_fault("tags", str(fault))), 422
    return redirect(url_for("batches.batch", number=number), 303)


@batch_pages.post("/batches/<int:number>/pull/<int:group_number>")
@acting
def pull(number: int, group_number: int) -> Response:
    """Note that a group was taken off the rail."""
    if group_number not in {group.number for group in _batch(number).groups}:
        abort(404)
    with records() as db:
        pull_group(db, group_number, now=site().now())
    return redirect(url_for("batches.batch", number=number), 303)


def _form(draft: Draft) -> str:
    rooms = {name: room.title for name, room in site().settings.room.items()}
    return render_template("new_batch.html", draft=draft, rooms=rooms)


def _batch(number: int) -> Batch:
    with records() as db:
        found = next((one for one in batches(db) if one.number == number), None)
    if found is None:
        abort(404)
    return found


def _line(batch: Batch) -> dict[str, object]:
    here = site()
    now, zone = here.now(), here.zone
    tagged = [stick for group in batch.groups for stick in group.tagged]
    yields = [y for stick in tagged if (y := newest_yield_pct(stick)) is not None]
    since = min((g.hung_at for g in batch.groups if g.hung_at), default=batch.started_at)
    days = (now - since).days
    return {
        "number": batch.number,
        "name": batch.name,
        "sample": batch.sample,
        "coin": coin(drawn(tagged[0])) if tagged else Markup(""),
        "said": _("{sticks} sticks, hung {day}, {days} ago").format(
            sticks=sum(group.sticks for group in batch.groups),
            day=say_day(since, zone),
            days=_("1 day") if days == 1 else _("{days} days").format(days=days),
        ),
        "yields": _("Yield {low:.1f} to {high:.1f} % of green weight").format(
            low=min(yields), high=max(yields)
        )
        if yields
        else _("Not weighed yet"),
        "windows": [
            _("{letter}, {target:g} %: {window}").format(
                letter=group.letter,
                target=group.target_yield_pct,
                window=say_window(group_estimate(group, zone), zone, now=now),
            )
            for group in batch.groups
            if group.room is not None
        ],
    }


def _group_view(group: Group) -> GroupView:
    here = site()
    now, zone = here.now(), here.zone
    told = group_estimate(group, zone)
    hangs = group.room is not None
    curves = [_curve(stick, group) for stick in group.tagged]
    with records() as db:
        found = guidance(db, group, now=now)
    return GroupView(
        number=group.number,
        letter=group.letter,
        title=_("Group {letter}, {finish}").format(letter=group.letter, finish=group.finish),
        where=_where(group),
        estimate=say_estimate(told, group, zone, now=now) if hangs else "",
        footnote=estimate_footnote(told, group, now=now) if hangs else "",
        curve=draw_yields(
            [curve for curve in curves if curve.points],
            target_pct=group.target_yield_pct,
            told=told if hangs else None,
            now=now,
            zone=zone,
        ),
        hangs=hangs,
        guidance=found,
        guidance_said=said(found) if found else "",
        sticks=[_stick_row(stick) for stick in group.tagged],
        looks=_look_rows(group),
    )


def _where(group: Group) -> str:
    here = site()
    sticks = _("{count} sticks, {tagged} tagged").format(
        count=group.sticks, tagged=len(group.tagged)
    )
    if group.room is not None and group.hung_at is not None:
        room = here.settings.room.get(group.room)
        return _("{sticks}. In {room} since {day}.").format(
            sticks=sticks,
            room=room.title if room else group.room,
            day=say_moment(group.hung_at, here.zone, now=here.now()),
        )
    if group.pulled_at is not None:
        return _("{sticks}. Pulled {day}.").format(
            sticks=sticks, day=say_moment(group.pulled_at, here.zone, now=here.now())
        )
    return f"{sticks}."


def _curve(stick: Stick, group: Group) -> Curve:
    hung = (
        [(group.hung_at, yield_pct(stick, stick.hang_weight_g))]
        if group.hung_at is not None and stick.hang_weight_g is not None
        else []
    )
    looks = [(look.taken_at, yield_pct(stick, look.weight_g)) for look in stick.weigh_ins]
    return Curve(tag=stick.tag, points=hung + looks)


def _stick_row(stick: Stick) -> dict[str, object]:
    here, size = site(), drawn(stick)
    look = stick.weigh_ins[-1] if stick.weigh_ins else None
    across = "" if size.diameter_mm is None else say_length(size.diameter_mm, here.units)
    return {
        "tag": stick.tag,
        "coin": coin(size),
        "said": say_change(stick, look, here.zone, now=here.now())
        if look
        else _("Not weighed since hanging"),
        "green": say_weight(stick.green_weight_g, here.units),
        "hung": "" if stick.hang_weight_g is None else say_weight(stick.hang_weight_g, here.units),
        "across": across
        if size.measured or not across
        else _("{width} (reckoned)").format(width=across),
    }


def _look_rows(group: Group) -> list[dict[str, str]]:
    here = site()
    rows = [(look.taken_at, stick, look) for stick in group.tagged for look in stick.weigh_ins]
    return [
        {
            "when": say_moment(at, here.zone, now=here.now()),
            "iso": at.astimezone(here.zone).isoformat(timespec="minutes"),
            "tag": stick.tag,
            "weight": say_weight(look.weight_g, here.units),
            "yield": f"{yield_pct(stick, look.weight_g):.1f} %",
            "squeeze": "" if look.squeeze is None else str(look.squeeze),
            "wrinkle": "" if look.wrinkle_mm is None else f"{look.wrinkle_mm:g}",
            "across": "" if look.diameter_mm is None else say_length(look.diameter_mm, here.units),
            "note": look.note,
        }
        for at, stick, look in sorted(rows, key=lambda row: (row[0], row[1].tag), reverse=True)
    ]
