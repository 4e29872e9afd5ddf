"""The alarms' page: what is on, what may be done and that it is done, what happened."""

import csv
import re
from collections.abc import Sequence
from datetime import timedelta
from html import unescape
from io import StringIO

import pytest
from flask.testing import FlaskClient
from web.daemon import Daemon
from web.scenario import START, Scene, token

from hangroom.alarm_table.log import AlarmEvent
from hangroom.alarm_table.row import AlarmId, Priority
from hangroom.alarm_table.table import TABLE
from hangroom.alarm_table.words import Condition, Event, Suppression, Tell
from hangroom.control.alarms.first_out import Circumstance
from hangroom.store.live import LiveAlarm
from hangroom_web.alarm_words import CIRCUMSTANCES, EVENTS, URGENCY

CLOSET = "room closet"


@pytest.fixture
def client(scene: Scene) -> FlaskClient:
    return scene.client(logged_in=True)


def alarm(
    id_: AlarmId,
    scope: str = CLOSET,
    *,
    condition: Condition = Condition.ACTIVE,
    acknowledged: bool = False,
    latched: bool = False,
    suppression: Suppression = Suppression.NONE,
    figures: dict[str, float] | None = None,
    why: str = "",
    held: tuple[str, str] = ("", ""),
    held_h: float | None = None,
) -> LiveAlarm:
    """An alarm whose condition turned half an hour ago, at 09:22."""
    return LiveAlarm(
        alarm=id_,
        scope=scope,
        condition=condition,
        acknowledged=acknowledged,
        latched=latched,
        suppression=suppression,
        occurrences=1,
        since_at=START - timedelta(minutes=30),
        figures=figures or {},
        why=why,
        held_by=held[0],
        held_why=held[1],
        held_until=None if held_h is None else START + timedelta(hours=held_h),
    )


def event(
    id_: AlarmId,
    kind: Event,
    *,
    hours_ago: float,
    by: str = "",
    reason: str = "",
    figures: dict[str, float] | None = None,
) -> AlarmEvent:
    return AlarmEvent(
        sequence=1,
        at=START - timedelta(hours=hours_ago),
        uptime_s=0.0,
        alarm=id_,
        event=kind,
        tell=Tell.NOTHING,
        suppression=Suppression.NONE,
        occurrences=1,
        by=by,
        reason=reason,
        figures=figures or {},
    )


def show(scene: Scene, *alarms: LiveAlarm, beside: Sequence[LiveAlarm] = ()) -> None:
    scene.report(closet={"alarms": alarms}, alarms=beside)


def words(html: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", html)).split())


def titles(html: str) -> list[str]:
    return re.findall(r'<h3 id="[^"]*">([^<]*?) <', html)


def act(client: FlaskClient, what: str, id_: AlarmId, scope: str = CLOSET, **form: str) -> str:
    form |= {"alarm": str(id_), "scope": scope, "csrf_token": token(client, "/alarms")}
    return client.post(f"/alarms/{what}", data=form, follow_redirects=True).text


# What is on.


def test_an_alarm_tells_what_where_since_when_how_far_and_what_to_do_by_when(scene: Scene) -> None:
    figures = {"seen_c": 21.2, "limit_c": 18.6}
    show(scene, alarm(AlarmId.TEMPERATURE_HIGH_HIGH, figures=figures))
    html = words(scene.client().get("/alarms").text)
    assert "Act now Closet Far too warm" in html
    assert "Active, not acknowledged. Since 09:22 (30 min). Measured 21.2 °C, limit 18.6 °C" in html
    # The table gives an hour to respond, from 09:22.
    assert "To do by 10:22 Move the sticks to a cold place now, then look at the cooling." in html
    assert "Likely cause Cooling has failed, or the heater's contact is welded." in html
    assert "The controller, by itself Heating locked out, cooling on." in html
    assert "If nobody comes Microbial growth; fat melts out." in html


def test_figures_are_in_the_keepers_unit(scene: Scene) -> None:
    scene.units = {"temperature": "F"}
    show(scene, alarm(AlarmId.TEMPERATURE_HIGH, figures={"seen_c": 20.0, "limit_c": 15.0}))
    assert "Measured 68.0 °F, limit 59.0 °F." in scene.client().get("/alarms").text


def test_the_most_urgent_stands_first_and_what_is_over_last(scene: Scene) -> None:
    show(
        scene,
        alarm(AlarmId.RELAY_CHATTER),
        alarm(AlarmId.SENSOR_IMPLAUSIBLE, condition=Condition.NORMAL, latched=True),
        alarm(AlarmId.HUMIDITY_LOW),
        alarm(AlarmId.TEMPERATURE_HIGH),
    )
    html = scene.client().get("/alarms").text
    assert titles(html) == [
        "Too warm",
        "Too dry",
        "A relay switches too often",
        "A sensor cannot be trusted",
    ]
    assert "It is over" in html


@pytest.mark.parametrize(
    ("one", "said"),
    [
        (alarm(AlarmId.DOOR_OPEN), "Active, not acknowledged."),
        (alarm(AlarmId.DOOR_OPEN, acknowledged=True), "Active, acknowledged."),
        (
            alarm(AlarmId.DOOR_OPEN, condition=Condition.NORMAL),
            "Returned to normal, not acknowledged. Over since 09:22 (30 min).",
        ),
        (
            alarm(AlarmId.CLOCK_JUMP, condition=Condition.NORMAL, latched=True, acknowledged=True),
            "Latched: over, acknowledged, waits for a reset.",
        ),
        (
            alarm(
                AlarmId.DOOR_OPEN,
                suppression=Suppression.SHELVED,
                held=("Ada", "hinge is on its way"),
                held_h=3,
            ),
            "Shelved until 12:52 by Ada: hinge is on its way. Condition: active.",
        ),
        (
            alarm(
                AlarmId.DOOR_OPEN,
                condition=Condition.NORMAL,
                suppression=Suppression.OUT_OF_SERVICE,
                held=("Ada", "mending it"),
            ),
            "Out of service, by Ada: mending it. Condition: returned to normal.",
        ),
    ],
    ids=["active", "acknowledged", "returned", "latched", "shelved", "out of service"],
)
def test_the_state_is_said_in_the_standards_words(scene: Scene, one: LiveAlarm, said: str) -> None:
    show(scene, one)
    assert said in words(scene.client().get("/alarms").text)


def test_what_is_quiet_by_design_is_folded_with_its_circumstance(scene: Scene) -> None:
    show(scene, alarm(AlarmId.DOOR_OPEN, suppression=Suppression.BY_DESIGN))
    scene.log(
        (CLOSET, event(AlarmId.DOOR_OPEN, Event.SUPPRESSED, hours_ago=0.2, reason="inspection"))
    )
    html = scene.client(logged_in=True).get("/alarms").text
    assert "Nothing needs you." in html
    assert "Kept quiet by design: 1" in html
    assert "Kept quiet by design: somebody said that the door is open." in words(html)
    assert titles(html) == []


@pytest.mark.parametrize(
    ("scope", "where"),
    [
        ("service", "The controller"),
        ("batch 3", "Batch 3"),
        ("group 3 A", "Batch 3, group A"),
        ("room attic", "attic"),
    ],
)
def test_what_an_alarm_is_about_is_said_in_words(scene: Scene, scope: str, where: str) -> None:
    show(scene, beside=[alarm(AlarmId.INSPECTION_MISSED, scope)])
    assert f"Look into it {where} A look was missed" in words(scene.client().get("/alarms").text)


def test_a_jump_of_the_clock_is_told_with_its_way(scene: Scene) -> None:
    for jump_s, said in ((-7200.0, "Back by 2 h."), (300.0, "Forward by 5 min.")):
        show(scene, beside=[alarm(AlarmId.CLOCK_JUMP, "service", figures={"jump_s": jump_s})])
        assert said in scene.client().get("/alarms").text


def test_the_reason_of_a_sensors_alarm_is_control_s_own_sentence(scene: Scene) -> None:
    figures = {"lasted_s": 7200.0}
    show(scene, alarm(AlarmId.SENSOR_IMPLAUSIBLE, why="wet-element", figures=figures))
    assert "The sensor has been wet for 2 h." in scene.client().get("/alarms").text


def test_a_silent_daemon_leaves_no_alarm_as_of_now_and_nothing_to_do(
    scene: Scene, client: FlaskClient
) -> None:
    show(scene, alarm(AlarmId.TEMPERATURE_HIGH))
    assert "Acknowledge: I have seen it" in client.get("/alarms").text
    scene.clock.move(60)
    html = client.get("/alarms").text
    assert titles(html) == []
    assert 'action="/alarms/' not in html
    assert "Which alarms are on is not known." in html
    assert "When it last reported, at 09:52: Closet: Too warm" in words(html)
    assert client.get("/api/v1/now").get_json()["alarms"] == []
    assert "data-waiting hidden" in html


def test_only_whoever_is_logged_in_may_act(scene: Scene) -> None:
    show(scene, alarm(AlarmId.TEMPERATURE_HIGH))
    looking = scene.client()
    html = looking.get("/alarms").text
    assert "Log in to act" in html
    assert 'action="/alarms/' not in html
    form = {"alarm": "door-open", "scope": CLOSET, "csrf_token": token(looking, "/login")}
    assert looking.post("/alarms/acknowledge", data=form).status_code == 403


# What may be done, and that the daemon's own alarms do it.


def test_an_alarm_is_acknowledged_and_needs_nobody_any_more(
    scene: Scene, client: FlaskClient, daemon: Daemon
) -> None:
    daemon.look()  # it was restarted, which is an alarm of the service
    show(scene, beside=daemon.alarms.beside_rooms())
    assert titles(client.get("/alarms").text) == ["The controller was restarted"]
    assert "Done. Acknowledged." in act(client, "acknowledge", AlarmId.DAEMON_RESTARTED, "service")
    show(scene, beside=daemon.alarms.beside_rooms())
    html = client.get("/alarms").text
    assert "Nothing needs you." in html
    assert "The controller: The controller was restarted came on: nothing recorded for" in words(
        html
    )
    assert "acknowledged by Ada" in html


def test_an_alarm_is_shelved_for_a_time_and_taken_off(
    scene: Scene, client: FlaskClient, daemon: Daemon
) -> None:
    form = {"for_s": "3600", "why": "I am on it"}
    assert "Done. Shelved for 1 h." in act(client, "shelve", AlarmId.DOOR_OPEN, **form)
    (one,) = daemon.alarms.of_room("closet")
    assert (one.alarm, one.held_by, one.held_why) == (AlarmId.DOOR_OPEN, "Ada", "I am on it")
    show(scene, *daemon.alarms.of_room("closet"))
    assert "Take it off the shelf" in client.get("/alarms").text
    assert "Done. No longer shelved." in act(client, "unshelve", AlarmId.DOOR_OPEN)
    assert daemon.alarms.of_room("closet") == ()


def test_an_urgent_alarm_is_not_shelved_for_longer_than_an_hour(
    client: FlaskClient, daemon: Daemon
) -> None:
    form = {"for_s": "7200", "why": "I am on it"}
    said = act(client, "shelve", AlarmId.TEMPERATURE_HIGH, **form)
    assert "Refused. temperature-high can be shelved for 1 h at most" in said
    assert daemon.alarms.of_room("closet") == ()


def test_an_alarm_is_taken_out_of_service_and_put_back(
    scene: Scene, client: FlaskClient, daemon: Daemon
) -> None:
    # As the list of all alarms sends it: scope and alarm as one choice.
    form = {"alarm": f"{CLOSET}/fan-ineffective", "why": "mending it"}
    form["csrf_token"] = token(client, "/alarms")
    client.post("/alarms/out-of-service", data=form)
    show(scene, *daemon.alarms.of_room("closet"))
    assert "Out of service, by Ada: mending it." in client.get("/alarms").text
    assert "Done. In service." in act(client, "into-service", AlarmId.FAN_INEFFECTIVE)
    assert daemon.alarms.of_room("closet") == ()


def test_a_reset_is_offered_only_for_what_is_over_and_acknowledged(
    scene: Scene, client: FlaskClient, daemon: Daemon
) -> None:
    latched = {"latched": True, "condition": Condition.NORMAL}
    show(scene, alarm(AlarmId.SENSOR_IMPLAUSIBLE, **latched))  # type: ignore[arg-type]
    assert "Reset: its cause" not in client.get("/alarms").text
    show(scene, alarm(AlarmId.SENSOR_IMPLAUSIBLE, acknowledged=True, **latched))  # type: ignore[arg-type]
    html = client.get("/alarms").text
    assert "Reset: its cause" in html
    assert "data-waiting>1<" in html  # a latch waits for a person
    assert "Done. Reset." in act(client, "reset", AlarmId.SENSOR_IMPLAUSIBLE)
    assert daemon.plans


def test_an_alarm_that_is_not_there_is_refused_in_words(
    client: FlaskClient, daemon: Daemon
) -> None:
    assert "Refused. There are no alarms of" in act(
        client, "acknowledge", AlarmId.DOOR_OPEN, "room attic"
    )
    assert daemon.plans


@pytest.mark.parametrize(
    ("what", "id_"), [("forget", "door-open"), ("acknowledge", "fire"), ("acknowledge", "")]
)
def test_what_is_no_act_or_no_alarm_is_no_page(client: FlaskClient, what: str, id_: str) -> None:
    form = {"alarm": id_, "scope": CLOSET, "csrf_token": token(client, "/alarms")}
    assert client.post(f"/alarms/{what}", data=form).status_code == 404


# What happened.


def test_no_alarm_at_all_is_said(scene: Scene) -> None:
    html = words(scene.client().get("/alarms").text)
    assert "Nothing needs you. No alarm in the last 30 days." in html


def test_what_happened_is_told_by_local_day_with_who_and_why(scene: Scene) -> None:
    figures = {"seen_pct": 68.2, "limit_pct": 71.0}
    scene.log(
        (CLOSET, event(AlarmId.HUMIDITY_LOW, Event.ACTIVATED, hours_ago=31 * 24)),
        (CLOSET, event(AlarmId.HUMIDITY_LOW, Event.ACTIVATED, hours_ago=11, figures=figures)),
        (CLOSET, event(AlarmId.HUMIDITY_LOW, Event.SUPPRESSED, hours_ago=9, reason="starting")),
        (
            CLOSET,
            event(AlarmId.HUMIDITY_LOW, Event.SHELVED, hours_ago=2, by="Ada", reason="I am on it"),
        ),
    )
    html = words(scene.client().get("/alarms").text)
    # It is 09:52 on Thursday: eleven hours ago it was still Wednesday in New York.
    assert (
        "Thu 26 Nov 1 line 07:52 Closet: Too dry shelved by Ada: I am on it "
        "Wed 25 Nov 1 line 22:52 Closet: Too dry came on: measured 68.2 %, limit 71.0 %" in html
    )
    assert "controller has only just started" not in html  # nobody need know; it is in the file


@pytest.mark.parametrize("first", ["=", "+", "-", "@", "\t", "\r"])
def test_no_cell_of_the_file_begins_a_formula(scene: Scene, first: str) -> None:
    """OWASP, CSV injection: a cell must not begin with =, +, -, @, tab or carriage return."""
    typed = f"{first}HYPERLINK(1)"
    scene.log(
        (
            CLOSET,
            event(AlarmId.DOOR_OPEN, Event.SHELVED, hours_ago=1, by=typed, reason=typed),
        )
    )
    answer = scene.client().get("/alarms.csv")
    assert answer.mimetype == "text/csv"
    header, *rows = csv.reader(StringIO(answer.text, newline=""))
    assert [cell for row in rows for cell in row if cell.startswith(first)] == []
    told = dict(zip(header, rows[0], strict=True))
    assert told["by"] == told["reason"] == f"'{typed}"
    assert told["time"] == "2026-11-26T08:52:04-05:00"
    assert (told["where"], told["title"]) == ("Closet", "The door stands open")


def test_every_alarm_there_is_stands_on_the_page_with_its_figures(scene: Scene) -> None:
    html = words(scene.client().get("/alarms").text)
    for row in TABLE.values():
        assert row.action[1:] in html
        assert row.limit[1:] in html


# On the rooms' page.


def test_the_strip_shows_what_needs_somebody_and_counts_the_rest(scene: Scene) -> None:
    show(
        scene,
        alarm(AlarmId.HUMIDITY_LOW),
        alarm(AlarmId.TEMPERATURE_HIGH),
        alarm(AlarmId.DOOR_OPEN, acknowledged=True),
        beside=[alarm(AlarmId.DAEMON_RESTARTED, "service", condition=Condition.NORMAL)],
    )
    html = scene.client().get("/").text
    strip = words(html[html.index('id="trouble"') : html.index('class="wall"')])
    assert "Alarm Closet: too warm, since 09:22. Act now: move the sticks" in strip
    assert "and 2 more" in strip
    assert "over since 09:22. Acknowledge it. To the alarms" in strip
    assert '<b class="count" data-waiting>3</b>' in html
    assert "<title>! Alarm - Room</title>" in html


def test_a_daemon_that_is_down_goes_before_any_alarm(scene: Scene) -> None:
    show(scene, alarm(AlarmId.TEMPERATURE_HIGH))
    scene.clock.move(60)
    told = scene.client().get("/api/v1/now").get_json()
    assert [line["loudness"] for line in told["strip"]] == ["trouble"]
    assert "has not reported" in told["strip"][0]["said"]


def test_a_sensor_that_is_an_alarm_is_not_told_twice(scene: Scene) -> None:
    scene.report(reading_age_s=400.0)
    before = scene.client().get("/api/v1/now").get_json()["strip"]
    assert sum("Closet" in line["said"] for line in before) == 1
    scene.report(reading_age_s=400.0, closet={"alarms": (alarm(AlarmId.SENSOR_STALE),)})
    told = scene.client().get("/api/v1/now").get_json()
    assert ["Closet: a sensor does not answer" in line["said"] for line in told["strip"]] == [
        False,  # the fridge's sensor, which no alarm tells of yet
        True,
    ]
    assert len(told["troubles"]) == 2  # each room's, as before


# Words for everything there is.


def test_every_priority_event_and_circumstance_has_its_words() -> None:
    assert set(URGENCY) == set(Priority)
    assert set(EVENTS) == set(Event)
    assert set(CIRCUMSTANCES) == set(Circumstance)
