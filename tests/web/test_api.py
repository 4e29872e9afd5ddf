from dataclasses import replace
from datetime import timedelta
from typing import Any

from web.scenario import START, Scene

from hangroom.alarm_table.row import AlarmId
from hangroom.alarm_table.words import Condition, Suppression
from hangroom.store.live import LiveAir, LiveAlarm, LiveSensor, LiveStage
from hangroom.terms import Because


def now(scene: Scene) -> dict[str, Any]:
    answer = scene.client().get("/api/v1/now")
    assert answer.status_code == 200
    told = answer.get_json()
    assert isinstance(told, dict)
    return told


def test_a_live_value_has_unit_moment_and_age(scene: Scene) -> None:
    closet = now(scene)["rooms"]["closet"]
    assert closet["temperature"] == {
        "value": 13.1,
        "unit": "degC",
        "shown": "13.1",
        "taken_at": "2026-11-26T14:52:00+00:00",
        "age_s": 4.0,
        "state": "live",
        "last_good": None,
    }
    assert closet["relays"]["humidifier"]["state"] == "on"


def test_a_stale_value_is_null_with_the_last_good_one_beside(scene: Scene) -> None:
    scene.clock.move(600)
    told = now(scene)
    for quantity, last_value in (("temperature", 13.1), ("humidity", 75.6)):
        stale = told["rooms"]["closet"][quantity]
        assert (stale["value"], stale["shown"], stale["age_s"]) == (None, None, None)
        assert stale["last_good"] == {
            "value": last_value,
            "taken_at": "2026-11-26T14:52:00+00:00",
            "age_s": 604.0,
        }
    assert told["daemon"]["state"] == "down"
    states = {r["state"] for room in told["rooms"].values() for r in room["relays"].values()}
    assert states == {"unknown"}


def test_values_stay_si_where_the_keeper_reads_fahrenheit(scene: Scene) -> None:
    scene.units = {"temperature": "F"}
    temperature = now(scene)["rooms"]["closet"]["temperature"]
    assert (temperature["value"], temperature["shown"]) == (13.1, "55.6")


def test_the_same_readings_are_304_and_the_page_counts_on(scene: Scene) -> None:
    client = scene.client()
    first = client.get("/api/v1/now")
    mark = {"If-None-Match": first.headers["ETag"]}
    scene.clock.move(2)
    assert client.get("/api/v1/now", headers=mark).status_code == 304
    scene.clock.move(6)
    assert client.get("/api/v1/now", headers=mark).status_code == 200


def test_healthz_is_200_only_while_all_is_fresh(scene: Scene) -> None:
    client = scene.client()
    assert client.get("/healthz").status_code == 200
    scene.clock.move(7)
    down = client.get("/healthz")
    assert down.status_code == 503
    assert "The controller program does not report." in down.get_json()["reasons"]
    scene.report(reading_age_s=60.0)
    stale = client.get("/healthz")
    assert stale.status_code == 503
    assert [reason.split(":")[0] for reason in stale.get_json()["reasons"]] == ["Closet", "Fridge"]


def test_every_sensor_has_its_values_age_and_worth(scene: Scene) -> None:
    wet = LiveSensor(
        reading=scene.report().rooms["fridge"].sensors["shelf"].reading,
        read_every_s=6.0,
        distrusted=Because("wet-element", {"lasted_s": 7200.0}),
    )
    sensors = {**scene.report().rooms["closet"].sensors, "top": wet}
    scene.report(closet={"sensors": sensors})
    told = now(scene)["rooms"]["closet"]["sensors"]
    assert told["rail"] == {
        "temperature_c": 13.1,
        "humidity_pct": 75.6,
        "age_s": 4.0,
        "state": "live",
        "shown": "13.1 °C, 75.6 %",
        "said": "trusted",
    }
    # What is not trusted may be looked at in words, but is no value for another program.
    assert (told["top"]["temperature_c"], told["top"]["humidity_pct"]) == (None, None)
    assert told["top"]["said"] == "not trusted: the sensor has been wet for 2 h"


def test_an_old_sensor_has_no_values_at_all(scene: Scene) -> None:
    scene.clock.move(600)
    told = now(scene)["rooms"]["closet"]["sensors"]["rail"]
    assert (told["temperature_c"], told["humidity_pct"], told["shown"]) == (None, None, "")
    assert told["said"] == "silent since 09:52"


def test_the_outside_is_told_only_while_it_is_known(scene: Scene) -> None:
    assert now(scene)["outside"] is None
    scene.report(outside=LiveAir(temperature_c=8.2, humidity_pct=61.0))
    assert now(scene)["outside"] == {
        "temperature_c": 8.2,
        "humidity_pct": 61.0,
        "said": "Outside 8.2 °C, 61.0 %",
    }
    scene.clock.move(60)
    assert now(scene)["outside"] is None


def test_no_stage_door_or_relay_is_told_as_of_now_by_a_silent_daemon(scene: Scene) -> None:
    end = START + timedelta(minutes=30)
    run = LiveStage(since_at=START, ends_at=end, then=None, by="Ada")
    scene.report(closet={"stage_run": run, "inspection_ends_at": end})
    assert now(scene)["rooms"]["closet"]["door"] is not None
    scene.clock.move(60)
    closet = now(scene)["rooms"]["closet"]
    assert (closet["stage_run"], closet["door"]) == (None, None)


def test_the_mark_of_the_alarms_changes_with_their_state_alone(scene: Scene) -> None:
    door = LiveAlarm(
        alarm=AlarmId.DOOR_OPEN,
        scope="room closet",
        condition=Condition.ACTIVE,
        acknowledged=False,
        latched=False,
        suppression=Suppression.NONE,
        occurrences=1,
        since_at=START,
    )
    marks = [now(scene)["alarms_mark"]]
    for alarm in (door, door, replace(door, acknowledged=True)):
        scene.clock.move(120)
        scene.report(closet={"alarms": (alarm,)})
        marks.append(now(scene)["alarms_mark"])
    assert marks[1] == marks[2]
    assert len(set(marks)) == 3
