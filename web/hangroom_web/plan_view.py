"""A room's humidity plans in words: what is wished, what is proposed, what is in use. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from hangroom.errors import InputError
from hangroom.product.forecast import Forecast, Remark
from hangroom.product.forecast_words import say, words_of
from hangroom.product.humidity_plan import GroupPlanned
from hangroom.product.told import Words
from hangroom.store.batches import Batch
from hangroom.store.plans import Ended, KeptPlan, PlanCause, PlanRun, Wish
from hangroom.units import Units
from hangroom_web.dates import say_hour, say_moment
from hangroom_web.forms import as_typed, local_moment
from hangroom_web.wanted import Body
from hangroom_web.words import _

# How long the page tells that a plan has ended.
END_TOLD_FOR = timedelta(days=3)

ENDINGS = {
    Ended.BY_HAND: "plan-ended-by-hand",
    Ended.ENDED: "plan-ended",
    Ended.DONE: "plan-done",
    Ended.REFUSED: "plan-refused",
}

BY, GENTLY = "by", "gently"


@dataclass(frozen=True, slots=True, kw_only=True)
class WishView:
    """A group that hangs in the room, and what is wished of it; `typed` as the field holds it."""

    number: int
    title: str
    target: str
    said: str
    how: str
    typed: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanView:
    """A proposal: setpoints by day, what becomes of each group, its price; or why there is none.

    `setpoints`: from when, and which humidity. `groups`: name, ready as the room is, ready so.
    `holds`: whether it may still be used.
    """

    number: int
    made: str
    holds: bool
    error: str
    setpoints: Sequence[tuple[str, str]]
    groups: Sequence[tuple[str, str, str]]
    remarks: Sequence[Words]


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomPlans:
    """All of it: the plan in use or None, the newest proposal that is not, wishes, an ending."""

    in_use: PlanView | None
    begun: str
    proposal: PlanView | None
    waits: bool
    ended: str
    wishes: Sequence[WishView]


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """What the store holds of one room's plans; `followed`: the proposal that `run` follows."""

    hanging: Sequence[Batch]
    wishes: Mapping[int, Wish]
    newest: KeptPlan | None
    run: PlanRun | None
    followed: KeptPlan | None


def room_plans(kept: Kept, *, room: str, units: Units, zone: ZoneInfo, now: datetime) -> RoomPlans:
    """Put one room's plans into words."""
    run, newest, followed = kept.run, kept.newest, kept.followed
    runs = run is not None and run.ended_at is None
    in_use = followed if runs else None
    # A failed attempt at today's plan is told beside the plan that is still in use.
    other = (
        newest if newest is not None and (in_use is None or newest.number > in_use.number) else None
    )
    asked = [wish.asked_at for wish in kept.wishes.values() if wish.room == room]
    return RoomPlans(
        in_use=_plan(in_use, units, zone, now) if in_use else None,
        begun=_("Begun by {by}, {at}; worked out anew each day.").format(
            by=run.begun_by, at=say_moment(run.begun_at, zone, now=now)
        )
        if run is not None and runs
        else "",
        proposal=_plan(other, units, zone, now) if other is not None and asked else None,
        waits=bool(asked) and (newest is None or max(asked) > newest.made_at),
        ended=_say_end(run, zone, now) if run is not None else "",
        wishes=_wishes(kept, room, zone, now),
    )


def plan_body(form: Mapping[str, str], *, zone: ZoneInfo, now: datetime) -> Body:
    """Return the wish to have a group ready; InputError where no moment to come was given."""
    group, how = form.get("group", ""), form.get("how", "")
    if how not in {BY, GENTLY}:
        raise InputError(_("Say whether it shall be ready by a time or gently dried. Go back."))
    wanted_in_s = None
    if how == BY:
        wanted_at = local_moment(form.get("wanted_at", "").strip(), zone)
        wanted_in_s = (wanted_at - now).total_seconds()
        if wanted_in_s <= 0:
            raise InputError(_("That moment is past. Choose one to come. Nothing was changed."))
    return {"group": number_in(group), "wanted_in_s": wanted_in_s}


def number_in(typed: str) -> int:
    """Return the number of a group or plan that a form names; InputError where it names none."""
    if not (typed.isascii() and typed.isdecimal() and len(typed) <= 9):  # noqa: PLR2004 - digits
        raise InputError(_("The form was not whole. Load the page anew and try again."))
    return int(typed)


def _wishes(kept: Kept, room: str, zone: ZoneInfo, now: datetime) -> list[WishView]:
    found = []
    for batch in sorted(kept.hanging, key=lambda one: one.number):
        for group in batch.groups:
            if group.room != room:
                continue
            wish = kept.wishes.get(group.number)
            found.append(
                WishView(
                    number=group.number,
                    title=_("Group {letter}, {batch}").format(
                        letter=group.letter, batch=batch.name
                    ),
                    target=_("until {target:g} % of its green weight").format(
                        target=group.target_yield_pct
                    ),
                    said=_say_wish(wish, zone, now) if wish else "",
                    how=GENTLY if wish is not None and wish.wanted_at is None else BY,
                    typed=as_typed(wish.wanted_at if wish else None, zone),
                )
            )
    return found


def _say_wish(wish: Wish, zone: ZoneInfo, now: datetime) -> str:
    if wish.wanted_at is None:
        return _("Wanted as soon as it dries gently, by {by}.").format(by=wish.asked_by)
    return _("Wanted by {at}, says {by}.").format(
        at=say_moment(wish.wanted_at, zone, now=now), by=wish.asked_by
    )


def _say_end(run: PlanRun, zone: ZoneInfo, now: datetime) -> str:
    if run.ended_at is None or run.ended_why is None or now - run.ended_at > END_TOLD_FOR:
        return ""
    figures = {"by": run.ended_by, "at": say_moment(run.ended_at, zone, now=now)}
    return say(Remark(code=ENDINGS[run.ended_why], figures=figures))


def _plan(kept: KeptPlan, units: Units, zone: ZoneInfo, now: datetime) -> PlanView:
    made = _("Worked out {at}").format(at=say_moment(kept.made_at, zone, now=now))
    if kept.cause is PlanCause.DAILY:
        made = _("Worked out anew {at}").format(at=say_moment(kept.made_at, zone, now=now))
    plan = kept.plan
    if plan is None:
        return PlanView(
            number=kept.number,
            made=made,
            holds=False,
            error=kept.error,
            setpoints=(),
            groups=(),
            remarks=(),
        )

    def said(remark: Remark) -> Words:
        name = str(remark.figures.get("group", ""))
        hung_at = kept.hung_at.get(name, kept.made_at)
        return words_of(remark, units, lambda at_h: _hour(hung_at, at_h, zone, now))

    return PlanView(
        number=kept.number,
        made=made,
        holds=kept.holds(now),
        error="",
        setpoints=[
            (
                say_moment(kept.made_at + timedelta(hours=step.after_h), zone, now=now),
                _("{humidity:.1f} %").format(humidity=step.humidity_pct),
            )
            for step in plan.steps
        ],
        groups=[_outcome(each, kept, zone, now) for each in plan.groups],
        remarks=[said(remark) for remark in plan.remarks],
    )


def _outcome(
    each: GroupPlanned, kept: KeptPlan, zone: ZoneInfo, now: datetime
) -> tuple[str, str, str]:
    hung_at = kept.hung_at.get(each.group, kept.made_at)

    def ready(forecast: Forecast) -> str:
        if forecast.yield_ratio <= forecast.target_yield_ratio:
            return _("there")
        if forecast.p50_h is None:
            return _("never")
        return _hour(hung_at, forecast.p50_h, zone, now)

    return each.group[:1].upper() + each.group[1:], ready(each.as_it_is), ready(each.planned)


def _hour(hung_at: datetime, at_h: float, zone: ZoneInfo, now: datetime) -> str:
    return say_hour(hung_at + timedelta(hours=at_h), zone, now=now)
