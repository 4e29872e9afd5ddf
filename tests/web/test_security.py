"""Attacks on every route there is, named by the app itself: a new one is attacked without being named.

What must hold of each: nothing changes without log-in and the form's token, from another page, or
by another name; nothing is so odd that it fails; every answer carries the policy. Changes are looked
for in every table and every kept file, before and after.
"""

import io
import re
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from hypothesis import given, settings
from hypothesis import strategies as st
from web.attacking import ANSWERED, ANY_FORMS, Attacked, Route, any_form, exploding, routes
from web.scenario import BOOT, Scene
from werkzeug.test import TestResponse

from hangroom_web import wishes
from hangroom_web.answers import HEADERS
from hangroom_web.app import create_app
from hangroom_web.guard import ALWAYS_OPEN, LARGER_BYTES
from hangroom_web.server import BODY_BYTES

# The way in: it is for those who are not logged in.
WAY_IN = {"login.log_in", "login.choose", "login.log_out"}
# Looking around in an invented house, which is no part of the household: it is for onlookers too.
LOOKING_AROUND = {"sample.begin", "sample.leave"}
OWN_SCRIPT = re.compile(r'<script src="/(?:static|bundles)/[\w./-]+\?v=\w+" defer></script>')
# In the suite; all 10,000 are sent by tests/bench/form_bodies.py.
FORM_BODIES = 1000


@pytest.fixture(scope="module")
def attacked(tmp_path_factory: pytest.TempPathFactory, household: Path) -> Iterator[Attacked]:
    """One household for all attacks: none of them may change it but the last."""
    folder = tmp_path_factory.mktemp("attacked") / "household"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(wishes, "WAIT_S", 0.0)  # no daemon answers here, and nobody waits for it
        yield Attacked(scene=Scene(folder=Path(shutil.copytree(household, folder))))


def each(
    attacked: Attacked, attack: Callable[[Route], TestResponse], of: list[Route], *codes: int
) -> None:
    """Attack each route; none answers otherwise than with one of the codes, and nothing changes."""
    before, otherwise = attacked.holds(), {}
    for route in of:
        with attack(route) as answer:
            if answer.status_code not in codes:
                otherwise[str(route)] = answer.status_code
    assert otherwise == {}
    assert attacked.holds() == before


def test_the_app_has_the_routes_that_are_meant(attacked: Attacked) -> None:
    """That the lists are not empty, and that what asks for nothing is named by hand."""
    assert len(attacked.changing) >= 40
    assert len(attacked.reading) >= 30
    assert {route.method for route in attacked.changing} == {"POST"}


def test_nothing_is_done_without_a_log_in(attacked: Attacked) -> None:
    def attack(route: Route) -> TestResponse:
        return attacked.stranger.post(
            route.path(),
            data={"csrf_token": attacked.strangers_token, "weight": "82", "key": "k", "value": "1"},
            headers={"X-CSRFToken": attacked.strangers_token},
        )

    for_all = WAY_IN | LOOKING_AROUND
    others = [route for route in attacked.changing if route.endpoint not in for_all]
    each(attacked, attack, others, 401, 403)
    of_sample = [route for route in attacked.changing if route.endpoint in LOOKING_AROUND]
    each(attacked, attack, of_sample, 303)


def test_the_way_in_changes_nothing_either(attacked: Attacked) -> None:
    def attack(route: Route) -> TestResponse:
        client = attacked.app.test_client()
        with attacked.stranger.session_transaction() as held:
            kept = dict(held)
        with client.session_transaction() as session:
            session.update(kept)
        form = {"csrf_token": attacked.strangers_token, "passphrase": "x" * 9, "code": "B" * 8}
        return client.post(route.path(), data={**form, "passphrase-once-more": "x" * 9})

    of = [route for route in attacked.changing if route.endpoint in WAY_IN]
    assert len(of) == len(WAY_IN)
    each(attacked, attack, of, 303, 403)


def test_nothing_is_done_without_the_forms_token(attacked: Attacked) -> None:
    def attack(route: Route) -> TestResponse:
        return attacked.keeper.post(route.path(), data={"weight": "82", "key": "k"})

    each(attacked, attack, attacked.changing, 400)


def test_nothing_is_done_with_the_token_of_another_session(attacked: Attacked) -> None:
    def attack(route: Route) -> TestResponse:
        return attacked.keeper.post(route.path(), data={"csrf_token": attacked.strangers_token})

    each(attacked, attack, attacked.changing, 400)


@pytest.mark.parametrize(
    "origin",
    ["http://evil.example", "null", "http://localhost:9", "http://localhost.evil.example", "//["],
)
def test_nothing_is_done_for_another_page(attacked: Attacked, origin: str) -> None:
    def attack(route: Route) -> TestResponse:
        form = {"csrf_token": attacked.keepers_token, "key": "k"}
        return attacked.keeper.post(route.path(), data=form, headers={"Origin": origin})

    each(attacked, attack, attacked.changing, 403)


@pytest.mark.parametrize(
    "host", ["evil.example", "localhost.evil.example", "evil.example:8080", "[", "a b"]
)
def test_nobody_is_served_under_another_name(attacked: Attacked, host: str) -> None:
    """DNS rebinding: a page of the attacker's own name, which suddenly leads to this address."""

    def attack(route: Route) -> TestResponse:
        return attacked.keeper.open(
            route.path(),
            method=route.method,
            data={"csrf_token": attacked.keepers_token} if route.method == "POST" else None,
            headers={"Host": host, "Origin": f"http://{host}"},
        )

    each(attacked, attack, [*attacked.reading, *attacked.changing], 400)


def test_looking_changes_nothing(attacked: Attacked) -> None:
    each(
        attacked,
        lambda route: attacked.stranger.get(route.path()),
        attacked.reading,
        *(200, 303, 308, 403, 404),
    )


@pytest.mark.parametrize("method", ["PUT", "PATCH", "DELETE", "TRACE", "CONNECT", "BREW"])
def test_no_other_method_does_anything(attacked: Attacked, method: str) -> None:
    each(
        attacked,
        lambda route: attacked.keeper.open(route.path(), method=method),
        [route for route in routes(attacked.app) if route.endpoint != "sample.gone"],
        405,
    )


# Where looking asks for a log-in.


@pytest.fixture(scope="module")
def closed(attacked: Attacked) -> FlaskClient:
    """Somebody who did not log in where looking asks for it."""
    scene = attacked.scene
    web = scene.settings.web.model_copy(update={"looking": "log-in"})
    app = create_app(
        scene.settings.model_copy(update={"web": web}), clock=scene.clock, boot_id=BOOT
    )
    return app.test_client()


def test_where_looking_asks_for_a_log_in_nothing_is_shown_without(
    attacked: Attacked, closed: FlaskClient
) -> None:
    shown = {}
    for route in attacked.reading:
        with closed.get(route.path()) as answer:
            turned_away = answer.status_code == 401 or (
                answer.status_code == 303 and answer.headers["Location"].startswith("/login?next=")
            )
            if not turned_away:
                shown[route.endpoint] = answer.get_data(as_text=True)
    assert set(shown) <= ALWAYS_OPEN
    for endpoint in set(shown) - {"static", "bundle"}:  # the same files for every household
        for kept in ("Closet", "closet", "pork", "A1", "13.1", "juniper"):
            assert kept not in shown[endpoint], endpoint


def test_the_log_in_has_all_it_needs(closed: FlaskClient) -> None:
    html = closed.get("/login").text
    needed = re.findall(r'(?:src|href)="(/(?:static|bundles)/[^"]+)"', html)
    assert len(needed) >= 2
    assert {path: closed.get(path, buffered=True).status_code for path in needed} == dict.fromkeys(
        needed, 200
    )


def test_a_link_is_gone_on_with_after_the_log_in(closed: FlaskClient) -> None:
    answer = closed.get("/rooms/closet?asked=3")
    assert answer.headers["Location"] == "/login?next=/rooms/closet?asked%3D3"


def test_machines_are_told_whether_all_is_fresh_and_no_more(
    attacked: Attacked, closed: FlaskClient
) -> None:
    assert closed.get("/healthz").get_json() == {"fresh": True}
    assert closed.get("/no-such-page").status_code == 303
    assert attacked.stranger.get("/healthz").get_json() == {"fresh": True, "reasons": []}


# Too much, too odd.


def test_a_body_that_is_too_large_is_refused_before_it_is_read(attacked: Attacked) -> None:
    def attack(route: Route) -> TestResponse:
        most = LARGER_BYTES.get(route.endpoint, BODY_BYTES)
        data = {"csrf_token": attacked.keepers_token, "note": "x" * most}
        return attacked.keeper.post(route.path(), data=data)

    each(attacked, attack, attacked.changing, 413)


def test_a_stranger_sends_no_more_than_a_small_form_anywhere(attacked: Attacked) -> None:
    def attack(route: Route) -> TestResponse:
        data = {"csrf_token": attacked.strangers_token, "note": "x" * BODY_BYTES}
        return attacked.stranger.post(route.path(), data=data)

    each(attacked, attack, attacked.changing, 413)


def test_a_form_of_too_many_parts_is_refused(attacked: Attacked) -> None:
    parts = {f"field{n}": "1" for n in range(500)}

    def attack(route: Route) -> TestResponse:
        return attacked.keeper.post(
            route.path(),
            data={"csrf_token": attacked.keepers_token, **parts},
            content_type="multipart/form-data",
        )

    each(attacked, attack, attacked.changing, 413)


@pytest.mark.parametrize(
    "content_type",
    [
        "multipart/form-data",
        "multipart/form-data; boundary=",
        "multipart/form-data; boundary=" + "x" * 2000,
        "application/x-www-form-urlencoded; charset=utf-7",
        "application/json",
        "\u00ff/\u00ff",
        "",
    ],
)
def test_a_body_that_is_none_of_its_kind_is_refused(attacked: Attacked, content_type: str) -> None:
    def attack(route: Route) -> TestResponse:
        return attacked.keeper.post(
            route.path(),
            data=b"--x\r\nContent-Disposition: form-data; name=\xff\r\n\r\n%ff%00\xfe",
            content_type=content_type.encode().decode("latin-1"),
        )

    each(attacked, attack, attacked.changing, 400, 413, 415)


TRICKS = [
    *("../../etc/passwd", "..%2f..%2faccess.json", "%2e%2e/%2e%2e/hangroom.db", "....//x", "a%00b"),
    *("..%5c..%5cx", "'; drop table batch; --", "%ff%fe", "x" * 3000, "-1", "9" * 30, "1e9", "%20"),
    *("%F0%9F%A5%93", "%0d%0aSet-Cookie:x=1", "{{7*7}}", "<script>", "\u2024\u2024/", "1%2e0"),
]


@pytest.mark.parametrize("trick", TRICKS, ids=range(len(TRICKS)))
def test_no_address_is_too_odd_and_none_leads_out(attacked: Attacked, trick: str) -> None:
    def attack(route: Route) -> TestResponse:
        path = route.path(**dict.fromkeys(route.rule.arguments, trick))
        answer = attacked.keeper.open(path, method=route.method)
        assert b"session_key" not in answer.data
        assert b"root:" not in answer.data
        return answer

    of = [route for route in (*attacked.reading, *attacked.changing) if route.rule.arguments]
    each(attacked, attack, of, 200, 303, 308, 400, 404, 405, 414, 422, 429)


@pytest.mark.parametrize("odd", ["\x00", "9" * 30, "\u0663", "x" * 3000, "%ff", "[]", "-1", "A"])
def test_no_question_in_an_address_is_too_odd(attacked: Attacked, odd: str) -> None:
    names = ["asked", "more", "group", "of", "ratio", "paper", "next", "all", "range", "end"]
    names += ["batch", "since", "until", "sensor", "points", "done", "revoked", "hide", "part"]

    def attack(route: Route) -> TestResponse:
        return attacked.keeper.get(route.path(), query_string=dict.fromkeys(names, odd))

    # A calendar fetched by somebody who may keeps what it told, so as to tell what moved since.
    of = [route for route in attacked.reading if route.endpoint != "calendar.download"]
    each(attacked, attack, of, 200, 303, 304, 308, 400, 404, 422, 429)


# What every answer carries.


def test_every_answer_carries_the_policy(
    attacked: Attacked, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_args: object) -> None:
        raise ZeroDivisionError

    answers = [attacked.keeper.get(route.path()) for route in attacked.reading]
    answers += [attacked.keeper.post(route.path()) for route in attacked.changing]
    answers += [
        attacked.stranger.get("/no-such-page"),
        attacked.stranger.delete("/"),
        attacked.stranger.get("/", headers={"Host": "evil.example"}),
        attacked.stranger.post("/login", data={"x": "x" * 300_000}),
        attacked.stranger.get("/api/v1/now", headers={"Authorization": "Bearer x"}),
        attacked.stranger.get("/static/../app.py"),
    ]
    monkeypatch.setattr("hangroom_web.pages.batches.batches_in_short", fails)
    answers.append(attacked.stranger.get("/batches"))
    codes = {answer.status_code for answer in answers}
    assert {200, 303, 400, 401, 404, 405, 413, 500} <= codes
    for answer in answers:
        assert {name: answer.headers.get(name) for name in HEADERS} == HEADERS, answer.request.path
        # On http the first is ignored, and the second puts an error on the browser's console.
        assert "Strict-Transport-Security" not in answer.headers
        assert "Cross-Origin-Opener-Policy" not in answer.headers
        assert "Server" not in answer.headers
        answer.close()


def test_the_policy_lets_nothing_of_others_in() -> None:
    """CSP level 3: no source but the page's own, and none that is written into it."""
    policy = dict(
        part.strip().split(" ", 1) for part in HEADERS["Content-Security-Policy"].split(";")
    )
    assert policy["default-src"] == "'none'"
    assert policy["script-src"] == policy["style-src"] == policy["form-action"] == "'self'"
    assert policy["frame-ancestors"] == policy["base-uri"] == "'none'"
    assert not any("unsafe" in told or "*" in told or "http" in told for told in policy.values())


def test_no_page_holds_script_or_style_of_its_own(attacked: Attacked) -> None:
    for route in attacked.reading:
        with attacked.keeper.get(route.path()) as answer:
            if answer.mimetype != "text/html":
                continue
            html = answer.get_data(as_text=True)
            assert "style=" not in html, route
            assert "<style" not in html, route
            assert "javascript:" not in html, route
            assert " onclick" not in html, route
            assert html.count("<script") == len(OWN_SCRIPT.findall(html)), route


# Whatever is typed.

FORMS = settings(ANY_FORMS, max_examples=FORM_BODIES)


@pytest.fixture(scope="module")
def fields(attacked: Attacked) -> dict[str, list[str]]:
    found = attacked.fields()
    assert len(found) >= 30
    return found


def test_a_strangers_form_changes_nothing_whatever_is_in_it(
    attacked: Attacked, fields: dict[str, list[str]]
) -> None:
    before = attacked.holds()

    @settings(FORMS, max_examples=FORM_BODIES // 4)
    @given(data=st.data())
    def attack(data: st.DataObject) -> None:
        route, form = any_form(data, attacked, fields)
        form["csrf_token"] = attacked.strangers_token
        answer = attacked.stranger.post(route.path(), data=form)
        assert answer.status_code in {303, 401, 403, 422, 429}, (route, answer.status_code)

    attack()
    assert attacked.holds() == before


def test_a_photo_that_would_explode_is_refused_and_nothing_is_kept(attacked: Attacked) -> None:
    def attack(route: Route) -> TestResponse:
        photo = (io.BytesIO(exploding(65_535, 65_535)), "photo.jpg")
        form = {"csrf_token": attacked.keepers_token, "photo": photo, "key": "boom"}
        answer = attacked.keeper.post(route.path(), data=form)
        answer.request.input_stream.close()
        return answer

    of = [route for route in attacked.changing if route.endpoint == "batches.photos.add"]
    each(attacked, attack, of, 422)


@FORMS
@given(data=st.data())
def test_whatever_is_sent_is_taken_asked_about_or_refused_in_words(
    attacked: Attacked, fields: dict[str, list[str]], data: st.DataObject
) -> None:
    """The last one: what is taken changes the household."""
    route, form = any_form(data, attacked, fields)
    answer = attacked.send(route, form)
    assert answer.status_code in ANSWERED, (route, answer.status_code)
