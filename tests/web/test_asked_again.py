"""What changes the rooms asks for the passphrase again, and loses nothing that was typed."""

import html
import re
from datetime import timedelta

import pytest
from flask.testing import FlaskClient
from web.scenario import PASSPHRASE, Scene, token
from werkzeug.test import TestResponse

from hangroom.store.database import connect
from hangroom.store.requests import Request, open_requests
from hangroom_web.app import create_app

QUARTER_S = 15 * 60.0
HIDDEN = re.compile(r'<input type="hidden" name="([^"]*)" value="([^"]*)">')
ACTION = re.compile(r'<form class="sheet" method="post" action="([^"]*)"')

# What changes the rooms, with a form that would be taken.
CHANGES: dict[str, dict[str, str]] = {
    "/rooms/closet/humidity": {"setpoint": "78"},
    "/rooms/fridge/temperature": {"setpoint": "4,5"},
    "/rooms/closet/stage": {"stage": "rest", "hours": "12", "then": "hang", "batch": "1"},
    "/rooms/closet/hand": {"relay": "humidifier", "position": "on", "for_s": "300", "why": "x"},
    "/rooms/closet/hand/end": {"relay": "humidifier"},
    "/rooms/closet/lockouts": {},
    "/rooms/closet/plan/use": {"plan": "1"},
    "/rooms/closet/plan/end": {},
    "/setup/salt/closet/rail": {"salt": "NaCl", "read": "74,2", "jar": "20"},
    "/setup/salt/closet/rail/forget": {},
    "/batches/1/steps/room/closet": {},
}


def asked(scene: Scene) -> list[Request]:
    db = connect(scene.path)
    try:
        return open_requests(db)
    finally:
        db.close()


@pytest.fixture
def client(scene: Scene) -> FlaskClient:
    """Somebody who logged in a quarter of an hour ago."""
    client = scene.client(logged_in=True)
    scene.clock.move(QUARTER_S)
    return client


def send(client: FlaskClient, path: str, form: dict[str, str]) -> TestResponse:
    return client.post(path, data={"csrf_token": token(client, "/login/again"), **form})


def go_on(client: FlaskClient, screen: TestResponse, passphrase: str) -> TestResponse:
    """Fill in the screen as a browser does: what is hidden in it goes along."""
    (action,) = ACTION.findall(screen.text)
    form = {name: html.unescape(value) for name, value in HIDDEN.findall(screen.text)}
    return client.post(html.unescape(action), data={**form, "passphrase-again": passphrase})


@pytest.mark.parametrize("path", CHANGES)
def test_it_is_asked_for_and_then_goes_on_with_what_was_typed(
    scene: Scene, client: FlaskClient, path: str
) -> None:
    screen = send(client, path, {**CHANGES[path], "key": "one"})
    assert screen.status_code == 403
    assert "What you typed is kept" in screen.text
    assert asked(scene) == []
    at_once = Scene(folder=scene.folder).client(logged_in=True)
    went_on = go_on(client, screen, PASSPHRASE)
    straight = send(at_once, path, {**CHANGES[path], "key": "two"})
    assert (went_on.status_code, straight.status_code) == (303, 303)
    one, two = asked(scene)
    assert (one.kind, one.room, one.body) == (two.kind, two.room, two.body)


def test_a_wrong_one_keeps_it_and_a_right_one_after_it_goes_on(
    scene: Scene, client: FlaskClient
) -> None:
    words = 'airing & "more" <b>'
    form = {"relay": "exhaust-fan", "position": "off", "for_s": "300", "words": words}
    screen = send(client, "/rooms/closet/hand", {**form, "key": "one"})
    for _slip in range(5):
        screen = go_on(client, screen, "wrong wrong")
        assert screen.status_code == 403
        assert "That is not the passphrase" in screen.text
    screen = go_on(client, screen, PASSPHRASE)
    assert screen.status_code == 429
    assert "Wait 30 s" in screen.text
    scene.clock.move(30.0)
    assert go_on(client, screen, PASSPHRASE).status_code == 303
    (wish,) = asked(scene)
    assert wish.body["why"] == words


def test_once_given_it_holds_for_a_quarter_of_an_hour(scene: Scene, client: FlaskClient) -> None:
    go_on(client, send(client, "/rooms/closet/humidity", {"setpoint": "78"}), PASSPHRASE)
    scene.clock.move(QUARTER_S - 60.0)
    assert send(client, "/rooms/closet/humidity", {"setpoint": "77"}).status_code == 303
    scene.clock.move(60.0)
    assert send(client, "/rooms/closet/humidity", {"setpoint": "76"}).status_code == 403


def test_using_it_does_not_make_it_last_longer(scene: Scene) -> None:
    client = scene.client(logged_in=True)
    logged_in_s = scene.clock.uptime_s()
    taken_at_s: list[float] = []
    refused_at_s: list[float] = []
    for _time in range(10):
        age_s = scene.clock.uptime_s() - logged_in_s
        taken = send(client, "/rooms/closet/humidity", {"setpoint": "78"}).status_code == 303
        (taken_at_s if taken else refused_at_s).append(age_s)
        scene.clock.move(120.0)
    assert max(taken_at_s) < QUARTER_S <= min(refused_at_s)


@pytest.mark.parametrize(
    ("path", "form"),
    [
        ("/inspect/A1", {"weight": "82", "key": "k"}),
        ("/rooms/closet/door", {"for_s": "300"}),
        ("/rooms/closet/door/shut", {}),
        ("/alarms/acknowledge", {"scope": "room closet", "alarm": "door-open"}),
        ("/batches/1/groups/A/target", {"target": "70", "key": "k"}),
    ],
)
def test_inspecting_and_acknowledging_do_not_ask(
    scene: Scene, path: str, form: dict[str, str]
) -> None:
    client = scene.client(logged_in=True)
    scene.clock.move(20 * 3600.0)
    assert send(client, path, form).status_code == 303


def test_after_a_restart_of_the_machine_it_is_asked_for(scene: Scene) -> None:
    client = scene.client(logged_in=True)
    with client.session_transaction() as session:
        kept = dict(session)
    rebooted = create_app(scene.settings, clock=scene.clock, boot_id="next-boot").test_client()
    with rebooted.session_transaction() as session:
        session.update(kept)
    assert "Log out" in rebooted.get("/").text
    assert send(rebooted, "/rooms/closet/humidity", {"setpoint": "78"}).status_code == 403


def test_a_jump_of_the_wall_clock_changes_nothing_about_it(scene: Scene) -> None:
    client = scene.client(logged_in=True)
    scene.clock._now -= timedelta(days=400)
    scene.clock.move(QUARTER_S)
    assert send(client, "/rooms/closet/humidity", {"setpoint": "78"}).status_code == 403


def test_a_page_that_needs_it_fresh_leads_there_and_back(client: FlaskClient) -> None:
    screen = client.get("/login/again?next=/setup/access")
    assert screen.status_code == 200
    answer = go_on(client, screen, PASSPHRASE)
    assert (answer.status_code, answer.headers["Location"]) == (303, "/setup/access")
    assert client.get("/login/again?next=//evil.example").text.count("evil.example") == 0
