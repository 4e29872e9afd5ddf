"""What an attacker has: every route of the app, and what is in the household before and after."""

import io
import re
import struct
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path

from flask import Flask
from flask.testing import FlaskClient
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from PIL import Image
from web.recorded import recorded
from web.scenario import BOOT, Scene, token
from werkzeug.routing import Rule
from werkzeug.test import TestResponse

from hangroom.store.database import connect
from hangroom_web.app import create_app

CHANGING = frozenset({"POST", "PUT", "PATCH", "DELETE"})

# What exists in the household, by the name of the address's part; what is not named here is "x".
THERE = {
    "number": "1",
    "letter": "A",
    "tag": "B1",
    "name": "closet",
    "room": "closet",
    "sensor": "rail",
    "kept": "weigh_in",
    "key": "wednesdayA1",
    "at_ms": "1",
    "act": "acknowledge",
    "filename": "app.css",
}
# Fields that stand on a page only once something was added or chosen there, beside those that do.
MORE_FIELDS: dict[str, tuple[str, ...]] = {
    "/batches/new": (
        *("name", "note", "rows", "later", "more", "green", "green-unit", "casing"),
        *("casing-diameter", "A-finish", "A-target", "A-sticks", "A-room", "A-like"),
        *("A-0-tag", "A-0-green", "A-0-hung", "A-0-across", "A-0-length"),
    ),
    "/batches/1/recipe": (
        *("meats", "meat-0", "meat-0-weight", "meat-0-weight-unit", "meat-0-name", "meat-0-water"),
        *("meat-0-protein", "meat-0-fat", "salt", "cure", "cure-nitrite", "cure-nitrate", "wanted"),
        *("work", "more", "erythorbate", "erythorbate-kind"),
    ),
    "/batches/1/recipe/freeze": (),
    "/batches/1/steps/start": (
        *("kind", "air", "wet-bulb", "humidity", "room", "group", "from", "to", "ends", "note"),
    ),
    "/batches/1/temperatures/point": ("series", "core", "at", "seen", "probe", "probe-own"),
    "/batches/1/temperatures": ("series", "probe", "group", "lines", "day", "file"),
    "/batches/1/groups": ("letter", "rows", "C-finish", "C-target", "C-sticks", "C-0-tag"),
    "/batches/1/groups/A/hang": ("A-room", "A-at", "stick-1-hung", "stick-1-across"),
    "/batches/1/groups/A/pull": ("A-pulled",),
    "/batches/1/groups/A/sticks": ("stick-1-cooked", "stick-1-hung", "stick-1-length"),
    "/batches/1/groups/A/target": ("target",),
    "/batches/1/measurements": ("group", "aw", "ph", "instrument", "taken", "note"),
    "/batches/1/photos": ("photo", "caption", "group", "of", "taken"),
    "/batches/1/taste/A": ("rating", "squeeze", "words", "tasted"),
    "/batches/1/correct/weigh_in/wednesdayA1": (
        *("weight_g", "squeeze", "wrinkle_mm", "diameter_mm", "surface-mould", "taken_at", "note"),
        *("because", "because-words", "strike"),
    ),
    "/inspect/A1/skip": ("reason", "taken_ms", "sent_ms", "all"),
    "/inspect/A1/undo": ("of",),
    "/inspect/looks/1/A": ("surface-nothing", "surface-slime", "squeeze", "wrinkle", "note"),
}
FORM = re.compile(r"<form\b([^>]*)>(.*?)</form>", re.DOTALL)
ACTION = re.compile(r'\baction="([^"]+)"')
NAMES = re.compile(r'<(?:input|select|textarea|button)\b[^>]*?\bname="([^"]+)"')


@dataclass(frozen=True, kw_only=True)
class Route:
    """One address of the app with a method that it takes."""

    endpoint: str
    method: str
    rule: Rule

    def path(self, **instead: str) -> str:
        """Return the address for what is there, or for something else."""
        path = self.rule.rule
        for name in sorted(self.rule.arguments):
            spelled = re.compile(rf"<(?:\w+:)?{name}>").search(path)
            assert spelled is not None
            path = path.replace(spelled[0], instead.get(name, THERE.get(name, "x")))
        return path

    def __str__(self) -> str:
        return f"{self.method} {self.rule.rule}"


def routes(app: Flask) -> list[Route]:
    """Return every address with every method that it takes: a new one is attacked by itself."""
    return [
        Route(endpoint=rule.endpoint, method=method, rule=rule)
        for rule in sorted(app.url_map.iter_rules(), key=str)
        for method in sorted((rule.methods or set()) - {"HEAD", "OPTIONS"})
    ]


@dataclass(kw_only=True)
class Attacked:
    """A household with a full record, its app, somebody who may act and a stranger."""

    scene: Scene
    app: Flask = field(init=False)
    keeper: FlaskClient = field(init=False)
    stranger: FlaskClient = field(init=False)
    keepers_token: str = field(init=False)
    strangers_token: str = field(init=False)

    def __post_init__(self) -> None:
        recorded(self.scene)
        self.app = create_app(self.scene.settings, clock=self.scene.clock, boot_id=BOOT)
        self.keeper, self.stranger = self.app.test_client(), self.app.test_client()
        self.scene.log_in(self.keeper)
        self.keepers_token = token(self.keeper, "/setup")
        self.strangers_token = token(self.stranger, "/login")

    @property
    def reading(self) -> list[Route]:
        return [route for route in routes(self.app) if route.method not in CHANGING]

    @property
    def changing(self) -> list[Route]:
        return [route for route in routes(self.app) if route.method in CHANGING]

    def holds(self) -> dict[str, str]:
        """Return a checksum of every table and of every file that is kept."""
        return dict(_tables(self.scene.path)) | dict(_files(self.scene.folder))

    def send(self, route: Route, form: dict[str, str]) -> TestResponse:
        """Send a form as somebody who may act."""
        sent = {**form, "csrf_token": self.keepers_token}
        return self.keeper.post(route.path(), data=sent, buffered=True)

    def fields(self) -> dict[str, list[str]]:
        """Return the name of every field of every form on every page, by where it is sent to."""
        found = {path: set(names) for path, names in MORE_FIELDS.items()}
        for route in self.reading:
            with self.keeper.get(route.path()) as answer:
                if answer.mimetype != "text/html":
                    continue
                for attributes, inside in FORM.findall(answer.get_data(as_text=True)):
                    action = ACTION.search(attributes)
                    path = action[1].split("#")[0] if action else ""
                    found.setdefault(path or route.path(), set()).update(NAMES.findall(inside))
        ours = {"csrf_token", "passphrase-again"}
        return {path: sorted(names - ours) for path, names in found.items() if names - ours}


def _tables(path: Path) -> Iterator[tuple[str, str]]:
    with closing(connect(path)) as db:
        for (table,) in db.execute(
            "select name from sqlite_master where type = 'table'"
        ).fetchall():
            all_rows = f'select * from "{table}"'  # noqa: S608 - the name is the database's own
            rows = sorted(map(repr, db.execute(all_rows).fetchall()))
            yield f"table {table}", sha256("\n".join(rows).encode()).hexdigest()


def _files(folder: Path) -> Iterator[tuple[str, str]]:
    for file in sorted(folder.rglob("*")):
        # The database is looked at by its tables; the small photos are made by looking.
        if file.is_file() and "hangroom.db" not in file.name and "small-photos" not in file.parts:
            yield f"file {file.relative_to(folder)}", sha256(file.read_bytes()).hexdigest()


def exploding(width_px: int, height_px: int) -> bytes:
    """A photo of 32 pixels whose header (SOF0, ITU-T T.81, B.2.2) says otherwise."""
    tiny = io.BytesIO()
    Image.new("RGB", (8, 4)).save(tiny, "JPEG")
    photo = bytearray(tiny.getvalue())
    at = photo.index(b"\xff\xc0") + 5
    photo[at : at + 4] = struct.pack(">HH", height_px, width_px)
    return bytes(photo)


# What people and programs type into fields, besides any text at all.
TYPED = st.one_of(
    st.sampled_from(
        [
            *("1", "0", "-1", "72,5", "1e5", "1.234,5", "9" * 30, "nan", "inf", "\u0663", "\x00"),
            *("smoke", "cook", "own", "10219", "closet", "A", "B", "1-A", "lb", "on", "humidifier"),
            *("2026-11-26", "2026-11-26T08:00", "2026-11-01T01:30", "0001-01-01T00:00"),
            *("9999-12-31T23:59", "2026-11-26T08:00+14:00", "09:40 61.2", "name:x", "rest", "hang"),
            *("'; drop table batch; --", "<script>alert(1)</script>", "=1+1", "../../x", "%s{}{0}"),
            *("mistyped", "300", "wednesdayA1", "room closet", "door-open", "NaCl", "x" * 3000),
        ]
    ),
    st.text(max_size=12),
)

# How a form may be answered that was sent by somebody who may act: taken, asked about, or refused.
ANSWERED = frozenset({200, 303, 400, 403, 404, 409, 413, 422, 429})

# One ends the session that sends the rest, two make and remove a second house.
READ_NO_FIELD = frozenset({"login.log_out", "sample.begin", "sample.leave"})

ANY_FORMS = settings(
    deadline=None,
    database=None,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=list(HealthCheck),
)


def any_form(
    data: st.DataObject, attacked: Attacked, fields: dict[str, list[str]]
) -> tuple[Route, dict[str, str]]:
    """Draw a route and a form: mostly names of its own fields, with anything in them."""
    of = [route for route in attacked.changing if route.endpoint not in READ_NO_FIELD]
    route = data.draw(st.sampled_from(of), label="route")
    others = sorted({name for names in fields.values() for name in names})
    own = fields.get(route.path(), others)
    names = st.one_of(*(st.sampled_from(own),) * 4, st.sampled_from(others), st.text(max_size=6))
    form = data.draw(st.dictionaries(names, TYPED, max_size=12), label="form")
    return route, form
