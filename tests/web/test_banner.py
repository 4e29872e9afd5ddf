"""What stands on every page: an urgent alarm that nobody has acknowledged, or a silent daemon."""

import re
from dataclasses import replace
from datetime import timedelta
from html import unescape

import pytest
from flask.testing import FlaskClient
from web.evening import alarm_of
from web.scenario import BOOT, Scene

from hangroom.alarm_table.row import AlarmId
from hangroom.store.live import FILE_NAME, LiveAlarm
from hangroom_web.app import create_app

BANNER = re.compile(r'<div class="strip banner" id="banner"([^>]*)>(.*?)</div>', re.DOTALL)


def alarm(scene: Scene) -> LiveAlarm:
    return alarm_of(scene, AlarmId.SENSOR_STALE, since_at=scene.clock.now() - timedelta(minutes=3))


def banner(client: FlaskClient, path: str = "/batches") -> str | None:
    """What the banner says, None where it is hidden or not there."""
    found = BANNER.search(client.get(path).text)
    if found is None or re.search(r"\bhidden\b", found[1]):
        return None
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", found[2])).split())


def test_it_says_what_where_and_what_to_do(scene: Scene) -> None:
    scene.report(closet={"alarms": (alarm(scene),)})
    said = banner(scene.client())
    assert said is not None
    assert said.startswith("Alarm Closet: a sensor does not answer, since 09:49. Act now:")


def test_the_api_tells_the_same_and_its_tag_follows_it(scene: Scene) -> None:
    client = scene.client()
    before = client.get("/api/v1/now")
    assert before.json is not None
    assert before.json["banner"] is None
    scene.report(closet={"alarms": (alarm(scene),)})
    after = client.get("/api/v1/now")
    assert after.json is not None
    assert (after.json["banner"]["word"], after.json["banner"]["loudness"]) == ("Alarm", "high")
    assert after.headers["ETag"] != before.headers["ETag"]


@pytest.mark.parametrize("gone", ["board", "daemon"])
def test_a_silent_daemon_goes_before_the_alarms_it_last_told_of(scene: Scene, gone: str) -> None:
    scene.report(closet={"alarms": (alarm(scene),)})
    if gone == "board":
        (scene.folder / FILE_NAME).unlink()
    else:
        scene.clock.move(840)
    said = banner(scene.client())
    assert said is not None
    assert said.startswith("Trouble The controller program has not reported since")


def test_without_a_database_the_page_says_it_all_the_same(scene: Scene) -> None:
    (scene.folder / FILE_NAME).unlink()
    scene.path.rename(scene.folder / "elsewhere")
    answer = scene.client().get("/login")
    assert answer.status_code == 200
    assert "never reported here" in unescape(answer.text)


def test_who_may_not_look_learns_of_no_alarm(scene: Scene) -> None:
    scene.report(closet={"alarms": (replace(alarm(scene)),)})
    here = scene.settings
    closed = here.model_copy(update={"web": here.web.model_copy(update={"looking": "log-in"})})
    stranger = create_app(closed, clock=scene.clock, boot_id=BOOT).test_client()
    page = stranger.get("/login").text
    assert "does not answer" not in page
    assert "! Alarm" not in page
    assert "banner.js" not in page
    assert "data-waiting hidden>0<" in page
