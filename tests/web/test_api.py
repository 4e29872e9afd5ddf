from typing import Any

from web.scenario import Scene


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
