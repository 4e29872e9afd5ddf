"""Labels of a batch's sticks, to print: a code that opens the stick, and its tag in large."""

from urllib.parse import urlsplit

from flask import Blueprint, Response, render_template, request

from hangroom_web.batch_view.paper import PAPERS, page_rules, paper_asked
from hangroom_web.draw.code import code, label_address
from hangroom_web.hosts import is_number
from hangroom_web.pages.batch.common import batch_or_404
from hangroom_web.site import records, site
from hangroom_web.words import _

label_pages = Blueprint("labels", __name__)

# Letters of a tag that stand on one line in the largest type.
LONG_TAG = 5


@label_pages.get("/batches/<int:number>/labels")
def labels(number: int) -> str:
    """Show a label for each tagged stick, as it is printed."""
    with records() as db:
        found = batch_or_404(db, number)
    host = _host()
    return render_template(
        "labels.html",
        batch=found,
        host=host,
        by_number=is_number(urlsplit(f"//{host}").hostname or ""),
        labels=[
            {
                "tag": stick.tag,
                "long": len(stick.tag) > LONG_TAG,
                "batch": _("Batch {}").format(found.number),
                "group": _("{letter}, {finish}").format(letter=group.letter, finish=group.finish),
                "address": label_address(request.scheme, host, stick.tag),
                "code": code(
                    label_address(request.scheme, host, stick.tag),
                    said=_("Code that opens stick {}").format(stick.tag),
                ),
            }
            for group in found.groups
            for stick in group.tagged
        ],
        paper=paper_asked(request.args),
        papers=PAPERS,
    )


@label_pages.get("/batches/<int:number>/labels/page.css")
def page_css(number: int) -> Response:
    """Return the paper's size, and what stands in the margins of every sheet of labels."""
    with records() as db:
        found = batch_or_404(db, number)
    css = page_rules(
        paper_asked(request.args),
        top_left=site().settings.site.name,
        top_right=_("Labels of batch {number}, {name}").format(
            number=found.number, name=found.name
        ),
        bottom_left=_("Tie each to its hook card or loop, never to the casing."),
    )
    return Response(css, mimetype="text/css")


def _host() -> str:
    """Return the name the page is to be asked by: that of the settings, at the port of now."""
    names = site().settings.web.hosts
    if not names:
        return request.host
    port = urlsplit(f"//{request.host}").port
    return names[0] if port is None else f"{names[0]}:{port}"
