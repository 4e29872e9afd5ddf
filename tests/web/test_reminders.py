"""The daily look's reminder and the morning's summary on Room and Inspect; putting the look off."""

import re
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from flask.testing import FlaskClient
from web.scenario import Scene, token

from hangroom.jobs import daily_look, looking_of, morning_summary
from hangroom.store.batches import NewGroup, add_batch
from hangroom.store.database import connect
from hangroom.store.reminders import open_reminders
from hangroom.store.weigh_ins import NewWeighIn, add_weigh_in
from hangroom_web.reminders import later_choices, put_off_s

# Now is Thursday 26 November, 09:52 in New York; all was weighed on Wednesday at eight.


@pytest.fixture
def client(scene: Scene) -> FlaskClient:
    return scene.client(logged_in=True)


def look_again(scene: Scene, *, after_h: float = 0.0) -> None:
    scene.clock.move(after_h * 3600)
    scene.report()
    daily_look(scene.path, looking_of(scene.settings), now=scene.clock.now())


def put_off(client: FlaskClient, choice: str, *, back: str = "room", key: str = "k1") -> str:
    form = {"csrf_token": token(client, "/"), "for": choice, "back": back, "key": key}
    return client.post("/reminders/later", data=form, follow_redirects=True).text


def test_inspect_says_since_when_it_is_due_and_what_to_look_for(client: FlaskClient) -> None:
    page = client.get("/inspect").text
    assert "Due since 08:00 today." in page
    assert "Look for wrinkles, mould, slime, insects, drip" in page
    assert "A, supple: weigh and squeeze A1, A2, A3." in page
    assert "Asked" not in page


def test_asked_again_both_pages_say_so(client: FlaskClient, scene: Scene) -> None:
    look_again(scene, after_h=2)  # 27 h and 52 min after the last entries
    assert "Asked 2 times, last 11:52." in client.get("/").text
    assert "Due since 08:00 today. Asked 2 times, last 11:52." in client.get("/inspect").text


@pytest.mark.usefixtures("daemon")
def test_put_off_the_page_says_until_when_and_who_asks_knows(
    client: FlaskClient, scene: Scene
) -> None:
    page = put_off(client, "3h")
    assert "Done. You are asked again in 3 h." in page
    assert "Put off until 12:5" in page
    assert "Inspection due since 08:00 today" in page  # due it is all the same
    db = connect(scene.path)
    assert {one.snoozed_until is not None for one in open_reminders(db)} == {True}
    db.close()


@pytest.mark.usefixtures("daemon")
def test_from_inspect_it_goes_back_there(client: FlaskClient) -> None:
    page = put_off(client, "1h", back="inspect")
    assert "<h1>Inspect</h1>" in page
    assert "Put off until" in page


@pytest.mark.usefixtures("daemon")
def test_a_choice_that_there_is_not_is_refused_in_words(client: FlaskClient) -> None:
    assert "Refused. It names no" in put_off(client, "next year")


def test_only_who_is_logged_in_can_put_it_off(scene: Scene) -> None:
    onlooker = scene.client()
    page = onlooker.get("/").text
    assert "Inspection due since" in page
    assert "ask me again" not in page
    assert onlooker.post("/reminders/later", data={"for": "1h"}).status_code in {302, 303, 400, 403}


def test_when_the_entries_are_in_it_is_done_and_says_when(
    client: FlaskClient, scene: Scene
) -> None:
    db = connect(scene.path)
    tags = [tag for (tag,) in db.execute("select tag from stick").fetchall()]
    for tag in tags:
        add_weigh_in(
            db, NewWeighIn(key=f"t{tag}", tag=tag, taken_at=scene.clock.now(), weight_g=80.0)
        )
    db.close()
    look_again(scene)
    page = client.get("/inspect").text
    assert "The look that was due 08:00 today is done, seen at 09:52." in page
    assert "ask me again" not in page
    assert "Due since" not in page


def test_a_weight_taken_shortly_before_the_look_leaves_its_stick_done(scene: Scene) -> None:
    db = connect(scene.path)
    at = scene.clock.now() - timedelta(hours=2, minutes=22)  # half past seven
    for tag in ("A1", "A2"):
        add_weigh_in(db, NewWeighIn(key=f"t{tag}", tag=tag, taken_at=at, weight_g=80.0))
    db.close()
    page = scene.client(logged_in=True).get("/").text
    assert "Weigh 6 tagged sticks now" in page  # of eight


def test_a_weight_of_the_night_does_not_and_its_card_can_be_filled_in(scene: Scene) -> None:
    db = connect(scene.path)
    at = scene.clock.now() - timedelta(hours=8)  # before two in the morning, of today all the same
    add_weigh_in(db, NewWeighIn(key="t", tag="A1", taken_at=at, weight_g=86.0))
    db.close()
    client = scene.client(logged_in=True)
    assert "Weigh 8 tagged sticks now" in client.get("/").text
    card = re.search(r'id="stick-A1".*?</section>', client.get("/inspect").text, re.DOTALL)
    assert card is not None
    assert 'name="weight"' in card[0]


def test_the_morning_s_summary_stands_on_room_as_it_was_stored(
    client: FlaskClient, scene: Scene
) -> None:
    assert "This morning" not in client.get("/").text
    made = morning_summary(scene.path, looking_of(scene.settings), now=scene.clock.now())
    assert made is not None
    page = client.get("/").text
    assert made.title in page
    for line in made.text.splitlines():
        assert f"<li>{line}</li>" in page


def test_yesterday_s_summary_is_no_news(client: FlaskClient, scene: Scene) -> None:
    morning_summary(scene.path, looking_of(scene.settings), now=scene.clock.now())
    scene.clock.move(86_400)
    scene.report()
    assert "This morning" not in client.get("/").text


def test_a_group_without_a_tagged_stick_is_asked_for_and_looked_at(tmp_path: Path) -> None:
    scene = Scene(folder=tmp_path)
    scene.prepare()
    db = connect(scene.path)
    group = NewGroup(
        letter="A", finish="dry", target_yield_pct=60, sticks=8, tagged=[], room="closet",
        hung_at=scene.clock.now() - timedelta(days=1),
    )  # fmt: skip
    add_batch(db, name="juniper", started_at=scene.clock.now() - timedelta(days=3), groups=[group])
    db.close()
    look_again(scene)
    client = scene.client(logged_in=True)
    for path in ("/", "/inspect"):
        page = client.get(path).text
        assert "Due since 08:00 today." in page
        assert 'href="/inspect/looks"' in page
    assert "Nothing is hanging" not in client.get("/").text
    assert "no stick is tagged; squeeze some" in client.get("/inspect").text


NEW_YORK = ZoneInfo("America/New_York")
MOST = timedelta(hours=12)


@pytest.mark.parametrize(
    ("clock", "at_most_h", "choices"),
    [
        ("09:00", 12.0, ["1h", "3h", "evening"]),
        ("17:00", 12.0, ["1h", "3h", "evening"]),
        ("17:01", 12.0, ["1h", "3h"]),
        ("05:00", 12.0, ["1h", "3h"]),  # thirteen hours are more than twelve
        ("09:00", 2.0, ["1h"]),
    ],
)
def test_it_can_be_put_off_as_the_settings_allow_and_the_day_has_it(
    clock: str, at_most_h: float, choices: list[str]
) -> None:
    now = datetime.fromisoformat(f"2026-11-26T{clock}").replace(tzinfo=NEW_YORK)
    offered = later_choices(at_most=timedelta(hours=at_most_h), zone=NEW_YORK, now=now)
    assert [value for value, _ in offered] == choices


def test_this_evening_is_six_by_the_keeper_s_clock() -> None:
    """On 1 November 2026 New York's clocks go back at two: from one summer time on 18 h are left."""
    now = datetime(2026, 11, 1, 1, 0, tzinfo=NEW_YORK)
    assert put_off_s("evening", zone=NEW_YORK, now=now) == 18 * 3600.0
    assert put_off_s("1h", zone=NEW_YORK, now=now) == 3600.0
    assert put_off_s("", zone=NEW_YORK, now=now) is None
