"""The page of a batch's groups: where each is, and what may come next."""

from flask import render_template
from sqlite_utils import Database

from hangroom.product.composition import Makeup
from hangroom.store.batches import Batch, Group
from hangroom.store.record.finish import tasted_groups
from hangroom_web.batch.hanging_form import stick_fields
from hangroom_web.batch.likeness import green_makeup, like_target, liked_groups
from hangroom_web.batch.starting import FINISHES, MOST_ROWS, TARGETS, rows_in
from hangroom_web.dates import say_moment
from hangroom_web.forms import Form
from hangroom_web.pages.batch.common import room_choices
from hangroom_web.site import site
from hangroom_web.words import _

LETTERS = "ABCDEFGH"


def groups_page(db: Database, found: Batch, form: Form) -> str:
    """Return the page with a form as it was sent, or a fresh one."""
    here = site()
    taken = {group.letter for group in found.groups}
    letter = next((one for one in LETTERS if one not in taken), "")
    green = green_makeup(db, found.number)
    usual = {
        f"{letter}-finish": FINISHES.get(letter, ""),
        f"{letter}-target": TARGETS.get(letter, ""),
    }
    form.typed = {**usual, **form.typed}
    liked = liked_groups(db, green)
    return render_template(
        "groups.html",
        batch=found,
        form=form,
        groups=[_group(db, group, green) for group in found.groups],
        letter=letter,
        rows=rows_in(form),
        most_rows=MOST_ROWS,
        rooms=room_choices(),
        liked=[("", _("no group in particular")), *((key, one.said) for key, one in liked.items())],
        zone=here.settings.site.timezone,
    )


def _group(db: Database, group: Group, green: Makeup | None) -> dict[str, object]:
    here = site()
    now = here.now()
    rooms = dict(room_choices())
    if group.room is not None and group.hung_at is not None:
        where = _("In {room} since {moment}.").format(
            room=rooms.get(group.room, group.room),
            moment=say_moment(group.hung_at, here.zone, now=now),
        )
    elif group.pulled_at is not None:
        where = _("Pulled {moment}.").format(moment=say_moment(group.pulled_at, here.zone, now=now))
    else:
        where = _("Not hung yet.")
    return {
        "letter": group.letter,
        "title": _("Group {letter}, {finish}").format(letter=group.letter, finish=group.finish),
        "where": where,
        "hangs": group.room is not None,
        "pulled": group.pulled_at is not None,
        "sticks": [(stick.tag, stick_fields(stick, here.units)) for stick in group.tagged],
        "others": [(name, title) for name, title in rooms.items() if name != group.room],
        "target": _("Target: {target:g} % of green weight.").format(target=group.target_yield_pct),
        "like": _like(db, group, green),
    }


def _like(db: Database, group: Group, green: Makeup | None) -> dict[str, str] | None:
    """Return another target for a group that shall be as dry as a tasted one, where it has one."""
    tasted = next((one for one in tasted_groups(db) if one.name == group.like), None)
    if tasted is None:
        return None
    found = like_target(db, tasted, green)
    if found is None:
        return None
    wanted_pct = round(100.0 * found.kept.ratio, 1)
    is_new = abs(wanted_pct - group.target_yield_pct) > 0.05  # noqa: PLR2004 - half a shown step
    return {"because": found.because, "target": f"{wanted_pct:g}" if is_new else ""}
