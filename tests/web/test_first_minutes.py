"""A new house: the list of what is left to do, relays tried and proved, nothing hanging."""

import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from web.daemon import Daemon
from web.scenario import HUNG_AT, Scene, token

from hangroom.settings import check_settings
from hangroom.store.batches import add_batch
from hangroom.store.database import connect
from hangroom.store.proofs import proofs
from hangroom.terms import RelayKind
from hangroom_web.sensors import say_no_reading

CHECK = "/setup/check"
LEFT = re.compile(r'<li data-done="no">(.*?)</li>', re.DOTALL)
DONE = re.compile(r'<li data-done="yes">(.*?)</li>', re.DOTALL)


@pytest.fixture
def new_house(tmp_path: Path) -> Scene:
    """A house that was wired this morning: nothing hangs, nothing was measured or tried."""
    scene = Scene(folder=tmp_path / "new")
    scene.prepare()
    return scene


@pytest.fixture
def wired(new_house: Scene) -> Iterator[Daemon]:
    new_house.report()
    daemon = Daemon(new_house, wired=True)

    def next_round() -> None:
        new_house.clock.move(2.0)
        daemon.tick()

    new_house.clock.meanwhile = next_round
    daemon.tick()
    yield daemon
    daemon.close()


@pytest.fixture
def client(new_house: Scene, wired: Daemon) -> FlaskClient:
    del wired  # it answers
    return new_house.client(logged_in=True)


def words(html: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", html)).split())


def left(client: FlaskClient) -> list[str]:
    return [words(found) for found in LEFT.findall(client.get("/").text)]


def send(client: FlaskClient, room: str, act: str, **form: str) -> str:
    path = f"{CHECK}/{room}/{act}"
    form["csrf_token"] = token(client, CHECK)
    return words(client.post(path, data=form, follow_redirects=True).text)


def prove(client: FlaskClient, room: str, relay: str) -> str:
    send(client, room, "try", relay=relay)
    return send(client, room, "saw", relay=relay, saw="yes")


def begin_a_batch(scene: Scene) -> None:
    db = connect(scene.path)
    add_batch(db, name="first", started_at=HUNG_AT, groups=[])
    db.close()


def let_a_message_arrive(scene: Scene) -> None:
    """As the process of the notices writes it: one channel, one notice, delivered."""
    db = connect(scene.path)
    with db.atomic():
        db.execute(
            "insert into notice_channel (name, scheme, least) values ('mail', 'mailto', 'low')"
        )
        db.execute(
            "insert into notice (key, kind, urgency, reaches, title, text, about, made_ms,"
            " made_uptime_ms, boot) values ('t', 'test', 'low', 'low', 'a', 'b', '', 1, 1, 'x')"
        )
        db.execute(
            "insert into notice_message (token, channel, high, state, tries, made_ms, tried_ms,"
            " tried_uptime_ms, boot) values ('k', 'mail', 0, 'delivered', 1, 1, 1, 1, 'x')"
        )
        db.execute("insert into delivery (notice_id, channel, message_id) values (1, 'mail', 1)")
    db.close()


# The list.


def test_before_the_daemon_has_ever_run_everything_is_left_to_do(tmp_path: Path) -> None:
    scene = Scene(folder=tmp_path)
    told = left(scene.client())
    assert told == [
        "Wire the sensors and see what they read still silent: Closet, rail; Fridge, shelf",
        "Try the relays, one by one 4 to go",
        "Let a test message come to you no message channel yet",
        "Start your first batch",
    ]


def test_the_list_shrinks_by_what_is_done_and_leaves_with_its_last_line(
    new_house: Scene, client: FlaskClient
) -> None:
    assert [line.split()[0] for line in left(client)] == ["Try", "Let", "Start"]
    assert [words(done) for done in DONE.findall(client.get("/").text)] == [
        "Done: Every sensor was read"
    ]
    for room, relay, to_go in (
        ("closet", "humidifier", "3 to go"),
        ("closet", "exhaust-fan", "2 to go"),
        ("fridge", "cooling", "1 to go"),
    ):
        prove(client, room, relay)
        new_house.clock.move(60.0)
        assert to_go in left(client)[0]
    prove(client, "fridge", "circulation-fan")
    assert [line.split()[0] for line in left(client)] == ["Let", "Start"]
    begin_a_batch(new_house)
    assert [line.split()[0] for line in left(client)] == ["Let"]
    let_a_message_arrive(new_house)
    assert left(client) == []
    assert "To begin with" not in client.get("/").text


def test_each_line_leads_to_where_it_is_done(new_house: Scene, client: FlaskClient) -> None:
    html = client.get("/").text
    for address in re.findall(r'<li data-done="no"><a href="([^"]+)"', html):
        assert client.get(address).status_code == 200
    del new_house


def test_where_sticks_hang_the_list_stands_folded_below_them(scene: Scene) -> None:
    html = scene.client().get("/").text
    fold = html.index("To begin with: 1 left to do")
    assert html.index("The rail") < fold < html.index("Let a test message come to you")
    assert "<details><summary>To begin with" in html


def test_a_silent_sensor_says_which_pin_it_belongs_on(tmp_path: Path) -> None:
    """As the settings have it: GPIO 4 for the closet, 16 for the fridge, read every 6 s."""
    scene = Scene(folder=tmp_path)
    html = words(scene.client().get("/").text)
    assert (
        "No reading yet. The first one comes within 10 s of wiring the sensor. In the settings "
        "rail has its lines on pin 4 (BCM)." in html
    )
    assert "shelf has its lines on pin 16 (BCM)" in html


def test_all_sensors_are_named_whatever_they_are_wired_to() -> None:
    table = check_settings(
        {
            "room": {
                "closet": {
                    "title": "Closet",
                    "sensor": {
                        "rail": {"kind": "dht22", "pin": 4},
                        "floor": {"kind": "dht22", "pin": 5, "read_every_s": 10.0},
                        "shelf": {"kind": "sht31", "bus": 1, "address": 0x45},
                    },
                }
            }
        },
        source="test",
    ).room["closet"]
    said = say_no_reading(table.sensor)
    assert "within 14 s" in said
    assert (
        "rail has its lines on pin 4 (BCM), floor has its lines on pin 5 (BCM), "
        "shelf has its lines on I2C bus 1 at address 0x45."
    ) in said


# Watch only.


def test_a_room_that_is_only_watched_says_so_and_what_it_would_do(client: FlaskClient) -> None:
    html = words(client.get("/").text)
    assert "Watch only: humidifier and exhaust fan not tried yet." in html
    assert "Humidifier off, not tried yet. It would be on: 84.0 % is at or above 79.0 %" in html
    told = client.get("/api/v1/now").get_json()["rooms"]["closet"]
    assert told["watch"] == "Watch only: humidifier and exhaust fan not tried yet."
    assert told["relays"]["humidifier"]["state"] == "off"


def test_a_house_whose_relays_are_proved_says_nothing_of_it(scene: Scene) -> None:
    html = scene.client().get("/").text
    assert "Watch only" not in html
    assert scene.client().get("/api/v1/now").get_json()["rooms"]["closet"]["watch"] is None


# Trying a relay.


def test_a_trial_is_asked_about_and_a_yes_is_kept_with_the_name(
    new_house: Scene, client: FlaskClient, wired: Daemon
) -> None:
    before = words(client.get(CHECK).text)
    assert "Run the exhaust fan for 4 s" in before
    assert "Did the exhaust fan run" not in before
    after = send(client, "closet", "try", relay="exhaust-fan")
    assert "Done. The exhaust fan runs for 4 s. Look and listen." in after
    assert "Did the exhaust fan run, and nothing else?" in after
    proved = send(client, "closet", "saw", relay="exhaust-fan", saw="yes")
    assert "Done. The exhaust fan is proved." in proved
    assert "it ran (Ada)." in proved
    assert RelayKind.EXHAUST_FAN not in wired.plans["closet"].unproved
    db = connect(new_house.path)
    (kept,) = proofs(db)
    db.close()
    assert (kept.tried_by, kept.seen, kept.answered_by) == ("Ada", True, "Ada")


def test_a_no_keeps_it_off_and_says_what_to_look_at(client: FlaskClient, wired: Daemon) -> None:
    send(client, "closet", "try", relay="humidifier")
    said = send(client, "closet", "saw", relay="humidifier", saw="no")
    assert "stays off and is only watched. Pull its plug" in said
    assert "pin 17" in said
    assert "it did not run as it should (Ada)." in said
    assert RelayKind.HUMIDIFIER in wired.plans["closet"].unproved


def test_what_was_chosen_wrongly_changes_nothing(client: FlaskClient, wired: Daemon) -> None:
    send(client, "closet", "try", relay="humidifier")
    assert "Say yes or no" in send(client, "closet", "saw", relay="humidifier", saw="perhaps")
    assert "Choose one of" in send(client, "closet", "try", relay="oven")
    assert RelayKind.HUMIDIFIER in wired.plans["closet"].unproved


def test_nobody_tries_a_relay_without_the_passphrase(new_house: Scene, wired: Daemon) -> None:
    stranger = new_house.client()
    html = stranger.get(CHECK).text
    assert "Log in to try them" in html
    assert "Run the exhaust fan" not in html
    sent = {"relay": "exhaust-fan", "saw": "yes", "csrf_token": token(stranger, "/login")}
    for act in ("try", "saw"):
        assert stranger.post(f"{CHECK}/closet/{act}", data=sent).status_code == 403
    assert wired.plans["closet"].overrides == {}


def test_while_the_daemon_is_silent_nothing_can_be_tried(
    new_house: Scene, client: FlaskClient
) -> None:
    new_house.clock.move(840.0)
    html = client.get(CHECK).text
    assert "Nothing can be tried while the controller does not report." in html
    assert "Run the exhaust fan" not in html
    assert html.count("not known") >= 4


def test_a_room_that_is_not_there_is_not_found(client: FlaskClient) -> None:
    sent = {"relay": "exhaust-fan", "csrf_token": token(client, CHECK)}
    assert client.post(f"{CHECK}/cellar/try", data=sent).status_code == 404
