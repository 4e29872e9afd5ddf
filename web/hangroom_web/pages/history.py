"""History: a room's air, relays and what happened in it, over hours or weeks."""

import zlib
from collections.abc import Iterable, Iterator, Mapping
from contextlib import closing
from datetime import datetime
from typing import Any

from flask import Blueprint, Response, abort, render_template, request, url_for

from hangroom.errors import InputError
from hangroom.store.air_cells import readings_between
from hangroom.store.database import FILE_NAME, connect
from hangroom.store.room_past import HungBatch, batches_hung_in
from hangroom_web.draw.history import draw_history, mark_alone
from hangroom_web.history.past import Past
from hangroom_web.history.reading import choices_of, past_of
from hangroom_web.history.table import past_as_csv, readings_as_csv, rows_of
from hangroom_web.history.window import LENGTHS, NAMES, Range, Window
from hangroom_web.history.words import (
    MARK_WORDS,
    Saying,
    say_gaps,
    say_mark,
    say_picture,
    say_quantity,
    say_relays,
)
from hangroom_web.relays import RELAY_NAMES
from hangroom_web.site import live_board, records, site
from hangroom_web.words import _

history_pages = Blueprint("history", __name__)

# As fine as the picture without script is drawn, and as many rows as a table on a phone may have.
MOST_DRAWN, MOST_ROWS, MOST_CSV_ROWS = 250, 100, 1440

# More batches than the newest have no button of their own.
MOST_BATCHES = 6

# Of many marks the newest are listed.
MOST_LISTED = 60

ASKED = ("range", "end", "batch", "since", "until", "sensor")


@history_pages.get("/rooms/<room>/history")
def history(room: str) -> tuple[str, int]:
    """Show a room's past; 422 with words for a time that cannot be shown."""
    return _page(room, "history.html", MOST_DRAWN, _picture)


@history_pages.get("/rooms/<room>/history/table")
def table(room: str) -> tuple[str, int]:
    """Show the same as a table."""
    return _page(room, "history_table.html", MOST_ROWS, _rows)


@history_pages.get("/rooms/<room>/history.csv")
def as_csv(room: str) -> Response:
    """Give the stretches of a time to a spreadsheet."""
    with records() as db:
        past = past_of(
            *(db, _known(room), request.args.to_dict()),
            site=site(),
            board=live_board(),
            most=MOST_CSV_ROWS,
        )
    return _csv(past_as_csv(past, _saying()), f"{room}-history.csv")


@history_pages.get("/rooms/<room>/readings.csv")
def readings(room: str) -> Response:
    """Give every reading of a time to a spreadsheet, as long as it is kept."""
    with records() as db:
        past = past_of(
            *(db, _known(room), request.args.to_dict()),
            site=site(),
            board=live_board(),
            most=MOST_CSV_ROWS,
        )
    if past.sensor is None:
        abort(404)
    path, sensor, saying, units = (
        site().settings.store.folder / FILE_NAME,
        past.sensor,
        _saying(),
        site().units,
    )

    def lines() -> Iterator[str]:
        # A connection of its own: the request's is closed before the last line goes out.
        with closing(connect(path)) as db:
            found = readings_between(db, sensor, since=past.window.since, until=past.window.until)
            yield from readings_as_csv(found, sensor=sensor.name, units=units, saying=saying)

    return _csv(lines(), f"{room}-readings.csv")


def _page(room: str, template: str, most: int, views: Any) -> tuple[str, int]:  # noqa: ANN401
    asked = request.args.to_dict()
    with records() as db:
        hung = batches_hung_in(db, _known(room))
        choices = choices_of(db, room, site=site(), board=live_board())
        past, fault = None, ""
        try:
            past = past_of(db, room, asked, site=site(), board=live_board(), most=most, hung=hung)
        except InputError as wrong:
            fault = str(wrong)
    return render_template(
        template,
        room=site().settings.room[room],
        name=room,
        fault=fault,
        choices=[
            {
                "name": choice.name,
                "href": _href("history.history", room, {**asked, "sensor": choice.word}),
                "chosen": past is not None and choice.sensor == past.sensor,
            }
            for choice in choices
        ]
        if len(choices) > 1
        else [],
        ranges=[
            {
                "name": NAMES[one],
                "href": _href("history.history", room, {"range": one, **_sensor(asked)}),
                "chosen": past is not None and past.window.range is one,
            }
            for one in Range
            if one is not Range.BATCH or hung
        ],
        batches=_batches(room, hung, past, asked),
        links={
            "history": _href("history.history", room, asked),
            "table": _href("history.table", room, asked),
            "csv": _href("history.as_csv", room, asked),
            "readings": _href("history.readings", room, asked),
            "json": _href("history_api.history", room, asked),
        },
        **({} if past is None else _of_past(room, past, asked) | views(past)),
    ), 200 if past is not None else 422


def _of_past(room: str, past: Past, asked: Mapping[str, str]) -> dict[str, Any]:
    saying, window = _saying(), past.window
    earlier, later = _neighbours(window)
    return {
        "past": past,
        "span": _("{start} to now").format(start=saying.moment(window.since))
        if window.live
        else saying.span(window.since, window.until),
        "earlier": earlier and _href("history.history", room, {**_sensor(asked), **earlier}),
        "later": later and _href("history.history", room, {**_sensor(asked), **later}),
        "made_at": saying.moment(saying.now),
    }


def _picture(past: Past) -> dict[str, Any]:
    saying = _saying()
    listed = past.marks[-MOST_LISTED:]
    return {
        "picture": draw_history(past, label=say_picture(past, saying), zone=saying.zone),
        "told": [
            *(say_quantity(quantity, past, saying) for quantity in past.quantities),
            *say_relays(past),
        ],
        "gaps": say_gaps(past, saying),
        "marks": [
            {
                "at": saying.moment(mark.at),
                "shape": mark_alone(mark.kind),
                "kind": MARK_WORDS[mark.kind],
                "said": say_mark(mark, saying, past.units),
            }
            for mark in reversed(listed)
        ],
        "marks_left": len(past.marks) - len(listed),
        "js_words": {
            "on": _("on {} %"),
            "off": _("off"),
            "unknown": _("not known"),
            "none": _("no reading"),
            "span": _("{} to {}"),
            "value": _("{} ({} to {})"),
            "now": _("now"),
            "lost": _(
                "This phone has lost the controller since {}. The picture ends where it ended then."
            ),
        },
    }


def _rows(past: Past) -> dict[str, Any]:
    return {
        "rows": rows_of(past, _saying()),
        "heads": [f"{quantity.name}, {quantity.unit}" for quantity in past.quantities],
        "relay_names": RELAY_NAMES,
        "stretch_min": past.window.stretch_s // 60,
    }


def _batches(
    room: str, hung: list[HungBatch], past: Past | None, asked: Mapping[str, str]
) -> list[dict[str, Any]]:
    if past is None or past.window.range is not Range.BATCH:
        return []
    return [
        {
            "name": _("{number}, {name}").format(number=one.number, name=one.name),
            "href": _href(
                "history.history",
                room,
                {"range": Range.BATCH, "batch": str(one.number), **_sensor(asked)},
            ),
            "chosen": past.window.batch == one.number,
        }
        for one in hung[:MOST_BATCHES]
    ]


def _neighbours(window: Window) -> tuple[dict[str, str], dict[str, str]]:
    """Return what to ask for the time before, and for the time after where there is one yet."""
    if window.range in LENGTHS:
        length = LENGTHS[window.range]
        after = window.until + length
        earlier = {"range": str(window.range), "end": _iso(window.until - length)}
        if window.live:
            return earlier, {}
        ends_now = after >= site().now()
        later = {"range": str(window.range), **({} if ends_now else {"end": _iso(after)})}
        return earlier, later
    length = window.until - window.since
    earlier = {"since": _iso(window.since - length), "until": _iso(window.since)}
    later = {"since": _iso(window.until), "until": _iso(window.until + length)}
    return earlier, {} if window.live else later


def _known(room: str) -> str:
    if room not in site().settings.room:
        abort(404)
    return room


def _sensor(asked: Mapping[str, str]) -> dict[str, str]:
    return {"sensor": asked["sensor"]} if asked.get("sensor") else {}


def _href(endpoint: str, room: str, asked: Mapping[str, str]) -> str:
    given: dict[str, Any] = {k: asked[k] for k in ASKED if asked.get(k)}
    return url_for(endpoint, room=room, **given)


def _iso(at: datetime) -> str:
    return f"{at:%Y-%m-%dT%H:%M:%SZ}"


def _saying() -> Saying:
    return Saying(zone=site().zone, now=site().now())


def _csv(lines: Iterable[str], name: str) -> Response:
    """Send lines as they are made, packed on the way where that is taken."""
    packs = bool(request.accept_encodings.quality("gzip"))
    body = _packed(lines) if packs else (each.encode() for each in lines)
    answer = Response(body, mimetype="text/csv")
    if packs:
        answer.headers["Content-Encoding"] = "gzip"
    answer.vary.add("Accept-Encoding")
    answer.headers["Content-Disposition"] = f"attachment; filename={name}"
    answer.headers["Cache-Control"] = "no-store"
    return answer


def _packed(lines: Iterable[str]) -> Iterator[bytes]:
    packer = zlib.compressobj(wbits=31)  # with gzip's head and foot
    for each in lines:
        if part := packer.compress(each.encode()):
            yield part
    yield packer.flush()
