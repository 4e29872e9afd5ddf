import sqlite3

import pytest
from flask.testing import FlaskClient
from web.scenario import Scene, token

from hangroom.store.database import connect
from hangroom.store.requests import Outcome, answer, open_requests


@pytest.fixture
def client(scene: Scene) -> FlaskClient:
    return scene.client(logged_in=True)


def ask(client: FlaskClient, value: str, *, room: str = "closet", key: str = "k1") -> int:
    form = {"csrf_token": token(client, "/"), "setpoint": value, "key": key}
    return client.post(f"/rooms/{room}/humidity", data=form).status_code


def test_a_wish_waits_for_the_controller_and_its_answer_is_shown(
    client: FlaskClient, scene: Scene
) -> None:
    assert ask(client, "78,5") == 303
    assert "You asked for 78.5 %: waiting for the controller." in client.get("/").get_data(
        as_text=True
    )
    db = connect(scene.path)
    (wish,) = open_requests(db)
    assert (wish.kind, wish.room, wish.body) == ("humidity-setpoint", "closet", {"value": 78.5})
    answer(db, wish.number, Outcome.REFUSED, "Too near a limit.", now=scene.clock.now())
    db.close()
    told = client.get("/api/v1/now").get_json()["rooms"]["closet"]["asked"]
    assert told == "You asked for 78.5 %: refused. Too near a limit."


def test_an_applied_wish_is_said_to_be_done(client: FlaskClient, scene: Scene) -> None:
    ask(client, "78")
    db = connect(scene.path)
    answer(db, 1, Outcome.APPLIED, "Setpoint is 78 %.", now=scene.clock.now())
    db.close()
    assert "You asked for 78 %: done. Setpoint is 78 %." in client.get("/").get_data(as_text=True)


def test_a_wish_that_nobody_answers_is_not_left_waiting(client: FlaskClient, scene: Scene) -> None:
    ask(client, "78")
    scene.clock.move(61)
    assert "the controller did not answer. Nothing was changed." in client.get("/").get_data(
        as_text=True
    )


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
    assert ask(client, value) == 400
    db = connect(scene.path)
    assert open_requests(db) == []
    db.close()


@pytest.mark.parametrize("room", ["fridge", "attic"])
def test_a_room_without_humidity_control_cannot_be_asked(client: FlaskClient, room: str) -> None:
    assert ask(client, "70", room=room) == 404
