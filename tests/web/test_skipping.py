"""Sticks that were not weighed: why, in the record, until when."""

import re
import sqlite3

import pytest
from flask.testing import FlaskClient
from web.scenario import Scene, token

DAY_S = 86_400


@pytest.fixture
def client(scene: Scene) -> FlaskClient:
    return scene.client(logged_in=True)


def skip(client: FlaskClient, tag: str, reason: str, key: str = "k1") -> str:
    form = {"key": key, "reason": reason, "csrf_token": token(client, "/inspect?all=1")}
    return client.post(f"/inspect/{tag}/skip?part=card", data=form).get_data(as_text=True)


def due(client: FlaskClient) -> set[str]:
    """Return the tags of the sticks whose card asks for a weight."""
    html = client.get("/inspect").get_data(as_text=True)
    return set(re.findall(r'id="stick-(\w+)-weight"', html))


@pytest.mark.parametrize(
    ("reason", "said"), [("fell", "fell"), ("cut", "cut open"), ("pulled", "pulled")]
)
def test_it_is_a_look_in_the_record_and_the_stick_waits_no_more_today(
    client: FlaskClient, reason: str, said: str
) -> None:
    assert "A1" in due(client)
    html = skip(client, "A1", reason)
    assert f"Not weighed: {said}." in html
    assert "data-saved" in html
    assert "A1" not in due(client)
    assert f"A1 was not weighed: {said}." in client.get("/batches/1").get_data(as_text=True)


def test_sent_twice_it_is_one_and_a_made_up_reason_is_none(
    client: FlaskClient, scene: Scene
) -> None:
    skip(client, "A1", "fell")
    skip(client, "A1", "fell")
    assert "Choose why it is not weighed" in skip(client, "A2", "bored")
    db = sqlite3.connect(scene.path)
    assert db.execute("select count(*) from look").fetchone() == (1,)
    db.close()


@pytest.mark.parametrize(("reason", "asked"), [("fell", True), ("pulled", False)])
def test_one_that_fell_is_asked_for_tomorrow_one_that_was_pulled_is_not(
    client: FlaskClient, scene: Scene, *, reason: str, asked: bool
) -> None:
    skip(client, "A1", reason)
    scene.clock.move(DAY_S)
    scene.remind()
    scene.report()
    assert ("A1" in due(client)) is asked
    assert "A2" in due(client)


def test_it_can_be_undone_and_weighed_all_the_same(client: FlaskClient) -> None:
    html = skip(client, "A1", "pulled")
    of = re.search(r'name="of" value="([^"]+)"', html)
    assert of is not None
    form = {"key": "k2", "of": of[1], "csrf_token": token(client, "/inspect")}
    html = client.post("/inspect/A1/undo?part=card", data=form).get_data(as_text=True)
    assert 'name="weight"' in html
    assert "A1" in due(client)


def test_what_was_typed_anew_while_another_phone_undid_it_is_kept(
    client: FlaskClient, scene: Scene
) -> None:
    """The phone's answer was lost, so it knows of neither; sent twice, what it sends is one."""
    form = {"key": "k1", "csrf_token": token(client, "/inspect?all=1")}

    def send(**more: str) -> str:
        return client.post("/inspect/A1?part=card", data={**form, **more}).get_data(as_text=True)

    send(weight="82.4")
    client.post("/inspect/A1/undo?part=card", data={**form, "key": "u1", "of": "k1"})
    for _time in range(2):
        assert 'data-stored="k1"' in send(weight="81.4", again="1")
    # What was undone is not brought back by being sent once more.
    send(weight="82.4", again="1")
    db = sqlite3.connect(scene.path)
    kept = db.execute(
        "select weight_g from weigh_in join stick on stick.id = stick_id"
        " where tag = 'A1' and struck_ms is null and weigh_in.key not like 'wednesday%'"
    ).fetchall()
    db.close()
    assert kept == [(81.4,)]
