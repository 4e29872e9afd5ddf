"""What other programs may do by a token, and what neither a token nor a cookie may."""

import json
import re
from dataclasses import dataclass, field
from typing import Any

import pytest
from flask.testing import FlaskClient
from web.daemon import Daemon
from web.scenario import PASSPHRASE, START, Scene, token
from werkzeug.test import TestResponse

from hangroom.store.api_tokens import MOST_TOKENS, Scope, new_token, tokens
from hangroom.store.database import connect
from hangroom.store.requests import open_requests
from hangroom_web.app import create_app
from hangroom_web.session import logged_in

WEIGHT = {"key": "monday-A1", "tag": "A1", "weight_g": 82.4}
SET = {"key": "one", "humidity_pct": 78}


@dataclass(kw_only=True)
class Program:
    """Another program, with a token of some scopes."""

    scene: Scene
    scopes: tuple[str, ...]
    key: str = ""
    client: FlaskClient = field(init=False)
    secret: str = field(init=False)

    def __post_init__(self) -> None:
        self.client = self.scene.client()
        db = connect(self.scene.path)
        made = new_token(
            db,
            key=self.key or "-".join(self.scopes),
            name="kitchen scale",
            scopes=[Scope(one) for one in self.scopes],
            by="Ada",
            now=self.scene.clock.now(),
        )
        db.close()
        assert made is not None
        self.secret = made

    def get(self, path: str) -> TestResponse:
        return self.client.get(path, headers=self.bearer)

    def post(self, path: str, body: Any) -> TestResponse:  # noqa: ANN401 - any JSON
        return self.client.post(path, json=body, headers=self.bearer)

    @property
    def bearer(self) -> dict[str, str]:
        return {"Authorization": f"Bearer {self.secret}"}


def weights(scene: Scene, tag: str) -> list[tuple[float, str]]:
    db = connect(scene.path)
    rows = db.execute(
        "select weight_g, weigh_in.entered_by from weigh_in join stick on stick.id = stick_id"
        " where tag = ? order by weigh_in.id",
        (tag,),
    ).fetchall()
    db.close()
    return [(float(weight_g), str(by)) for weight_g, by in rows]


@pytest.fixture
def scale(scene: Scene) -> Program:
    return Program(scene=scene, scopes=("write",))


@pytest.fixture
def controller(scene: Scene) -> Program:
    return Program(scene=scene, scopes=("control",))


# Making and revoking them on the page.


def make(client: FlaskClient, **form: str) -> TestResponse:
    path = "/setup/access/tokens"
    return client.post(path, data={"csrf_token": token(client, "/setup/access"), **form})


def test_a_token_is_shown_once_and_kept_as_its_checksum(scene: Scene) -> None:
    client = scene.client(logged_in=True)
    answer = make(client, name="kitchen scale", key="k1", **{"scope-write": "1"})
    (secret,) = re.findall(r"<code>([\w-]{43})</code>", answer.text)
    assert secret not in client.get("/setup/access").text
    assert "shown once" in make(client, name="scale", key="k1", **{"scope-write": "1"}).text
    for file in scene.folder.rglob("*"):
        assert not file.is_file() or secret.encode() not in file.read_bytes()
    posted = scene.client().post(
        "/api/v1/weigh-ins", json=WEIGHT, headers={"Authorization": f"Bearer {secret}"}
    )
    assert posted.status_code == 201
    html = client.get("/setup/access").text
    assert "kitchen scale" in html
    assert "made Thu 26 Nov by Ada, last used Thu 26 Nov" in " ".join(html.split())


def test_two_tokens_are_never_alike(scene: Scene) -> None:
    """32 random bytes: RFC 4648's base64url writes them in 43 letters."""
    made = {Program(scene=scene, scopes=scopes).secret for scopes in [("read",), ("write",)]}
    assert [len(secret) for secret in made] == [43, 43]


@pytest.mark.parametrize(
    ("form", "told"),
    [
        ({"name": "  ", "scope-read": "1"}, "Name it after"),
        ({"name": "scale"}, "Say what the token may do"),
        ({"name": "scale", "scope-all": "1"}, "Say what the token may do"),
        ({"name": "x" * 41, "scope-read": "1"}, "name"),
    ],
)
def test_a_token_needs_a_name_and_a_scope(scene: Scene, form: dict[str, str], told: str) -> None:
    answer = make(scene.client(logged_in=True), **form)
    assert answer.status_code == 422
    assert told in answer.text


def test_a_revoked_token_is_refused_at_once_and_stays_in_the_table(scale: Program) -> None:
    client = scale.scene.client(logged_in=True)
    assert "kitchen scale" in client.get("/setup/access").text
    form = {"csrf_token": token(client, "/setup/access")}
    assert client.post("/setup/access/tokens/1/revoke", data=form).status_code == 303
    assert scale.post("/api/v1/weigh-ins", WEIGHT).status_code == 401
    assert client.post("/setup/access/tokens/1/revoke", data=form).status_code == 404
    assert "kitchen scale" not in client.get("/setup/access").text
    db = connect(scale.scene.path)
    assert db.execute("select revoked_by from api_token").fetchone() == ("Ada",)
    db.close()


def test_tokens_are_made_only_with_the_passphrase_given_lately(scene: Scene) -> None:
    client = scene.client(logged_in=True)
    form = {"csrf_token": token(client, "/setup/access"), "name": "scale", "scope-control": "1"}
    scene.clock.move(15 * 60.0)
    assert client.post("/setup/access/tokens", data=form).status_code == 403
    again = {**form, "passphrase-again": PASSPHRASE}
    assert "shown this once" in client.post("/setup/access/tokens", data=again).text


def test_the_page_of_tokens_is_for_those_who_may_act(scene: Scene) -> None:
    assert scene.client().get("/setup/access").status_code == 403


def test_tokens_are_not_made_without_end(scene: Scene) -> None:
    client = scene.client(logged_in=True)
    form = {"csrf_token": token(client, "/setup/access"), "name": "scale", "scope-read": "1"}
    codes = [client.post("/setup/access/tokens", data=form).status_code for _ in range(52)]
    assert codes == [200] * MOST_TOKENS + [422] * 2


def test_another_passphrase_is_set_and_this_browser_goes_on(scene: Scene) -> None:
    client, other = scene.client(logged_in=True), scene.client(logged_in=True)
    new = "another one, much longer"
    form = {"csrf_token": token(client, "/setup/access"), "new-passphrase": new}
    path = "/setup/access/passphrase"
    assert client.post(path, data={**form, "passphrase-once-more": "x"}).status_code == 422
    assert client.post(path, data={**form, "passphrase-once-more": new}).status_code == 303
    assert "Log out" in client.get("/").text
    assert "Log out" not in other.get("/").text
    assert scene.client().post("/login", data={"passphrase": new}).status_code == 400
    fresh = scene.client()
    entry = {"csrf_token": token(fresh, "/login"), "passphrase": PASSPHRASE}
    assert fresh.post("/login", data=entry).status_code == 403
    assert fresh.post("/login", data={**entry, "passphrase": new}).status_code == 303


# Weights.


def test_a_weight_is_stored_once_however_often_it_is_sent(scale: Program) -> None:
    first = scale.post("/api/v1/weigh-ins", {**WEIGHT, "squeeze": 3, "surface": []})
    assert (first.status_code, first.get_json()) == (201, WEIGHT)
    again = scale.post("/api/v1/weigh-ins", WEIGHT)
    assert (again.status_code, again.get_json()) == (200, WEIGHT)
    assert weights(scale.scene, "A1")[1:] == [(82.4, "token kitchen scale")]


@pytest.mark.parametrize("other", [{"tag": "A2"}, {"weight_g": 82.3}])
def test_a_key_that_stands_for_something_else_loses_no_weight_in_silence(
    scale: Program, other: dict[str, Any]
) -> None:
    scale.post("/api/v1/weigh-ins", WEIGHT)
    answer = scale.post("/api/v1/weigh-ins", {**WEIGHT, **other})
    assert (answer.status_code, answer.mimetype) == (409, "application/problem+json")
    assert "new key" in answer.get_json()["detail"]


def test_a_slip_is_asked_about_and_stored_where_it_is_confirmed(scale: Program) -> None:
    slip = {**WEIGHT, "weight_g": 824.0}
    answer = scale.post("/api/v1/weigh-ins", slip)
    assert answer.status_code == 409
    assert "looks like a slip" in answer.get_json()["detail"]
    assert len(weights(scale.scene, "A1")) == 1
    assert scale.post("/api/v1/weigh-ins", {**slip, "confirm": True}).status_code == 201


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        ({"weight_g": None}, "weight_g is missing"),
        ({"weight_g": "82"}, "weight_g is a number"),
        ({"weight_g": True}, "weight_g is a number"),
        ({"weight_g": 0}, "grams"),
        ({"weight_g": -1}, "grams"),
        ({"tag": ""}, "tag is a text"),
        ({"tag": 1}, "tag is a text"),
        ({"tag": "\ud800"}, "half a character"),
        ({"key": ""}, "key is a text"),
        ({"squeeze": 6}, "squeeze"),
        ({"squeeze": 2.5}, "whole number"),
        ({"surface": ["mushrooms"]}, "surface is a list"),
        ({"surface": "mould"}, "surface is a list"),
        ({"surface": [[]]}, "surface is a list"),
        ({"taken_at": "2026-11-26"}, "with its offset"),
        ({"taken_at": "0001-01-01T00:00:00+14:00"}, "with its offset"),
        ({"taken_at": 5}, "with its offset"),
        ({"taken_at": "2026-11-27T12:00:00+00:00"}, "time"),
        ({"confirm": "yes"}, "true or false"),
        ({"weight": 82}, "no field 'weight'"),
    ],
)
def test_what_cannot_be_is_refused_in_words(
    scale: Program, wrong: dict[str, Any], told: str
) -> None:
    answer = scale.post("/api/v1/weigh-ins", {**WEIGHT, **wrong})
    assert (answer.status_code, answer.mimetype) == (400, "application/problem+json")
    assert told in answer.get_json()["detail"]
    assert len(weights(scale.scene, "A1")) == 1


@pytest.mark.parametrize(
    "body",
    [
        *(b"", b"[]", b"{", b"\xff", b'"x"', b"null", b"[" * 100_000, b"{}" * 2),
        b'{"key": "k", "tag": "A1", "weight_g": NaN}',
        b'{"key": "k", "tag": "A1", "weight_g": Infinity}',
        b'{"key": "k", "tag": "A1", "weight_g": 1e999}',
        b'{"key": "k", "tag": "A1", "weight_g": 1' + b"0" * 5000 + b"}",
        b'{"key": "k", "tag": "A1", "weight_g": 82, "squeeze": 1' + b"0" * 400 + b"}",
    ],
)
def test_no_body_is_too_odd_for_an_answer(scale: Program, body: bytes) -> None:
    answer = scale.client.post("/api/v1/weigh-ins", data=body, headers=scale.bearer)
    assert answer.status_code == 400
    assert len(weights(scale.scene, "A1")) == 1


def test_a_stick_that_is_not_here_is_not_weighed(scale: Program) -> None:
    answer = scale.post("/api/v1/weigh-ins", {**WEIGHT, "tag": "Z9"})
    assert (answer.status_code, "No stick bears" in answer.get_json()["detail"]) == (404, True)


def test_a_clock_a_little_ahead_is_taken_as_now(scale: Program) -> None:
    ahead = {**WEIGHT, "taken_at": "2026-11-26T14:55:00+00:00"}
    assert scale.post("/api/v1/weigh-ins", ahead).status_code == 201
    db = connect(scale.scene.path)
    (taken_ms,) = db.execute("select max(taken_ms) from weigh_in").fetchone()
    db.close()
    assert taken_ms == START.timestamp() * 1000


# Setpoints.


def test_a_setpoint_is_asked_for_and_the_daemon_says_what_became_of_it(
    controller: Program, daemon: Daemon
) -> None:
    asked = controller.post("/api/v1/rooms/closet/setpoint", SET)
    assert (asked.status_code, asked.get_json()["state"]) == (202, "waiting")
    daemon.answer()
    told = controller.get(asked.headers["Location"]).get_json()
    assert (told["state"], told["room"], told["kind"]) == ("applied", "closet", "humidity-setpoint")
    humidity = daemon.plans["closet"].humidity
    assert humidity is not None
    assert humidity.setpoint_pct == 78.0


def test_the_daemon_refuses_a_program_what_it_refuses_a_person(
    controller: Program, daemon: Daemon
) -> None:
    asked = controller.post("/api/v1/rooms/closet/setpoint", {**SET, "humidity_pct": 95})
    daemon.answer()
    told = controller.get(asked.headers["Location"]).get_json()
    assert told["state"] == "refused"
    assert "90" in told["answer"]


def test_one_request_is_one_however_often_it_is_sent(controller: Program) -> None:
    path = "/api/v1/rooms/closet/setpoint"
    numbers = {controller.post(path, SET).get_json()["request"] for _twice in range(2)}
    assert len(numbers) == 1
    assert controller.post(path, {**SET, "humidity_pct": 77}).status_code == 409
    fridge = controller.post("/api/v1/rooms/fridge/setpoint", {"key": "one", "temperature_c": 4})
    assert fridge.status_code == 409


def test_a_request_nobody_looked_at_has_expired(controller: Program) -> None:
    where = controller.post("/api/v1/rooms/closet/setpoint", SET).headers["Location"]
    controller.scene.clock.move(61)
    assert controller.get(where).get_json()["state"] == "expired"


@pytest.mark.parametrize(
    ("room", "body", "code"),
    [
        ("attic", {"humidity_pct": 78}, 404),
        ("closet", {"temperature_c": 4}, 400),
        ("fridge", {"humidity_pct": 78}, 400),
        ("closet", {}, 400),
        ("closet", {"humidity_pct": 78, "temperature_c": 4}, 400),
        ("closet", {"humidity_pct": 0}, 400),
        ("closet", {"humidity_pct": 100}, 400),
        ("fridge", {"temperature_c": 1e300}, 400),
        ("closet", {"humidity_pct": "78"}, 400),
        ("closet", {"humidity": 78}, 400),
    ],
)
def test_what_is_no_setpoint_is_not_asked_for(
    controller: Program, room: str, body: dict[str, Any], code: int
) -> None:
    answer = controller.post(f"/api/v1/rooms/{room}/setpoint", {"key": "one", **body})
    assert answer.status_code == code
    db = connect(controller.scene.path)
    assert open_requests(db) == []
    db.close()


@pytest.mark.parametrize("number", ["0", "99", "9" * 18, "9" * 40, "-1", "x"])
def test_there_is_no_request_that_nobody_made(controller: Program, number: str) -> None:
    assert controller.get(f"/api/v1/requests/{number}").status_code == 404


# Scopes, and what goes for a token and for a cookie.

ASKED = [
    ("GET", "/api/v1/now", {"read"}),
    ("GET", "/api/v1/rooms/closet/history", {"read"}),
    ("GET", "/api/v1/openapi.json", {"read"}),
    ("GET", "/api/v1/requests/1", {"read", "control"}),
    ("POST", "/api/v1/weigh-ins", {"write"}),
    ("POST", "/api/v1/rooms/closet/setpoint", {"control"}),
]


@pytest.mark.parametrize("scope", ["read", "write", "control"])
@pytest.mark.parametrize(("method", "path", "scopes"), ASKED)
def test_a_token_does_what_its_scope_says_and_no_more(
    scene: Scene, method: str, path: str, scopes: set[str], scope: str
) -> None:
    program = Program(scene=scene, scopes=(scope,))
    answer = program.client.open(path, method=method, headers=program.bearer, json={})
    if scope in scopes:
        assert answer.status_code in {200, 400, 404}
        return
    assert answer.status_code == 403
    assert answer.headers["WWW-Authenticate"] == 'Bearer error="insufficient_scope"'
    assert "may not do this" in answer.get_json()["detail"]


@pytest.mark.parametrize("secret", ["", "x" * 43, "\u00e9", "Basic", " "])
@pytest.mark.parametrize(("method", "path", "_scopes"), ASKED)
def test_a_token_that_does_not_hold_is_refused_even_where_looking_is_open(
    scene: Scene, method: str, path: str, _scopes: set[str], secret: str
) -> None:
    headers = {"Authorization": f"Bearer {secret}"}
    answer = scene.client().open(path, method=method, headers=headers, json={})
    assert answer.status_code == 401
    assert answer.headers["WWW-Authenticate"] == "Bearer"


@pytest.mark.parametrize("path", ["/api/v1/weigh-ins", "/api/v1/rooms/closet/setpoint"])
def test_a_cookie_alone_acts_no_more_than_on_a_form(scene: Scene, path: str) -> None:
    """Confused deputy: a browser adds its cookie to whatever page makes it send something."""
    client = scene.client(logged_in=True)
    body = WEIGHT if "weigh" in path else SET
    assert client.post(path, json=body).status_code == 400
    plain = client.post(path, data=json.dumps(body), content_type="text/plain")
    assert plain.status_code == 400
    mark = {"X-CSRFToken": token(client, "/setup")}
    foreign = {**mark, "Origin": "http://evil.example"}
    assert client.post(path, json=body, headers=foreign).status_code == 403
    assert client.post(path, json=body, headers=mark).status_code in {201, 202}
    stranger = scene.client()
    mark = {"X-CSRFToken": token(stranger, "/login")}
    assert stranger.post(path, json=body, headers=mark).status_code == 401


def test_a_cookie_asks_for_a_setpoint_only_with_the_passphrase_given_lately(scene: Scene) -> None:
    client = scene.client(logged_in=True)
    mark = {"X-CSRFToken": token(client, "/setup")}
    scene.clock.move(15 * 60.0)
    answer = client.post("/api/v1/rooms/closet/setpoint", json=SET, headers=mark)
    assert answer.status_code == 403
    assert "passphrase again" in answer.get_json()["detail"]


def test_a_token_goes_before_a_cookie_that_could_do_more(scene: Scene) -> None:
    client = scene.client(logged_in=True)
    program = Program(scene=scene, scopes=("read",))
    mark = {"X-CSRFToken": token(client, "/setup"), **program.bearer}
    assert client.post("/api/v1/weigh-ins", json=WEIGHT, headers=mark).status_code == 403
    assert len(weights(scene, "A1")) == 1


def test_beside_a_token_nobody_is_logged_in(scene: Scene) -> None:
    program = Program(scene=scene, scopes=("read",))
    with scene.client(logged_in=True) as client:
        client.get("/api/v1/now")
        assert logged_in()
        client.get("/api/v1/now", headers=program.bearer)
        assert not logged_in()


def test_a_token_opens_no_form_and_no_page(scene: Scene) -> None:
    program = Program(scene=scene, scopes=("read", "write", "control"))
    for path, form in (
        ("/inspect/A1", {"weight": "82", "key": "k"}),
        ("/rooms/closet/humidity", {"setpoint": "78"}),
        ("/setup/access/tokens", {"name": "more", "scope-control": "1"}),
    ):
        answer = program.client.post(path, data=form, headers=program.bearer)
        assert answer.status_code == 400
        mark = {"csrf_token": token(program.client, "/login")}
        answer = program.client.post(path, data={**form, **mark}, headers=program.bearer)
        assert answer.status_code == 403
    assert program.get("/setup/access").status_code == 403


def test_the_last_use_is_kept_at_most_once_an_hour(scale: Program) -> None:
    """A program that asks every ten seconds must not write to the card each time."""

    def used() -> object:
        db = connect(scale.scene.path)
        (one,) = tokens(db)
        db.close()
        return one.used_at

    seen = []
    for _minute in range(125):
        scale.post("/api/v1/weigh-ins", {})
        seen.append(used())
        scale.scene.clock.move(60)
    assert len(set(seen)) == 3


# Where looking asks for a log-in.


def closed_client(scene: Scene) -> FlaskClient:
    web = scene.settings.web.model_copy(update={"looking": "log-in"})
    settings = scene.settings.model_copy(update={"web": web})
    return create_app(settings, clock=scene.clock, boot_id="this-boot").test_client()


def test_a_read_token_looks_where_looking_asks_for_a_log_in(scene: Scene) -> None:
    client = closed_client(scene)
    refused = client.get("/api/v1/now")
    assert (refused.status_code, refused.mimetype) == (401, "application/problem+json")
    reader, scale = (Program(scene=scene, scopes=(one,)) for one in ("read", "write"))
    assert client.get("/api/v1/now", headers=reader.bearer).status_code == 200
    assert client.get("/api/v1/now", headers=scale.bearer).status_code == 403
    assert client.get("/", headers=reader.bearer).status_code == 303
