"""One stick's card on Inspect: what is known of it, what was typed, asked and saved."""

import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from flask import abort, url_for
from markupsafe import Markup

from hangroom.product.expected import weight_band_g
from hangroom.product.slips import expected_g, unasked_g
from hangroom.store.batches import Stick, WeighIn
from hangroom.store.record.skips import SkipReason
from hangroom.units import say_weight
from hangroom_web.dates import day_of, say_moment, say_since
from hangroom_web.draw.rail import coin
from hangroom_web.forecasts.foretold import Foretold
from hangroom_web.look import DueStick, Look
from hangroom_web.rail import drawn, previous, say_change, weighed_on
from hangroom_web.site import site
from hangroom_web.slips import Slip, slip_in
from hangroom_web.surface import say_surface
from hangroom_web.words import _, sentence

SKIP_WORDS: Mapping[SkipReason, str] = {
    SkipReason.FELL: _("fell"),
    SkipReason.CUT: _("cut open"),
    SkipReason.PULLED: _("pulled"),
}

# So long an entry is taken back with one tap; later it is corrected, with a reason.
UNDO_WITHIN = timedelta(minutes=10)

# Within hours there is nothing to expect of a straight line, days.
SOON_DAYS = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """One stick's card.

    `told`: what a script needs to reckon while somebody types. `undo`: the key of an entry that can
    be taken back. `stored`: the key that this request brought and that is stored by now.
    """

    number: int
    tag: str
    where: str
    coin: Markup
    facts: list[tuple[str, str]]
    told: Mapping[str, object]
    key: str
    skip_key: str
    saved: str = ""
    skipped: str = ""
    photo: str = ""
    undo: str = ""
    stored: str = ""
    typed: Mapping[str, str] = field(default_factory=dict)
    faults: Mapping[str, str] = field(default_factory=dict)
    slip: Slip | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Last:
    """A stick's weight before, g; how to speak of that day; how many days before it was."""

    weight_g: float
    called: str
    days: float


def stick_or_404(look: Look, tag: str) -> DueStick:
    """Return a stick that hangs."""
    found = next((one for one in look.sticks if one.stick.tag == tag), None)
    if found is None:
        abort(404)
    return found


def card_of(
    one: DueStick,
    told: Foretold,
    *,
    typed: Mapping[str, str] | None = None,
    faults: Mapping[str, str] | None = None,
    slip: Slip | None = None,
    stored: str = "",
    undo: str = "",
) -> Card:
    """Return a stick's card, as it stands or as it was sent and is given back."""
    stick, group = one.stick, one.hung.group
    shows = typed is None and (one.done or bool(stored and _entry(stick, stored)))
    skipped = one.skipped if typed is None and not shows else None
    rooms = site().settings.room
    return Card(
        number=stick.number,
        tag=stick.tag,
        where=f"{one.hung.title}, {rooms[group.room].title}"
        if group.room in rooms
        else one.hung.title,
        coin=coin(drawn(stick)),
        facts=_facts(one, told),
        told=_told(one, told),
        key=(typed or {}).get("key") or secrets.token_hex(16),
        skip_key=secrets.token_hex(16),
        saved=_saved(stick, stored) if shows else "",
        skipped=""
        if skipped is None
        else _("Not weighed: {why}").format(why=SKIP_WORDS[skipped.reason]),
        photo=_photo(one) if shows else "",
        undo=undo,
        stored=stored,
        typed=typed or {},
        faults=faults or {},
        slip=slip,
    )


def last_of(one: DueStick, at: datetime | None = None) -> Last:
    """Return what a stick weighed before a moment, now where none is given."""
    now, zone = site().now(), site().zone
    at = at or now
    before = [look for look in one.stick.weigh_ins if look.taken_at <= at]
    if before:
        newest = before[-1]
        called = say_since(newest.taken_at, zone, now=now)
        return Last(
            weight_g=newest.weight_g, called=called, days=(at - newest.taken_at) / timedelta(days=1)
        )
    hung_g = one.stick.hang_weight_g
    if hung_g is None:
        return Last(weight_g=one.stick.green_weight_g, called=_("stuffing"), days=0.0)
    hung_at = one.hung.group.hung_at or now
    return Last(
        weight_g=hung_g, called=_("hanging"), days=max(0.0, (at - hung_at) / timedelta(days=1))
    )


def slip_of(one: DueStick, weight_g: float, at: datetime) -> Slip | None:
    """Return what to ask about a stick's weight at a moment."""
    last = last_of(one, at)
    return slip_in(
        weight_g,
        last_g=last.weight_g,
        since_days=last.days,
        last_called=last.called,
        units=site().units,
    )


def _facts(one: DueStick, told: Foretold) -> list[tuple[str, str]]:
    stick, units = one.stick, site().units
    facts = [(_("Green"), say_weight(stick.green_weight_g, units))]
    if previous(stick) is None:
        return facts
    last = last_of(one)
    facts.append((_("Last, {when}").format(when=last.called), say_weight(last.weight_g, units)))
    expected = expected_of(one, told)
    if expected is not None:
        facts.append((_("Expected"), between(*expected)))
    here = told.stick_now(stick.tag)
    if here is not None:
        said = _("{now:.1f} ± {spread:.1f} %").format(now=here.middle_pct, spread=here.spread_pct)
        facts.append((_("Yield now, forecast"), said))
    return facts


def expected_of(one: DueStick, told: Foretold) -> tuple[float, float] | None:
    """Return between which weights a stick is expected by now, g, lighter first; None: unknown."""
    if previous(one.stick) is None:
        return None
    here = told.stick_now(one.stick.tag)
    if here is not None:
        return weight_band_g(
            here,
            green_weight_g=one.stick.green_weight_g,
            scale_sd_g=site().settings.inspection.scale_sd_g,
        )
    last = last_of(one)
    return expected_g(last.weight_g, last.days) if last.days > SOON_DAYS else None


def between(lightest_g: float, heaviest_g: float) -> str:
    """Return for example '70.1 to 73.3 g'."""
    units = site().units
    return _("{lightest} to {heaviest}").format(
        lightest=say_weight(lightest_g, units).split(" ")[0],
        heaviest=say_weight(heaviest_g, units),
    )


def _told(one: DueStick, told: Foretold) -> dict[str, object]:
    last, expected = last_of(one), expected_of(one, told)
    lightest_g, heaviest_g = unasked_g(last.weight_g, last.days)
    return {
        "green": one.stick.green_weight_g,
        "last": last.weight_g,
        "said": say_weight(last.weight_g, site().units),
        "when": last.called,
        "unasked": [round(lightest_g, 3), round(heaviest_g, 3)],
        "expected": None if expected is None else [round(bound_g, 3) for bound_g in expected],
    }


def _entry(stick: Stick, key: str) -> WeighIn | None:
    return next((look for look in stick.weigh_ins if look.key == key), None)


def _saved(stick: Stick, key: str) -> str:
    """Return what was saved: the entry of a key, else the newest of today."""
    now, zone = site().now(), site().zone
    today = weighed_on(stick, day_of(now, zone), zone)
    look = _entry(stick, key) or today
    if look is None:
        return ""
    told = [
        say_weight(look.weight_g, site().units),
        "" if look is today else _("weighed {}").format(say_moment(look.taken_at, zone, now=now)),
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
