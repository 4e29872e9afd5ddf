"""Inspect: weigh and squeeze today's sticks, one card each, all in one load."""

import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import timedelta
from math import hypot

from flask import Blueprint, abort, redirect, render_template, request, url_for
from markupsafe import Markup
from werkzeug.wrappers import Response

from hangroom.product.doneness import WITHIN_80_PCT
from hangroom.product.slips import expected_g
from hangroom.store.batches import Stick, hanging_batches
from hangroom.store.weigh_ins import add_weigh_in
from hangroom.units import say_weight
from hangroom_web.dates import day_of, say_since
from hangroom_web.draw.rail import coin
from hangroom_web.entries import SQUEEZES, WRINKLES_MM, Faults, read_entry
from hangroom_web.forecasts.foretold import Foretold, Range, only_a_line
from hangroom_web.forecasts.reading import foretold_of
from hangroom_web.forecasts.wording import say_estimate
from hangroom_web.look import DueStick, Look, say_next
from hangroom_web.pages.login import acting, who
from hangroom_web.pages.room import current_look
from hangroom_web.rail import (
    drawn,
    group_estimate,
    previous,
    say_change,
    weighed_on,
)
from hangroom_web.site import records, site
from hangroom_web.slips import Slip, slip_in
from hangroom_web.surface import SURFACE_CHOICES, say_surface
from hangroom_web.words import _, sentence

inspect_pages = Blueprint("inspect", __name__)

WRINKLE_WORDS = {0.0: "0", 0.5: "½", 1.0: "1", 2.0: "2", 3.0: "3+"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """One stick's card: what is known of it, what was typed, what is asked, what was saved."""

    number: int
    tag: str
    where: str
    coin: Markup
    facts: list[tuple[str, str]]
    key: str
    saved: str = ""
    photo: str = ""
    typed: Mapping[str, str] = field(default_factory=dict)
    faults: Mapping[str, str] = field(default_factory=dict)
    slip: Slip | None = None


@inspect_pages.get("/inspect")
def inspect() -> str:
    """Show a card for every stick that is due or was weighed today; with `all`, for every stick."""
    return _page()


@inspect_pages.post("/inspect/<tag>")
@acting
def weigh(tag: str) -> Response | str | tuple[str, int]:
    """Store one stick's entry, or give the card back with a question or with what is wrong."""
    form = request.form
    with records() as db:
        found = _stick(current_look(db, hanging_batches(db)), tag)
        told = foretold_of(db, [found.hung.group], site())[found.hung.group.number]
        typed = form.to_dict()
        # An answer counts only for the weight that was asked about, not for one typed since.
        answered = typed.get("asked") == typed.get("weight")
        if answered and "use" in typed:
            typed["weight"] = typed["use"]
        entry = read_entry(typed, tag=tag, taken_at=site().now(), units=site().units, by=who())
        if isinstance(entry, Faults):
            return _card_again(_card(found, told, typed=typed, faults=entry.by_field), 422)
        slip = _slip(found, entry.weight_g)
        if slip is not None and not (answered and typed.get("keep") == slip.keep):
            return _card_again(_card(found, told, typed=typed, slip=slip), 200)
        add_weigh_in(db, entry)
        look = current_look(db, hanging_batches(db))
    if "part" in request.args:
        return render_template("_card.html", card=_card(_stick(look, tag), told))
    waiting = [s for s in _shown(look, everything="all" in form) if not s.done]
    anchor = f"stick-{waiting[0].stick.tag}" if waiting else "summary"
    return redirect(
        url_for("inspect.inspect", all="1" if "all" in form else None, _anchor=anchor), 303
    )


def _card_again(card: Card, code: int) -> tuple[str, int]:
    if "part" in request.args:
        return render_template("_card.html", card=card), code
    return _page(again=card), code


def _page(again: Card | None = None) -> str:
    everything = "all" in request.values
    with records() as db:
        kept = hanging_batches(db)
        look = current_look(db, kept)
        foretold = foretold_of(db, (group for batch in kept for group in batch.groups), site())
    shown = _shown(look, everything=everything)
    cards = [
        again
        if again is not None and again.tag == one.stick.tag
        else _card(one, foretold[one.hung.group.number])
        for one in shown
    ]
    return render_template(
        "inspect.html",
        cards=cards,
        left=sum(not card.saved for card in cards),
        everything=everything,
        hangs=bool(look.sticks),
        next_look=say_next(look, site().zone),
        summary=_summary(look, foretold),
    )


@inspect_pages.app_context_processor
def _scales() -> dict[str, object]:
    return {
        "squeezes": SQUEEZES,
        "wrinkles": [(f"{mm:g}", WRINKLE_WORDS[mm]) for mm in WRINKLES_MM],
        "surfaces": SURFACE_CHOICES,
    }


def _shown(look: Look, *, everything: bool) -> list[DueStick]:
    return [one for one in look.sticks if everything or one.due or one.done]


def _stick(look: Look, tag: str) -> DueStick:
    found = next((one for one in look.sticks if one.stick.tag == tag), None)
    if found is None:
        abort(404)
    return found


def _card(
    one: DueStick,
    told: Foretold,
    *,
    typed: Mapping[str, str] | None = None,
    faults: Mapping[str, str] | None = None,
    slip: Slip | None = None,
) -> Card:
    stick, group = one.stick, one.hung.group
    return Card(
        number=stick.number,
        tag=stick.tag,
        where=f"{one.hung.title}, {site().settings.room[group.room].title}"
        if group.room in site().settings.room
        else one.hung.title,
        coin=coin(drawn(stick)),
        facts=_facts(one, told),
        key=(typed or {}).get("key") or secrets.token_hex(16),
        saved=_saved(stick) if typed is None and one.done else "",
        photo=_photo(one) if typed is None and one.done else "",
        typed=typed or {},
        faults=faults or {},
        slip=slip,
    )


def _facts(one: DueStick, told: Foretold) -> list[tuple[str, str]]:
    stick, units = one.stick, site().units
    facts = [(_("Green"), say_weight(stick.green_weight_g, units))]
    last = previous(stick)
    if last is not None:
        weight_g, called, days = _last(one)
        facts.append((_("Last, {when}").format(when=called), say_weight(weight_g, units)))
        here = told.stick_now(stick.tag)
        if here is not None:
            facts.append((_("Expected"), _between(*_band_g(stick, here))))
            facts.append(
                (
                    _("Yield now, forecast"),
                    _("{now:.1f} ± {spread:.1f} %").format(
                        now=here.middle_pct, spread=here.spread_pct
                    ),
                )
            )
        elif days > 0.3:  # noqa: PLR2004 - within hours there is nothing to expect
            facts.append((_("Expected"), _between(*expected_g(weight_g, days))))
    return facts


def _band_g(stick: Stick, here: Range) -> tuple[float, float]:
    """Return between which weights 8 of 10 readings of the scale lie, g, lighter first."""
    scale_g = WITHIN_80_PCT * site().settings.inspection.scale_sd_g
    apart_g = hypot(stick.green_weight_g * here.spread_pct / 100.0, scale_g)
    likely_g = stick.green_weight_g * here.middle_pct / 100.0
    return likely_g - apart_g, likely_g + apart_g


def _between(lightest_g: float, heaviest_g: float) -> str:
    units = site().units
    return _("{lightest} to {heaviest}").format(
        lightest=say_weight(lightest_g, units).split(" ")[0],
        heaviest=say_weight(heaviest_g, units),
    )


def _last(one: DueStick) -> tuple[float, str, float]:
    """Return the weight before, g, how to speak of that day, and how many days ago it was."""
    now, zone = site().now(), site().zone
    last = previous(one.stick)
    if last is None:
        return one.stick.green_weight_g, _("stuffing"), 0.0
    weight_g, at = last
    then = at or one.hung.group.hung_at or now
    called = say_since(at, zone, now=now) if at else _("hanging")
    return weight_g, called, (now - then) / timedelta(days=1)


def _slip(one: DueStick, weight_g: float) -> Slip | None:
    last_g, called, days = _last(one)
    return slip_in(weight_g, last_g=last_g, since_days=days, last_called=called, units=site().units)


def _saved(stick: Stick) -> str:
    now, zone = site().now(), site().zone
    look = weighed_on(stick, day_of(now, zone), zone)
    if look is None:
        return ""
    told = [
        say_weight(look.weight_g, site().units),
        say_change(stick, look, zone, now=now),
        sentence(say_surface(look.surface)),
    ]
    return ". ".join(part for part in told if part)


def _photo(one: DueStick) -> str:
    """Return where a photo is added to the newest weigh-in of a stick."""
    return url_for(
        "batches.photos.photos",
        number=one.hung.batch.number,
        of=one.stick.weigh_ins[-1].key,
        group=one.hung.group.letter,
    )


def _summary(look: Look, foretold: Mapping[int, Foretold]) -> list[dict[str, str]]:
    """Return, for each group with an entry of today, what was expected before and is by now."""
    now, zone = site().now(), site().zone
    today = day_of(now, zone)
    groups = {one.hung.group.number: one.hung for one in look.sticks if one.done}
    return [
        {
            "title": hung.title,
            "before": say_estimate(
                replace(told, kept=told.earlier)
                if told.earlier is not None
                else Foretold(line=group_estimate(hung.group, zone, before=today), now=now),
                hung.group,
                zone,
            ),
            "after": say_estimate(
                only_a_line(hung.group, zone=zone, now=now) if told.overtaken else told,
                hung.group,
                zone,
            ),
            "note": _say_basis(told),
        }
        for hung in groups.values()
        for told in [foretold[hung.group.number]]
    ]


def _say_basis(told: Foretold) -> str:
    if told.kept is None:
        return _("Straight lines through the last two looks; wide on purpose.")
    if told.overtaken:
        return _(
            "Now is a straight line; the forecast with today's weights follows within a minute."
        )
    return _("By the forecast; ranges hold 8 times in 10.")
