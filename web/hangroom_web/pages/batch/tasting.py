"""What a group was like when it was tasted: the finish that another batch can ask for."""

from dataclasses import replace

from flask import Blueprint, render_template, url_for
from sqlite_utils import Database
from werkzeug.wrappers import Response

from hangroom.errors import InputError
from hangroom.store.batch_facts import GroupName
from hangroom.store.batches import Batch, Group, batch_id_of
from hangroom.store.record.entries import add_entry, entries_of
from hangroom.store.record.finish import FinishProfile, finish_profile
from hangroom.units import say_duration, say_temperature
from hangroom_web.batch.measuring_form import LONGEST_WORDS, SQUEEZE_CHOICES
from hangroom_web.dates import say_moment
from hangroom_web.forms import Form
from hangroom_web.pages.batch.common import (
    batch_or_404,
    fresh_form,
    group_or_404,
    sent_form,
    stored,
)
from hangroom_web.pages.login import acting, who
from hangroom_web.site import records, site
from hangroom_web.words import _

tasting_pages = Blueprint("tasting", __name__)

RATINGS = frozenset({"1", "2", "3", "4", "5"})


@tasting_pages.get("/batches/<int:number>/taste/<letter>")
def taste(number: int, letter: str) -> str:
    """Show how a group was found so far, with the form for a tasting."""
    with records() as db:
        found = batch_or_404(db, number)
        return _page(db, found, group_or_404(found, letter), fresh_form())


@tasting_pages.post("/batches/<int:number>/taste/<letter>")
@acting
def tasted(number: int, letter: str) -> Response | tuple[str, int]:
    """Store how a group was found."""
    form = sent_form()
    with records() as db:
        found = batch_or_404(db, number)
        group = group_or_404(found, letter)
        profile = _read(db, form, GroupName(batch=number, letter=letter))
        if profile is None:
            return _page(db, found, group, form), 422
        add_entry(db, number, profile)
    return stored(
        _("The tasting is stored. A new batch can ask to become as dry as this group."),
        url_for("batches.tasting.taste", number=number, letter=letter),
    )


def _read(db: Database, form: Form, name: GroupName) -> FinishProfile | None:
    rating = form.one_of("rating", RATINGS, needed=True)
    squeeze = form.one_of("squeeze", SQUEEZE_CHOICES)
    words = form.line("words", longest=LONGEST_WORDS)
    tasted_at = form.moment("tasted")
    if rating is None or not form.sound:
        return None
    try:
        profile = finish_profile(
            db,
            name,
            key=form.key,
            tasted_at=tasted_at,
            by=who(),
            now=form.now,
            rating=int(rating),
            words=words,
        )
    except InputError as fault:
        form.refuse(str(fault))
        return None
    return replace(profile, squeeze=int(squeeze)) if squeeze else profile


def _page(db: Database, found: Batch, group: Group, form: Form) -> str:
    here = site()
    profiles = [
        profile
        for profile in entries_of(db, FinishProfile, batch_id_of(db, found.number))
        if profile.group == group.letter
    ]
    now = finish_profile(
        db,
        GroupName(batch=found.number, letter=group.letter),
        key=form.key,
        tasted_at=here.now(),
        by=who(),
        now=here.now(),
    )
    return render_template(
        "taste.html",
        batch=found,
        group=group,
        form=form,
        profiles=[_tasted(profile) for profile in reversed(profiles)],
        known=_known(now),
        ratings=[(one, one) for one in sorted(RATINGS)],
        squeezes=[(one, one) for one in sorted(SQUEEZE_CHOICES)],
    )


def _tasted(profile: FinishProfile) -> dict[str, object]:
    here = site()
    return {
        "when": say_moment(profile.tasted_at, here.zone, now=here.now()),
        "by": profile.entered_by,
        "rating": "" if profile.rating is None else f"{profile.rating} / 5",
        "words": profile.words,
        "known": _known(profile),
    }


def _known(profile: FinishProfile) -> list[str]:
    """Return what the record itself says of the group at that moment."""
    told = [
        _("Yield not weighed.")
        if profile.yield_pct is None
        else _("Yield {pct:.1f} % of green weight.").format(pct=profile.yield_pct)
    ]
    if profile.squeeze is not None:
        told.append(_("Squeeze {squeeze} of 5.").format(squeeze=profile.squeeze))
    if profile.hung_h is not None:
        told.append(_("Hung {time}.").format(time=say_duration(profile.hung_h * 3600.0)))
    if profile.air_temperature_c is not None and profile.air_humidity_pct is not None:
        told.append(
            _("Air {temperature}, {humidity:.0f} % on average.").format(
                temperature=say_temperature(profile.air_temperature_c, site().units),
                humidity=profile.air_humidity_pct,
            )
        )
    return told
