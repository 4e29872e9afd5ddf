"""Short addresses on labels, labels and the sheet for paper."""

import sqlite3

import pytest
from flask.testing import FlaskClient
from web.scenario import GREEN_G, Scene

from hangroom_web.draw.code import label_address


@pytest.fixture
def client(scene: Scene) -> FlaskClient:
    return scene.client(logged_in=True)


@pytest.mark.parametrize("path", ["/s/A1", "/s/a1", "/S/A1", "/S/a1"])
def test_a_short_address_leads_to_the_card_capitals_or_not(client: FlaskClient, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 303
    assert answer.headers["Location"] == "/inspect?all=1#stick-A1"
    assert 'id="stick-A1"' in client.get("/inspect?all=1").get_data(as_text=True)


def test_of_a_stick_that_hangs_no_more_it_leads_to_its_batch(
    client: FlaskClient, scene: Scene
) -> None:
    db = sqlite3.connect(scene.path)
    with db:
        db.execute("update hang set to_ms = from_ms + 1")
    db.close()
    assert client.get("/s/F1").headers["Location"] == "/batches/2"


@pytest.mark.parametrize("tag", ["Z9", "%20", "A1%27--", "%00", "A" * 500])
def test_of_no_stick_it_says_so(client: FlaskClient, tag: str) -> None:
    assert client.get(f"/s/{tag}").status_code == 404


def test_a_tag_with_letters_of_no_code_is_written_by_number(client: FlaskClient) -> None:
    # RFC 3986: bytes of UTF-8 as %XX; upper case throughout, so that it fits the smaller code.
    assert label_address("http", "hangroom.local", "é 1") == "HTTP://HANGROOM.LOCAL/S/%C3%A9%201"
    assert client.get("/S/%C3%A9%201").status_code == 404


def test_labels_name_the_host_of_the_settings_and_each_tag_in_large(client: FlaskClient) -> None:
    html = client.get("/batches/1/labels").get_data(as_text=True)
    assert html.count('<svg role="img"') == len(GREEN_G)
    assert all(f"<b>{tag}</b>" in html for tag in GREEN_G)
    assert "opens the stick at hangroom.local" in html
    assert "never to the casing" in html
    assert "style=" not in html
    assert client.get("/batches/99/labels").status_code == 404
    css = client.get("/batches/1/labels/page.css?paper=letter")
    assert "size: letter" in css.get_data(as_text=True)


def test_the_sheet_has_what_is_due_or_every_stick(client: FlaskClient, scene: Scene) -> None:
    html = client.get("/inspect/sheet").get_data(as_text=True)
    assert all(f'<th scope="row">{tag}</th>' in html for tag in GREEN_G)
    scene.clock.move(-3 * 3600)  # before today's look came due
    db = sqlite3.connect(scene.path)
    with db:
        db.execute("delete from reminder")
    db.close()
    assert "Nothing is to be weighed now." in client.get("/inspect/sheet").get_data(as_text=True)
    html = client.get("/inspect/sheet?all=1").get_data(as_text=True)
    assert all(f'<th scope="row">{tag}</th>' in html for tag in GREEN_G)
