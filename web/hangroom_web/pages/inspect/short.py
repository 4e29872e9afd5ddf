"""The short address on a label: it leads to the stick's card, or to its batch."""

from flask import Blueprint, abort, redirect, url_for
from werkzeug.wrappers import Response

from hangroom.store.batches import hanging_batches
from hangroom.store.stick_tags import sticks_tagged
from hangroom_web.rail import hanging, tagged_in
from hangroom_web.site import records

short_pages = Blueprint("short", __name__)


# A label's code holds capital letters only, its path too.
@short_pages.get("/s/<tag>")
@short_pages.get("/S/<tag>")
def stick(tag: str) -> Response:
    """Go to a stick's card where it hangs, else to its batch; capitals or not are one."""
    with records() as db:
        found = sticks_tagged(db, tag)
        if not found:
            abort(404)
        hangs = {one.tag for _hung, one in tagged_in(hanging(hanging_batches(db)))}
    here = next((known for known, _number in found if known in hangs), None)
    if here is not None:
        return redirect(url_for("inspect.inspect", all=1, _anchor=f"stick-{here}"), 303)
    return redirect(url_for("batches.batch", number=found[0][1]), 303)
