import sqlite3

import pytest
from flask.testing import FlaskClient
from web.daemon import Daemon
from web.scenario import Scene, token

from hangroom.store.database import connect
from hangroom.store.requests import EXPIRES_AFTER, open_requests


@pytest.fixture
def client(scene: Scene) -> FlaskClient:
    return scene.client(logged_in=True)


def ask(client: FlaskClient, value: str, *, room: str = "closet", key: str = "k1") -> str:
    """Ask for a humidity as the form does; return the page that comes of it."""
    form = {"csrf_token": token(client, "/"), "setpoint": value, "key": key, "back": "rooms"}
    return client.post(f"/rooms/{room}/humidity", data=form, follow_redirects=True).text


def test_a_wish_is_answered_before_the_next_page_is_there(
    client: FlaskClient, daemon: Daemon
) -> None:
    assert "Done. Setpoint is 78.5 %." in ask(client, "78,5")
    humidity = daemon.plans["closet"].humidity
    assert humidity is not None
    assert humidity.setpoint_pct == 78.5


def test_the_next_page_is_there_when_the_effect_can_be_seen(
    client: FlaskClient, daemon: Daemon, scene: Scene
) -> None:
    """The daemon answers at the end of a tick, and its next board comes two seconds later."""
    answered = []

    def meanwhile() -> None:
        daemon.answer()
        humidity = daemon.plans["closet"].humidity
        if humidity is None or humidity.setpoint_pct == 76.0:
            return
        answered.append(scene.clock.uptime_s())
        if scene.clock.uptime_s() - answered[0] >= 1.9:
            scene.report(closet={"humidity_setpoint_pct": humidity.setpoint_pct})

    scene.clock.meanwhile = meanwhile
    assert "set to 78.5 ± 3 %" in ask(client, "78.5")
    assert answered[-1] - answered[0] <= 2.2  # and no longer is waited


def test_a_refusal_is_told_with_its_reason(client: FlaskClient, daemon: Daemon) -> None:
    # The settings' hard limit is 90 % and the band 3 %.
    assert "Refused. 89 % is too near a limit" in ask(client, "89")
    humidity = daemon.plans["closet"].humidity
    assert humidity is not None
    assert humidity.setpoint_pct == 76.0


def test_a_wish_that_nobody_answers_is_not_left_waiting(client: FlaskClient, scene: Scene) -> None:
    assert "Waiting for the controller." in ask(client, "78")
    scene.clock.move(EXPIRES_AFTER.total_seconds())
    assert "did not answer. Nothing was changed." in client.get("/?asked=1").text


def test_the_pages_script_is_told_of_the_wish_it_asks_about(
    client: FlaskClient, daemon: Daemon
) -> None:
    assert 'data-now="/api/v1/now?asked=1"' in ask(client, "78")
    rooms = client.get("/api/v1/now?asked=1").get_json()["rooms"]
    assert rooms["closet"]["asked"] == "Done. Setpoint is 78 %."
    assert rooms["fridge"]["asked"] is None
    assert daemon.plans


@pytest.mark.parametrize("number", ["7", "x", "-1", "\N{ARABIC-INDIC DIGIT ONE}", "9" * 400, ""])
def test_a_number_of_no_wish_is_passed_over(client: FlaskClient, number: str) -> None:
    assert client.get("/api/v1/now", query_string={"asked": number}).status_code == 200


def test_the_same_form_sent_twice_is_one_wish(client: FlaskClient, scene: Scene) -> None:
    ask(client, "78")
    ask(client, "78")
    db = sqlite3.connect(scene.path)
    assert db.execute("select count(*) from request").fetchone() == (1,)
    db.close()


@pytest.mark.parametrize("value", ["", "wet", "0", "100", "-5", "1e9"])
def test_what_is_no_humidity_is_not_asked_for(
    client: FlaskClient, scene: Scene, value: str
) -> None:
    assert "Not done" in ask(client, value)
    db = connect(scene.path)
    assert open_requests(db) == []
    db.close()


@pytest.mark.parametrize("room", ["fridge", "attic"])
def test_a_room_without_humidity_control_cannot_be_asked(client: FlaskClient, room: str) -> None:
    assert "404" in ask(client, "70", room=room)
