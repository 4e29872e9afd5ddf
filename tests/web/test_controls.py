"""One room's page: what it shows of the room, and that what it asks for reaches the daemon."""

import re
from dataclasses import replace
from datetime import timedelta

import pytest
from flask.testing import FlaskClient
from web.daemon import Daemon
from web.scenario import START, Scene, token

from hangroom.store.live import LiveOverride, LiveRoom, LiveStage
from hangroom.terms import Because, RelayKind, Stage
from hangroom_web import wanted

# The daemon goes on looking for a moment after it has answered.
TICK_S = 2.0

HUMIDIFIER, FAN = RelayKind.HUMIDIFIER, RelayKind.EXHAUST_FAN


@pytest.fixture
def client(scene: Scene) -> FlaskClient:
    return scene.client(logged_in=True)


def ask(client: FlaskClient, act: str, room: str = "closet", **form: str) -> str:
    """Send a form of a room's page; return the page that comes of it."""
    form["csrf_token"] = token(client, f"/rooms/{room}")
    return client.post(f"/rooms/{room}/{act}", data=form, follow_redirects=True).text


def words(html: str) -> str:
    """What stands on a page for somebody who reads it."""
    return " ".join(re.sub(r"<[^>]*>", " ", html).split())


def closet(scene: Scene) -> LiveRoom:
    return scene.report().rooms["closet"]


# What is asked for, and what the daemon's plan is then. Who asks is Ada.


def test_a_stage_begins_with_its_hours_and_what_follows(
    client: FlaskClient, daemon: Daemon
) -> None:
    html = ask(client, "stage", stage="casing-dry", hours="0,5", then="rest", batch="1")
    assert "Done. Stage is casing dry, for 30 min." in html
    plan = daemon.plans["closet"]
    assert plan.stage is Stage.CASING_DRY
    assert plan.stage_run is not None
    assert plan.stage_run.ends_uptime_s is not None
    assert plan.stage_run.ends_uptime_s - plan.stage_run.since_uptime_s == 0.5 * 3600
    assert (plan.stage_run.then, plan.stage_run.by, plan.stage_run.batch) == (Stage.REST, "Ada", 1)


def test_a_stage_without_hours_has_no_end(client: FlaskClient, daemon: Daemon) -> None:
    ask(client, "stage", stage="hold", hours=" ", then="hang")
    run = daemon.plans["closet"].stage_run
    assert daemon.plans["closet"].stage is Stage.HOLD
    assert run is not None
    assert (run.ends_uptime_s, run.then) == (None, None)


def test_casing_dry_without_an_end_is_refused_in_words(client: FlaskClient, daemon: Daemon) -> None:
    assert "Refused. Casing dry dries" in ask(client, "stage", stage="casing-dry", hours="")
    assert daemon.plans["closet"].stage is Stage.HANG


def test_a_temperature_is_asked_for_in_the_keepers_unit(scene: Scene) -> None:
    scene.units = {"temperature": "F"}
    daemon = Daemon(scene)
    scene.clock.meanwhile = daemon.tick
    ask(scene.client(logged_in=True), "temperature", room="fridge", setpoint="39.2")
    target = daemon.plans["fridge"].temperature
    daemon.close()
    assert target is not None
    assert target.setpoint_c == pytest.approx(4.0)  # (39.2 - 32) x 5 / 9


@pytest.mark.parametrize(("position", "closed"), [("on", True), ("off", False)])
def test_a_relay_is_switched_by_hand_for_a_while(
    client: FlaskClient, daemon: Daemon, position: str, closed: bool
) -> None:
    form = {"relay": "exhaust-fan", "position": position, "for_s": "900", "why": "cleaning"}
    assert "Done. The exhaust fan is wanted" in ask(client, "hand", **form)
    override = daemon.plans["closet"].overrides[FAN]
    assert (override.closed, override.by, override.why) == (closed, "Ada", "cleaning")
    assert override.ends_uptime_s == pytest.approx(daemon.uptime_s + 900, abs=TICK_S)
    assert "left to the controller" in ask(client, "hand/end", relay="exhaust-fan")
    assert daemon.plans["closet"].overrides == {}


def test_a_typed_reason_goes_before_a_chosen_one(client: FlaskClient, daemon: Daemon) -> None:
    form = {"relay": "humidifier", "position": "on", "for_s": "300"}
    ask(client, "hand", **form, why="cleaning", words="  new \n disc ")
    assert daemon.plans["closet"].overrides[HUMIDIFIER].why == "new disc"


@pytest.mark.parametrize("why", [{}, {"why": "other"}, {"why": "other", "words": " "}])
def test_no_relay_is_switched_without_a_reason(
    client: FlaskClient, daemon: Daemon, why: dict[str, str]
) -> None:
    form = {"relay": "humidifier", "position": "on", "for_s": "300", **why}
    assert "Say why; the record keeps the reason." in ask(client, "hand", **form)
    assert daemon.plans["closet"].overrides == {}


def test_more_time_by_hand_than_is_allowed_is_refused(client: FlaskClient, daemon: Daemon) -> None:
    form = {"relay": "humidifier", "position": "on", "for_s": "3600", "why": "cleaning"}
    assert "Refused. A humidifier can be switched by hand for 30 min" in ask(client, "hand", **form)
    assert daemon.plans["closet"].overrides == {}


def test_an_open_door_is_announced_and_shut_again(client: FlaskClient, daemon: Daemon) -> None:
    assert "no alarm for 15 min" in ask(client, "door", for_s="900")
    ends_s = daemon.alarms.inspection_ends_uptime_s("closet")
    assert ends_s == pytest.approx(daemon.uptime_s + 900, abs=TICK_S)
    ask(client, "door/shut")
    assert daemon.alarms.inspection_ends_uptime_s("closet") is None


def test_lockouts_are_lifted(client: FlaskClient, daemon: Daemon) -> None:
    assert "Every lockout of this room is lifted." in ask(client, "lockouts")
    assert daemon.plans["closet"].lockouts_lifted_uptime_s == pytest.approx(
        daemon.uptime_s, abs=TICK_S
    )


# Who may ask, and when.

ACTS = ["humidity", "stage", "hand", "hand/end", "door", "door/shut", "lockouts"]


@pytest.mark.parametrize("act", [*ACTS, "temperature"])
def test_nothing_is_asked_without_the_passphrase(scene: Scene, daemon: Daemon, act: str) -> None:
    client = scene.client()
    form = {"csrf_token": token(client, "/login"), "setpoint": "70", "for_s": "300"}
    room = "fridge" if act == "temperature" else "closet"
    assert client.post(f"/rooms/{room}/{act}", data=form).status_code == 403
    assert daemon.plans["closet"].lockouts_lifted_uptime_s is None


@pytest.mark.parametrize("act", ACTS)
def test_a_room_that_is_not_there_cannot_be_asked(client: FlaskClient, act: str) -> None:
    form = {"csrf_token": token(client, "/"), "setpoint": "70", "for_s": "300"}
    form |= {"stage": "hang", "relay": "humidifier", "position": "on", "why": "cleaning"}
    assert client.post(f"/rooms/attic/{act}", data=form).status_code == 404


def test_the_page_of_a_room_that_is_not_there_is_no_page(client: FlaskClient) -> None:
    assert client.get("/rooms/attic").status_code == 404


@pytest.mark.parametrize("path", ["/", "/rooms/closet"])
def test_forms_are_for_whoever_is_logged_in_and_a_daemon_that_reports(
    scene: Scene, client: FlaskClient, path: str
) -> None:
    form = f'action="{path.rstrip("/") or "/rooms/closet"}/door"'
    assert form in client.get(path).text
    assert form not in scene.client().get(path).text
    scene.clock.move(60)
    assert form not in client.get(path).text


def test_without_a_database_a_room_is_shown_all_the_same(scene: Scene) -> None:
    scene.path.unlink()
    answer = scene.client().get("/rooms/closet")
    assert answer.status_code == 200
    assert "There is no database" in answer.text


# What is shown.


def test_the_stage_under_way_is_told_with_its_end_and_what_follows(scene: Scene) -> None:
    run = LiveStage(
        since_at=START - timedelta(minutes=45),
        ends_at=START + timedelta(minutes=15),
        then=Stage.HANG,
        by="Ada",
    )
    scene.report(closet={"stage": Stage.CASING_DRY, "stage_run": run})
    html = scene.client().get("/").text
    assert "<p data-run-said>until 10:07, then hang</p>" in html
    assert 'value="0.75"' in html  # 45 of 60 min are over
    assert "as it comes" in html  # while casings dry, no humidity is asked for
    room = scene.client().get("/api/v1/now").get_json()["rooms"]["closet"]
    assert room["stage_run"]["gone_ratio"] == 0.75
    assert "Begun 09:07 by Ada. 15 min left." in words(scene.client().get("/rooms/closet").text)


def test_a_stage_without_end_shows_no_bar(scene: Scene) -> None:
    run = LiveStage(since_at=START - timedelta(hours=2), ends_at=None, then=None, by="Ada")
    scene.report(closet={"stage_run": run})
    assert re.findall(r"data-run( hidden)?>", scene.client().get("/").text) == [" hidden"] * 2
    assert "Until somebody begins another stage." in words(scene.client().get("/rooms/closet").text)


def test_every_stage_says_what_it_asks_before_it_is_begun(scene: Scene) -> None:
    html = words(scene.client().get("/rooms/closet").text)
    # The usual figures: moist_pct 85 for a rest, 80 for a hold, as far as the limit of 90 allows.
    assert "Humidity 85 ± 3 % Exhaust fan stays off For 12 h, then hang, as planned" in html
    assert "Humidity 80 ± 3 % Until somebody begins another stage, as planned" in html
    assert "Humidifier stays off Exhaust fan runs all the time For 1 h, then hang" in html


def test_a_setpoint_asked_for_in_a_stage_is_what_that_stage_says(
    client: FlaskClient, daemon: Daemon
) -> None:
    assert daemon.plans["closet"].stage is Stage.HANG
    assert "Humidity 78 ± 3 % Until somebody" in words(ask(client, "humidity", setpoint="78"))


def test_a_relay_by_hand_is_told_with_its_end_who_and_why(scene: Scene) -> None:
    relays = dict(closet(scene).relays)
    override = LiveOverride(
        closed=True, ends_at=START + timedelta(minutes=12), by="Ada", why="airing the room"
    )
    relays[FAN] = replace(relays[FAN], closed=True, because=Because("by-hand"), override=override)
    relays[HUMIDIFIER] = replace(relays[HUMIDIFIER], override=override)
    scene.report(closet={"relays": relays})
    html = scene.client().get("/").text
    assert "Exhaust fan on since 09:11: on by hand until 10:04 (Ada: airing the room)." in html
    # What stands in its way is told first, where it is not where the person wants it.
    assert "a dose with 25 s to go. Wanted on by hand until 10:04 (Ada" in html
    assert html.count(" data-hand>") == 2
    assert (
        "Leave the exhaust fan to the controller"
        in scene.client(logged_in=True).get("/rooms/closet").text
    )


def test_a_locked_relay_is_shown_with_what_to_look_at_first(
    scene: Scene, client: FlaskClient
) -> None:
    assert "lift the room" not in client.get("/rooms/closet").text
    relays = dict(closet(scene).relays)
    locked = replace(relays[HUMIDIFIER], closed=False, because=Because("locked-out", {"left_s": 9}))
    scene.report(closet={"relays": {**relays, HUMIDIFIER: locked}})
    html = words(client.get("/rooms/closet").text)
    assert "Humidifier is locked out" in html
    assert "Is there water in the tank" in html
    assert "I looked: lift the room" in html


def test_what_was_learned_is_said_in_words(scene: Scene) -> None:
    relays = dict(closet(scene).relays)
    relays[HUMIDIFIER] = replace(relays[HUMIDIFIER], dose_s=7.0, dose_proved=True)
    relays[FAN] = replace(relays[FAN], dose_s=45.0)
    scene.report(closet={"relays": relays})
    html = words(scene.client().get("/rooms/closet").text)
    assert "Gives 7 s of mist at a time; proved: doses have had their effect." in html
    assert "Airs for 45 s at a time; not proved yet: no dose has had an effect so far." in html


def test_an_announced_open_door_is_told_until_when(scene: Scene, client: FlaskClient) -> None:
    scene.report(closet={"inspection_ends_at": START + timedelta(minutes=9)})
    html = client.get("/").text
    assert "An open door makes no alarm until 10:01." in html
    assert "The door is shut</button>" in html


# What control knows and the page cannot ask it: the page leans on no floor of control.


@pytest.mark.parametrize(
    ("relay", "longest"),
    [
        (HUMIDIFIER, "30 min"),
        (FAN, "4 h"),
        (RelayKind.COOLING, "2 h"),
        (RelayKind.HEATER, "30 min"),
    ],
)
def test_no_longer_time_by_hand_is_offered_than_is_allowed(relay: RelayKind, longest: str) -> None:
    """Water and heat half an hour, cold two hours, moving air four: `hangroom.terms`."""
    assert wanted.hand_times(relay)[-1][1] == longest
