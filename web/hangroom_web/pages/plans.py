"""Planning one room's humidity: when its groups are wanted, what is proposed, what is in use."""

import secrets

from flask import Blueprint, abort, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from hangroom.settings import RoomTable
from hangroom.store.batches import hanging_batches
from hangroom.store.plans import newest_plan, plan_by_number, plan_runs, wishes
from hangroom.store.requests import Kind
from hangroom_web.gather import room_status
from hangroom_web.pages.login import acting, setting, who
from hangroom_web.plan_view import Kept, number_in, plan_body, room_plans
from hangroom_web.site import records, site
from hangroom_web.wanted import Body
from hangroom_web.wishes import asked_for, wish

plan_pages = Blueprint("plans", __name__)


@plan_pages.get("/rooms/<name>/plan")
def plan(name: str) -> str:
    """Show what is wished, proposed and in use in one room."""
    table, here = _table(name), site()
    with records() as db:
        run = plan_runs(db).get(name)
        kept = Kept(
            hanging=hanging_batches(db),
            wishes=wishes(db),
            newest=newest_plan(db, name),
            run=run,
            followed=plan_by_number(db, run.plan_number) if run else None,
        )
        told = asked_for(db, request.args.get("asked"))
    return render_template(
        "plan.html",
        name=name,
        title=table.title,
        plans=room_plans(kept, room=name, units=here.units, zone=here.zone, now=here.now()),
        status=room_status(),
        told=told[1] if told else "",
        key=secrets.token_hex(16),
    )


@plan_pages.post("/rooms/<name>/plan/wish")
@acting
def want(name: str) -> Response:
    """Ask for a group to be ready by a time, or gently dried."""
    here = site()
    return _asked(name, Kind.PLAN, plan_body(request.form, zone=here.zone, now=here.now()))


@plan_pages.post("/rooms/<name>/plan/forget")
@acting
def forget(name: str) -> Response:
    """Ask for a group to be planned for no more."""
    return _asked(name, Kind.PLAN_FORGET, {"group": number_in(request.form.get("group", ""))})


@plan_pages.post("/rooms/<name>/plan/use")
@setting
def use(name: str) -> Response:
    """Ask for the proposal that the page showed to be followed."""
    return _asked(name, Kind.PLAN_USE, {"plan": number_in(request.form.get("plan", ""))})


@plan_pages.post("/rooms/<name>/plan/end")
@setting
def end(name: str) -> Response:
    """Ask for the plan to be followed no more."""
    return _asked(name, Kind.PLAN_END, {})


def _asked(name: str, kind: Kind, body: Body) -> Response:
    _table(name)
    number = wish(kind, name, body, asked_by=who())
    return redirect(url_for("plans.plan", name=name, asked=number), 303)


def _table(name: str) -> RoomTable:
    found = site().settings.room.get(name)
    if found is None or found.humidity is None:
        abort(404)
    return found
