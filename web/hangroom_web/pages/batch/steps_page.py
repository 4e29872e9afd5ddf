"""The page beside the smoker: what is going on, what is next, the core, the casing."""

from flask import render_template, request
from sqlite_utils import Database

from hangroom.store.batches import Batch, batch_id_of
from hangroom.store.record.entries import entries_of
from hangroom.store.record.series import SeriesKind, series_of
from hangroom.store.record.steps import Step, StepKind
from hangroom.terms import Stage
from hangroom.units import say_duration
from hangroom_web.batch.casing_view import casing_view
from hangroom_web.batch.series_view import newest_typed, series_view
from hangroom_web.batch.step_form import STEP_NAMES
from hangroom_web.batch.steps_view import UsualView, says_where_from, step_view, usual_views
from hangroom_web.forms import Form
from hangroom_web.pages.batch.common import group_choices, room_choices
from hangroom_web.site import site
from hangroom_web.stages import say_lasts
from hangroom_web.wishes import asked_for
from hangroom_web.words import _

PROBES = (_("the thickest stick"), _("the coldest place"))
OWN_PROBE = _("somewhere else:")
WHAT_IF_H = ("1", "2", "3")


def steps_page(db: Database, found: Batch, form: Form) -> str:
    """Return the page with a form as it was sent, or a fresh one."""
    here = site()
    now, units = here.now(), here.units
    done = entries_of(db, Step, batch_id_of(db, found.number))
    lasting = [step for step in done if step.to_at is None]
    chilling = bool(done) and done[-1].kind is StepKind.CHILL
    kind = SeriesKind.CHILL if chilling else SeriesKind.COOK
    series = newest_typed(series_of(db, batch_id_of(db, found.number)), kind)
    usual = usual_views(done, found.casing, units=units)
    following = next((one for one in usual if one.is_next), None)
    more = request.args.get("more", "")
    return render_template(
        "steps.html",
        batch=found,
        duration=say_duration,
        form=form,
        lasting=[step_view(step, units=units, zone=here.zone, now=now) for step in lasting],
        done=[
            step_view(step, units=units, zone=here.zone, now=now)
            for step in reversed(done)
            if step.to_at is not None
        ],
        usual=usual,
        following=following,
        ends_when=_ends_when(usual, following) if done else "",
        where_from=says_where_from(found.casing),
        casing=casing_view(
            done,
            found.casing,
            more_h=float(more) if more in WHAT_IF_H else 1.0,
            units=units,
            now=now,
        ),
        what_if=WHAT_IF_H,
        kinds=list(STEP_NAMES.items()),
        rooms=[("", _("in no room here")), *room_choices()],
        groups=group_choices(found),
        series=series_view(series, units=units, zone=here.zone, now=now) if series else None,
        series_kind=kind,
        probes=[(one, one) for one in (*PROBES, OWN_PROBE)],
        own_probe=OWN_PROBE,
        stages=_stages(lasting, usual_first=not done),
        asked=_answer(db),
    )


def _ends_when(usual: list[UsualView], following: UsualView | None) -> str:
    """Say what usually ends the step before the one that follows."""
    place = usual.index(following) if following else len(usual)
    return usual[place - 1].lasts if place else ""


def _stages(lasting: list[Step], *, usual_first: bool) -> list[dict[str, str]]:
    """Return the rooms whose air can be set for drying the casings, while that is what is done."""
    drying = [step for step in lasting if step.kind is StepKind.CASING_DRY]
    if not drying and not usual_first:
        return []
    chosen = {step.room for step in drying if step.room}
    return [
        {"name": name, "title": room.title, "lasts": say_lasts(room.stages()[Stage.CASING_DRY])}
        for name, room in site().settings.room.items()
        if not chosen or name in chosen
    ]


def _answer(db: Database) -> str:
    told = asked_for(db, request.args.get("asked"))
    return told[1] if told else ""
