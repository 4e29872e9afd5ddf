"""Looking around with sample data: beside what is real, never among it, and gone with one tap."""

import re
import sqlite3
from pathlib import Path
from tempfile import gettempdir
from typing import Any

import pytest
from flask.testing import FlaskClient
from web.scenario import PASSPHRASE, START, Scene, token

from hangroom.errors import StoreError
from hangroom.sample.house import PAST_DAYS, make_house, sample_settings
from hangroom_web import sample_house

PAGES = (
    "/sample/",
    "/sample/inspect",
    "/sample/batches",
    "/sample/batches/1",
    "/sample/batches/2",
    "/sample/alarms",
    "/sample/setup",
    "/sample/setup/check",
    "/sample/rooms/closet",
    "/sample/no-such-page",
)
PAPERS = ("/sample/batches/1/record", "/sample/batches/2/labels", "/sample/inspect/sheet")
MARK = "Sample data."


@pytest.fixture
def new_house(tmp_path: Path) -> Scene:
    scene = Scene(folder=tmp_path / "new")
    scene.prepare()
    scene.report()
    return scene


@pytest.fixture
def client(new_house: Scene) -> FlaskClient:
    """A stranger on the network, who may look."""
    return new_house.client()


def begin(client: FlaskClient) -> None:
    answer = client.post("/sample-data", data={"csrf_token": token(client, "/")})
    assert (answer.status_code, answer.headers["Location"]) == (303, "/sample/")


def leave(client: FlaskClient) -> None:
    sent = {"csrf_token": token(client, "/sample/")}
    answer = client.post("/sample/leave-sample", data=sent)
    assert (answer.status_code, answer.headers["Location"]) == (303, "/")


def everything_in(folder: Path) -> dict[str, object]:
    """Every file there, and every row of the database as SQLite itself dumps it."""
    found: dict[str, object] = {
        str(file.relative_to(folder)): file.read_bytes()
        for file in folder.rglob("*")
        if file.is_file() and not file.name.startswith("hangroom.db")
    }
    with sqlite3.connect(folder / "hangroom.db") as raw:
        found["rows"] = list(raw.iterdump())
    raw.close()
    return found


@pytest.fixture(autouse=True)
def _temporary_files_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "temporary").mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "temporary"))


def sample_folders() -> set[Path]:
    return set(Path(gettempdir()).glob("hangroom-sample-*"))


def test_every_page_of_it_says_that_it_is_a_sample_and_runs_no_script(client: FlaskClient) -> None:
    """Without a script nothing there can look live, ask again, or send what waits on the phone."""
    begin(client)
    for page in PAGES:
        html = client.get(page).text
        assert MARK in html, page
        assert "Leave and remove the sample" in html, page
        assert "<script" not in html, page
    for paper in PAPERS:
        assert MARK in client.get(paper).text, paper
    assert MARK not in client.get("/").text


def test_looking_around_and_leaving_changes_nothing_that_is_real(
    new_house: Scene, client: FlaskClient
) -> None:
    client.get("/")
    before = everything_in(new_house.folder)
    begin(client)
    for page in PAGES:
        client.get(page)
    assert everything_in(new_house.folder) == before
    leave(client)
    assert everything_in(new_house.folder) == before


def test_its_batches_are_all_marked_and_none_is_among_the_real_ones(client: FlaskClient) -> None:
    before = sample_folders()
    begin(client)
    (folder,) = sample_folders() - before
    with sqlite3.connect(folder / "hangroom.db") as raw:
        assert raw.execute("select count(*), min(sample) from batch").fetchone() == (3, 1)
        assert raw.execute("select count(*) from reminder").fetchone() == (0,)
    raw.close()
    assert "juniper" in client.get("/sample/batches").text
    assert "juniper" not in client.get("/batches").text
    leave(client)
    assert not folder.exists()


def test_no_form_of_it_is_taken_but_the_one_that_leaves(client: FlaskClient) -> None:
    """Every address there is that takes forms, with a token that holds."""
    begin(client)
    sent = {"csrf_token": token(client, "/sample/"), "passphrase": PASSPHRASE}
    rules = [
        rule
        for rule in client.application.url_map.iter_rules()
        if rule.methods and "POST" in rule.methods and rule.endpoint != "sample.leave"
    ]
    assert len(rules) > 30
    for rule in rules:
        path = re.sub(r"<[^>]*>", "1", rule.rule)
        answer = client.post(f"/sample{path}", data=sent)
        assert answer.status_code == 403, path
        assert "to look at only" in answer.text, path


def test_nobody_logs_in_or_chooses_a_passphrase_in_it(client: FlaskClient) -> None:
    begin(client)
    for path in ("/sample/login", "/sample/setup/access", "/sample/setup/calendar"):
        answer = client.get(path)
        assert (answer.status_code, answer.headers.get("Location")) == (303, "/sample/"), path


def test_who_is_logged_in_stays_so(new_house: Scene) -> None:
    client = new_house.client(logged_in=True)
    begin(client)
    assert "Log out" not in client.get("/sample/").text
    leave(client)
    assert "Log out" in client.get("/").text


def test_an_address_of_it_leads_to_the_rooms_once_it_is_gone(client: FlaskClient) -> None:
    for path in ("/sample/", "/sample/batches/1"):
        answer = client.get(path)
        assert (answer.status_code, answer.headers["Location"]) == (303, "/")


def test_a_foreign_page_or_name_can_neither_begin_nor_leave_it(client: FlaskClient) -> None:
    sent = {"csrf_token": token(client, "/")}
    foreign = {"Origin": "http://elsewhere.example"}
    assert client.post("/sample-data", data=sent, headers=foreign).status_code == 403
    assert client.post("/sample-data").status_code == 400  # no token
    begin(client)
    sent = {"csrf_token": token(client, "/sample/")}
    assert client.post("/sample/leave-sample", data=sent, headers=foreign).status_code == 403
    assert client.get("/sample/", headers={"Host": "rebound.example"}).status_code == 400
    assert client.get("/sample/").status_code == 200


def test_it_stands_in_the_keepers_units_and_zone(tmp_path: Path) -> None:
    scene = Scene(folder=tmp_path, units={"temperature": "F", "weight": "oz"})
    scene.prepare()
    client = scene.client()
    begin(client)
    html = client.get("/sample/").text
    assert "°F" in html
    assert " oz" in html
    assert re.search(r"09:5[12]:\d\d", html)  # 14:52 UTC in New York


def test_twice_begun_is_once_made(client: FlaskClient) -> None:
    before = sample_folders()
    begin(client)
    begin(client)
    assert len(sample_folders() - before) == 1
    leave(client)


def test_what_was_invented_could_be_so(new_house: Scene, tmp_path: Path) -> None:
    """Three days of readings up to the moment, sticks that only lose, nothing of the future."""
    settings = sample_settings(new_house.settings, tmp_path / "sample")
    make_house(settings, now=START, uptime_s=1e6, boot_id="boot")
    with sqlite3.connect(tmp_path / "sample" / "hangroom.db") as raw:
        until_ms = START.timestamp() * 1000
        first_ms, last_ms, least_pct, most_pct = raw.execute(
            "select min(taken_ms), max(taken_ms), min(humidity_pct), max(humidity_pct) from reading"
        ).fetchone()
        assert until_ms - first_ms == PAST_DAYS * 86_400_000
        assert 0 < until_ms - last_ms <= 10_000
        assert 50 < least_pct < most_pct < 92  # the closet's own limits, in the example
        for (tag,) in raw.execute("select tag from stick").fetchall():
            weights = raw.execute(
                "select green_weight_g, hang_weight_g from stick where tag = ?", (tag,)
            ).fetchone() + tuple(
                row[0]
                for row in raw.execute(
                    "select weight_g from weigh_in join stick on stick.id = stick_id"
                    " where tag = ? order by taken_ms",
                    (tag,),
                )
            )
            assert list(weights) == sorted(weights, reverse=True), tag
        assert raw.execute("select max(taken_ms) from weigh_in").fetchone()[0] < until_ms
    raw.close()


def test_one_that_cannot_be_made_leaves_nothing_on_the_disk(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A full disk: each try would otherwise leave its half house there."""

    def full(*given: Any, **more: Any) -> None:  # noqa: ANN401 - as the real one's
        make_house(*given, **more)
        raise StoreError("The disk is full.")

    monkeypatch.setattr(sample_house, "make_house", full)
    before = sample_folders()
    answer = client.post("/sample-data", data={"csrf_token": token(client, "/")})
    assert answer.status_code == 503
    assert sample_folders() == before
    monkeypatch.undo()
    begin(client)
    leave(client)
