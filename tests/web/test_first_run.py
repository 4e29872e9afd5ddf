import re
from concurrent.futures import ThreadPoolExecutor

import pytest
from flask.testing import FlaskClient
from web.scenario import PASSPHRASE, Scene, token
from werkzeug.test import TestResponse

from hangroom_web.access import access, set_first_passphrase, set_passphrase
from hangroom_web.first_run import HOLDS_FOR_S, LETTERS, FirstRun
from hangroom_web.pages.login import tell_first_code

CHOSEN = "four plain words here"


@pytest.fixture
def unset(scene: Scene) -> Scene:
    """The household before anybody chose a passphrase."""
    (scene.folder / "access.json").unlink()
    return scene


def codes(told: str) -> list[str]:
    return re.findall(r"type this code: ([A-Z]{4}-[A-Z]{4})", told)


def choose(client: FlaskClient, code: str, passphrase: str = CHOSEN, **more: str) -> TestResponse:
    form = {"csrf_token": token(client, "/login"), "code": code, "passphrase": passphrase}
    return client.post("/login/first", data={**form, "passphrase-once-more": passphrase, **more})


def test_the_code_is_told_where_the_machine_is_and_nowhere_on_the_page(
    unset: Scene, capfd: pytest.CaptureFixture[str]
) -> None:
    html = unset.client().get("/login").text
    (code,) = codes(capfd.readouterr().err)
    assert code not in html
    assert code.replace("-", "") not in html
    assert "hangroom passphrase" in html
    assert set(code) <= {*LETTERS, "-"}


def test_the_page_tells_the_code_as_it_starts_and_only_where_it_is_needed(
    unset: Scene, capfd: pytest.CaptureFixture[str]
) -> None:
    app = unset.client().application
    tell_first_code(app)
    app.test_client().get("/login")
    assert len(codes(capfd.readouterr().err)) == 1
    set_passphrase(unset.folder, PASSPHRASE)
    tell_first_code(unset.client().application)
    assert codes(capfd.readouterr().err) == []


def test_whoever_has_the_code_chooses_and_is_logged_in(
    unset: Scene, capfd: pytest.CaptureFixture[str]
) -> None:
    client = unset.client()
    client.get("/login")
    (code,) = codes(capfd.readouterr().err)
    answer = choose(client, code.lower().replace("-", " "), who="Ada", next="/setup")
    assert (answer.status_code, answer.headers["Location"]) == (303, "/setup")
    assert access(unset.folder).admits(CHOSEN)
    assert "Log out" in client.get("/").text


@pytest.mark.parametrize("code", ["", "BCDF-GHJK", "????????", "\u0130\u0131"])
def test_without_the_code_nobody_chooses(unset: Scene, code: str) -> None:
    answer = choose(unset.client(), code)
    assert answer.status_code == 403
    assert "not the code" in answer.text
    assert access(unset.folder).passphrase_hash is None


def test_the_code_is_guessed_at_no_faster_than_the_passphrase(unset: Scene) -> None:
    client = unset.client()
    codes = [choose(client, "BCDF-GHJK").status_code for _try in range(7)]
    assert codes == [403] * 5 + [429] * 2


def test_a_slip_in_the_passphrase_costs_no_try_and_keeps_the_code(
    unset: Scene, capfd: pytest.CaptureFixture[str]
) -> None:
    client = unset.client()
    client.get("/login")
    (code,) = codes(capfd.readouterr().err)
    for _try in range(8):
        answer = choose(client, code, **{"passphrase-once-more": "another"})
        assert answer.status_code == 422
        assert "not the same" in answer.text
        assert f'value="{code}"' in answer.text
    assert choose(client, code, "short").status_code == 422
    assert choose(client, code).status_code == 303


def test_a_code_holds_an_hour_and_once(unset: Scene, capfd: pytest.CaptureFixture[str]) -> None:
    client = unset.client()
    client.get("/login")
    client.get("/login")
    (first,) = codes(capfd.readouterr().err)
    unset.clock.move(HOLDS_FOR_S + 1)
    assert choose(client, first).status_code == 403
    (second,) = codes(capfd.readouterr().err)
    assert second != first
    assert choose(client, second).status_code == 303
    (unset.folder / "access.json").unlink()
    assert choose(client, second).status_code == 403


def test_asking_for_the_form_does_not_make_the_owners_code_void() -> None:
    told: list[str] = []
    first = FirstRun(told.append)
    for moment_s in range(0, 3600, 60):
        first.offer(uptime_s=float(moment_s))
    assert len(told) == 1
    assert first.admits(codes(told[0])[0], uptime_s=3599.0)
    assert not first.admits(codes(told[0])[0], uptime_s=3600.0)


def test_a_set_passphrase_is_not_chosen_anew_with_a_code(
    unset: Scene, capfd: pytest.CaptureFixture[str]
) -> None:
    client = unset.client()
    client.get("/login")
    (code,) = codes(capfd.readouterr().err)
    mark = token(client, "/login")
    set_passphrase(unset.folder, PASSPHRASE)
    form = {"csrf_token": mark, "code": code, "passphrase": CHOSEN, "passphrase-once-more": CHOSEN}
    assert client.post("/login/first", data=form).status_code == 409
    assert access(unset.folder).admits(PASSPHRASE)


def test_of_many_at_once_one_chooses(unset: Scene) -> None:
    access(unset.folder)
    words = [f"passphrase number {n}" for n in range(4)]
    with ThreadPoolExecutor(4) as pool:
        set_it = list(pool.map(lambda word: set_first_passphrase(unset.folder, word), words))
    assert set_it.count(True) == 1
    assert access(unset.folder).admits(words[set_it.index(True)])


@pytest.mark.parametrize(
    "path", ["/rooms/closet/humidity", "/inspect/A1", "/batches/new", "/setup/access/tokens"]
)
def test_until_then_nobody_acts(unset: Scene, path: str) -> None:
    client = unset.client()
    form = {"csrf_token": token(client, "/login"), "setpoint": "70", "weight": "82", "key": "k"}
    assert client.post(path, data=form).status_code == 403
