import json
import stat

import pytest
from flask.testing import FlaskClient
from web.scenario import PASSPHRASE, Scene, token

from hangroom.errors import InputError, StoreError
from hangroom.store.database import connect
from hangroom.store.requests import open_requests
from hangroom_web.access import access, set_passphrase
from hangroom_web.guard import is_trusted

CHANGES = [
    "/inspect/A1",
    "/batches/new",
    "/batches/1/groups/A/pull",
    "/rooms/closet/humidity",
    "/rooms/closet/stage",
    "/rooms/closet/hand",
    "/alarms/acknowledge",
    "/setup/salt/closet/rail",
]


def test_the_file_is_its_owners_alone_and_holds_no_passphrase(scene: Scene) -> None:
    path = scene.folder / "access.json"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert PASSPHRASE not in path.read_text(encoding="utf-8")
    assert json.loads(path.read_text(encoding="utf-8"))["passphrase_hash"].startswith("scrypt:")


def test_the_right_passphrase_is_admitted_and_no_other(scene: Scene) -> None:
    held = access(scene.folder)
    assert held.admits(PASSPHRASE)
    assert not held.admits(PASSPHRASE + "s")
    assert not held.admits("")


def test_a_guess_costs_32_mb(scene: Scene) -> None:
    """RFC 7914, section 2: 128 * N * r bytes; N = 2^15 and r = 8 are all a small Pi has to spare."""
    set_passphrase(scene.folder, PASSPHRASE)
    held = json.loads((scene.folder / "access.json").read_text(encoding="utf-8"))
    cost, block, _parallel = map(int, held["passphrase_hash"].split("$")[0].split(":")[1:])
    assert 128 * cost * block == 32 * 2**20


def test_a_short_passphrase_is_refused_and_the_old_one_stays(scene: Scene) -> None:
    with pytest.raises(InputError, match="at least 8"):
        set_passphrase(scene.folder, "salt")
    assert access(scene.folder).admits(PASSPHRASE)


def test_a_damaged_file_admits_nobody_and_is_not_replaced(scene: Scene) -> None:
    (scene.folder / "access.json").write_text("{", encoding="utf-8")
    with pytest.raises(StoreError, match="Nobody can log in"):
        access(scene.folder)
    assert "cannot be read" in scene.client().get("/login").get_data(as_text=True)


@pytest.mark.parametrize(
    ("typed", "asked_by"),
    [
        ("Ada", "Ada"),
        ("  Ada \n of  the house ", "Ada of the house"),
        ("", "the page"),
        (" ", "the page"),
        ("x" * 100, "x" * 40),
    ],
    ids=["a name", "on one line", "none", "blanks", "a long one"],
)
def test_the_name_given_at_log_in_stands_with_what_is_asked(
    scene: Scene, typed: str, asked_by: str
) -> None:
    client = scene.client(logged_in=True, who=typed)
    form = {"csrf_token": token(client, "/"), "setpoint": "78"}
    assert client.post("/rooms/closet/humidity", data=form).status_code == 303
    db = connect(scene.path)
    (wish,) = open_requests(db)
    db.close()
    assert wish.asked_by == asked_by


def test_a_wrong_passphrase_does_not_cost_the_name_that_was_typed(scene: Scene) -> None:
    client = scene.client()
    form = {"passphrase": "wrong", "who": "Ada", "csrf_token": token(client, "/login")}
    answer = client.post("/login", data=form)
    assert answer.status_code == 403
    assert 'value="Ada"' in answer.text


def test_logging_out_forgets_the_name(scene: Scene) -> None:
    client = scene.client(logged_in=True, who="Ada")
    client.post("/logout", data={"csrf_token": token(client, "/")})
    with client.session_transaction() as session:
        assert "who" not in session


def test_a_new_passphrase_ends_every_session(scene: Scene) -> None:
    client = scene.client(logged_in=True)
    assert "Log out" in client.get("/").get_data(as_text=True)
    set_passphrase(scene.folder, "another one, longer")
    assert "Log out" not in client.get("/").get_data(as_text=True)


@pytest.mark.parametrize("path", CHANGES)
def test_nothing_changes_without_login(scene: Scene, path: str) -> None:
    client = scene.client()
    form = {"csrf_token": token(client, "/login"), "weight": "82", "key": "k", "setpoint": "70"}
    answer = client.post(path, data=form)
    assert answer.status_code == 403
    assert "Log in first" in answer.get_data(as_text=True)


@pytest.mark.parametrize("path", CHANGES)
def test_nothing_changes_without_the_forms_token(scene: Scene, path: str) -> None:
    answer = scene.client(logged_in=True).post(path, data={"weight": "82", "key": "k"})
    assert answer.status_code == 400
    assert "open too long" in answer.get_data(as_text=True)


@pytest.mark.parametrize(
    ("origin", "code"),
    [
        ("http://evil.example", 403),
        ("null", 403),
        ("http://localhost:9999", 403),
        ("http://localhost", 303),
        ("http://hangroom.local", 303),
    ],
)
def test_a_change_sent_by_another_page_is_refused(scene: Scene, origin: str, code: int) -> None:
    client = scene.client(logged_in=True)
    form = {"csrf_token": token(client, "/inspect"), "weight": "82", "key": "k"}
    assert client.post("/inspect/A1", data=form, headers={"Origin": origin}).status_code == code


@pytest.mark.parametrize(
    ("host", "code"),
    [
        ("evil.example", 400),
        ("hangroom.local.evil.example", 400),
        ("hangroom.local", 200),
        ("HANGROOM.local:8080", 200),
        ("192.168.1.20:8080", 200),
        ("[fd00::20]:8080", 200),
        ("localhost:8080", 200),
    ],
)
@pytest.mark.parametrize("path", ["/", "/api/v1/now", "/no-such-page"])
def test_the_page_answers_only_to_its_own_names(
    scene: Scene, host: str, code: int, path: str
) -> None:
    if path == "/no-such-page" and code == 200:
        code = 404
    assert scene.client().get(path, headers={"Host": host}).status_code == code


@pytest.mark.parametrize("host", ["", ".", "a b", "[", "[::1", "1.2.3", "user@hangroom.local"])
def test_odd_hosts_are_strangers(host: str) -> None:
    assert not is_trusted(host, ("hangroom.local",))


def test_guessing_is_slowed_down_and_never_locked_for_good(scene: Scene) -> None:
    client = scene.client()
    mark = token(client, "/login")

    def guess(passphrase: str) -> int:
        return client.post(
            "/login", data={"passphrase": passphrase, "csrf_token": mark}
        ).status_code

    assert [guess("wrong wrong") for _try in range(5)] == [403] * 5
    assert guess(PASSPHRASE) == 429
    scene.clock.move(30.0)
    assert guess(PASSPHRASE) == 303


@pytest.mark.parametrize(
    "target", ["//evil.example/", "http://evil.example/", "/\\evil.example", "javascript:x", "\n/x"]
)
def test_logging_in_never_leads_to_another_site(scene: Scene, target: str) -> None:
    client = scene.client()
    form = {"passphrase": PASSPHRASE, "csrf_token": token(client, "/login"), "next": target}
    assert client.post("/login", data=form).headers["Location"] == "/"


@pytest.mark.parametrize("path", ["/", "/login", "/no-such-page"])
def test_every_page_has_a_strict_policy_and_is_not_kept(scene: Scene, path: str) -> None:
    headers = scene.client().get(path).headers
    assert "default-src 'none'" in headers["Content-Security-Policy"]
    assert "unsafe" not in headers["Content-Security-Policy"]
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Referrer-Policy"] == "same-origin"
    assert headers["Cache-Control"] == "no-store"


def test_the_cookie_is_out_of_scripts_reach(scene: Scene) -> None:
    cookie = scene.client().get("/login").headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Lax" in cookie
    assert "Secure" not in cookie
    secure = scene.client().get("/login", base_url="https://localhost").headers["Set-Cookie"]
    assert "Secure" in secure


def test_an_answer_on_its_way_brings_no_old_cookie_back(scene: Scene) -> None:
    """RFC 6265 5.3: the cookie that comes last stands, whichever request was sent first."""
    client = scene.client(logged_in=True)
    client.get("/inspect")  # now it also has what its forms need
    client.get("/")
    for path in ("/", "/inspect", "/api/v1/now", "/inspect/token", "/static/app.css"):
        with client.get(path) as answer:
            assert "Set-Cookie" not in answer.headers, path


def test_an_onlooker_gets_no_cookie(scene: Scene) -> None:
    assert "Set-Cookie" not in scene.client().get("/").headers


@pytest.fixture
def client(scene: Scene) -> FlaskClient:
    return scene.client(logged_in=True)


def test_too_large_a_body_is_refused_in_words(client: FlaskClient) -> None:
    answer = client.post("/batches/1/measurements", data={"note": "x" * 300_000})
    assert answer.status_code == 413
    assert "too large" in answer.get_data(as_text=True)


def test_a_failure_of_the_page_is_told_without_a_traceback(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def fails(*_args: object) -> None:
        raise ZeroDivisionError("a fault of ours")

    monkeypatch.setattr("hangroom_web.pages.batches.batches_in_short", fails)
    answer = client.get("/batches")
    html = answer.get_data(as_text=True)
    assert answer.status_code == 500
    assert "not in the room: control goes on" in html
    assert "Traceback" not in html
    assert "a fault of ours" in caplog.text


def test_control_is_said_to_go_on_only_while_the_daemon_reports(
    client: FlaskClient, scene: Scene, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_args: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("hangroom_web.pages.batches.batches_in_short", fails)
    scene.clock.move(60)
    assert "control goes on" not in client.get("/batches").get_data(as_text=True)
