"""The inspection on paper: today's sticks by room, what is known of them, blanks to fill in."""

from collections.abc import Mapping

from flask import Blueprint, Response, render_template, request

from hangroom.store.batches import hanging_batches
from hangroom.units import say_weight
from hangroom_web.batch_view.paper import PAPERS, page_rules, paper_asked
from hangroom_web.dates import say_day, say_moment
from hangroom_web.forecasts.foretold import Foretold
from hangroom_web.forecasts.reading import foretold_of
from hangroom_web.look import DueStick, Look
from hangroom_web.pages.inspect.cards import between, expected_of, last_of
from hangroom_web.pages.room import current_look
from hangroom_web.rail import previous
from hangroom_web.site import records, site
from hangroom_web.words import _

sheet_pages = Blueprint("sheet", __name__)

# Common practice where meat is handled and weighed; no source.
CAUTIONS = (
    _("Clean hands; the scale at zero, with its hook or bowl on it."),
    _("Weigh each stick the same way each day, and hang it back on its own hook."),
    _("Mould, slime, a smell that is off, drip, insects: write which, and look at its neighbours."),
    _("Write down a weight as the scale shows it, odd or not. A wrong one is found by its like."),
)


@sheet_pages.get("/inspect/sheet")
def sheet() -> str:
    """Show the sheet as it is printed; with `all`, every tagged stick and not only those due."""
    with records() as db:
        kept = hanging_batches(db)
        look = current_look(db, kept)
        foretold = foretold_of(db, (group for batch in kept for group in batch.groups), site())
    everything = "all" in request.args
    now, zone = site().now(), site().zone
    return render_template(
        "sheet.html",
        rooms=_rooms(look, foretold, everything=everything),
        everything=everything,
        printed=f"{say_day(now, zone)} {say_moment(now, zone, now=now)}",
        cautions=CAUTIONS,
        paper=paper_asked(request.args),
        papers=PAPERS,
    )


@sheet_pages.get("/inspect/sheet/page.css")
def page_css() -> Response:
    """Return the paper's size, and what stands in the margins of every sheet."""
    now, zone = site().now(), site().zone
    css = page_rules(
        paper_asked(request.args),
        top_left=site().settings.site.name,
        top_right=_("Inspection, {day}").format(day=say_day(now, zone)),
        bottom_left=_(
            "Printed {when}. Enter it on Inspect, with the time it was weighed at."
        ).format(when=say_moment(now, zone, now=now)),
    )
    return Response(css, mimetype="text/css")


def _rooms(
    look: Look, foretold: Mapping[int, Foretold], *, everything: bool
) -> list[dict[str, object]]:
    """Return each room with its sticks that are to be weighed, as the sheet says them."""
    sticks = [one for one in look.sticks if everything or one.due]
    titles = {name: room.title for name, room in site().settings.room.items()}
    rooms = dict.fromkeys(one.hung.group.room or "" for one in sticks)
    return [
        {
            "title": titles.get(name, name),
            "sticks": [
                _row(one, foretold[one.hung.group.number])
                for one in sticks
                if (one.hung.group.room or "") == name
            ],
        }
        for name in rooms
    ]


def _row(one: DueStick, told: Foretold) -> dict[str, str]:
    expected = expected_of(one, told)
    last = last_of(one)
    weighed = previous(one.stick) is not None
    return {
        "tag": one.stick.tag,
        "group": one.hung.title,
        "last": _("{weight}, {when}").format(
            weight=say_weight(last.weight_g, site().units), when=last.called
        )
        if weighed
        else "",
        "expected": "" if expected is None else between(*expected),
    }
