"""Entries that waited on a phone, came from paper, or were typed by a scale."""

import re
import sqlite3
from datetime import timedelta
from io import BytesIO
from typing import Any

import pytest
from flask.testing import FlaskClient
from PIL import Image
from web.scenario import START, Scene, token
from werkzeug.test import TestResponse

from hangroom.errors import InputError
from hangroom.store.moments import from_ms
from hangroom.units import GRAMS_PER_OUNCE, Units, WeightUnit
from hangroom_web.entries import LONGEST_WAIT
from hangroom_web.scale_text import weight_read_g

PHONE_MS = 1_700_000_000_000  # the phone's clock is years behind, and it does not matter
DAY_MS = 86_400_000


@pytest.fixture
def client(scene: Scene) -> FlaskClient:
    return scene.client(logged_in=True)


def send(client: FlaskClient, tag: str = "A1", /, **form: Any) -> TestResponse:  # noqa: ANN401 - strings, files
    form = {"key": f"key{tag}", "csrf_token": token(client, "/inspect?all=1"), **form}
    return client.post(f"/inspect/{tag}?part=card", data=form)


def rows(scene: Scene) -> list[tuple[str, float, timedelta, timedelta]]:
    """Return tag, weight in g, and how long before now it was weighed and entered."""
    db = sqlite3.connect(scene.path)
    try:
        found = db.execute(
            "select tag, weight_g, taken_ms, weigh_in.entered_ms from weigh_in"
            " join stick on stick.id = stick_id"
            " where weigh_in.key not like 'wednesday%' and struck_ms is null order by weigh_in.id"
        ).fetchall()
    finally:
        db.close()
    now = scene.clock.now()
    return [
        (tag, g, now - from_ms(taken), now - from_ms(entered)) for tag, g, taken, entered in found
    ]


@pytest.mark.parametrize("waited_ms", [0, 1_800_000, 3 * DAY_MS // 100, -30_000])
def test_it_was_weighed_as_long_ago_as_it_waited_whatever_the_phone_s_clock_says(
    client: FlaskClient, scene: Scene, waited_ms: int
) -> None:
    answer = send(client, weight="82.0", taken_ms=f"{PHONE_MS}", sent_ms=f"{PHONE_MS + waited_ms}")
    assert 'data-stored="keyA1"' in answer.get_data(as_text=True)
    expected = timedelta(milliseconds=max(0, waited_ms))
    assert rows(scene) == [("A1", 82.0, expected, timedelta())]


@pytest.mark.parametrize(
    ("taken_ms", "sent_ms", "said"),
    [
        (PHONE_MS, PHONE_MS - 61_000, "clock was set back"),
        (
            PHONE_MS,
            PHONE_MS + int(LONGEST_WAIT.total_seconds() * 1000) + 1,
            "waited on the phone for 7 days",
        ),
        ("", PHONE_MS, "no time that can be read"),
        ("yesterday", PHONE_MS, "no time that can be read"),
        ("9" * 16, PHONE_MS, "no time that can be read"),
        ("\u0663\u0663", PHONE_MS, "no time that can be read"),
    ],
)
def test_a_wait_that_cannot_be_is_refused_in_words_and_a_typed_time_mends_it(
    client: FlaskClient, scene: Scene, taken_ms: object, sent_ms: object, said: str
) -> None:
    waits = {"taken_ms": f"{taken_ms}", "sent_ms": f"{sent_ms}"}
    answer = send(client, weight="82.0", **waits)
    html = answer.get_data(as_text=True)
    assert answer.status_code == 422
    assert said in html
    assert 'value="82.0"' in html
    assert rows(scene) == []
    send(client, weight="82.0", weighed="2026-11-26T08:30", **waits)
    assert [row[:3] for row in rows(scene)] == [
        ("A1", 82.0, timedelta(hours=1, minutes=22, seconds=4))
    ]


@pytest.mark.parametrize(
    ("weighed", "said"),
    [
        ("2026-11-26T10:30", "still to come"),
        ("2026-11-20T08:00", "Its batch had not begun then"),
        ("half past eight", "Write date and time"),
    ],
)
def test_a_time_on_paper_that_cannot_be_is_refused_beside_its_field(
    client: FlaskClient, scene: Scene, weighed: str, said: str
) -> None:
    answer = send(client, weight="82.0", weighed=weighed)
    html = answer.get_data(as_text=True)
    assert answer.status_code == 422
    assert said in html
    assert re.search(r'<details class="more" open><summary>Photo, or weighed earlier', html)
    assert rows(scene) == []


def test_a_weight_is_held_against_the_one_before_it_and_not_against_a_later_one(
    client: FlaskClient, scene: Scene
) -> None:
    # Green 104.0 g, 86.6 g on Wednesday; dried to 80.0 g at 09:52 today.
    send(client, weight="80.0", key="today")
    late = send(client, weight="83.0", key="late", weighed="2026-11-26T08:00")
    assert "heavier" not in late.get_data(as_text=True)
    assert "Saved. 83.0 g. weighed 08:00. Yield 79.8 %, down 3.5 since Wed" in late.get_data(
        as_text=True
    )
    asked = send(client, weight="83.0", key="now")
    assert "heavier than the 80.0 g" in asked.get_data(as_text=True)
    assert [g for _tag, g, _taken, _entered in rows(scene)] == [80.0, 83.0]


def test_sent_again_it_is_stored_already_even_where_a_later_weight_makes_it_odd(
    client: FlaskClient, scene: Scene
) -> None:
    send(client, weight="82.0", key="first")
    scene.clock.move(600)
    send(client, weight="80.0", key="second", asked="80.0", keep="80")
    again = send(client, weight="82.0", key="first")
    assert again.status_code == 200
    assert 'data-stored="first"' in again.get_data(as_text=True)
    assert [g for _tag, g, _taken, _entered in rows(scene)] == [82.0, 80.0]


def test_typed_anew_on_the_phone_it_corrects_what_was_stored_and_else_changes_nothing(
    client: FlaskClient, scene: Scene
) -> None:
    send(client, weight="82.0", key="first")
    send(client, weight="81.0", key="first")
    assert [row[1] for row in rows(scene)] == [82.0], "an entry is never changed unasked"
    for _time in range(2):
        send(client, weight="81.0", key="first", again="1")
    assert [row[1] for row in rows(scene)] == [81.0]
    db = sqlite3.connect(scene.path)
    assert db.execute("select count(*) from edit").fetchone() == (1,)
    db.close()


def test_a_key_of_another_stick_loses_nothing_silently(client: FlaskClient, scene: Scene) -> None:
    send(client, "A1", weight="82.0", key="one")
    answer = send(client, "A2", weight="79.0", key="one")
    assert answer.status_code == 422
    assert "number was used for another stick" in answer.get_data(as_text=True)
    assert [row[0] for row in rows(scene)] == ["A1"]


def photos(scene: Scene) -> list[tuple[str, str]]:
    """Return of which entry each photo is, and its caption."""
    db = sqlite3.connect(scene.path)
    try:
        return db.execute("select of_key, caption from photo").fetchall()
    finally:
        db.close()


def test_a_photo_comes_with_its_weight_once_and_a_broken_one_does_not_cost_the_weight(
    client: FlaskClient, scene: Scene
) -> None:
    taken = BytesIO()
    Image.effect_noise((64, 48), 80).convert("RGB").save(taken, "JPEG")
    for _time in range(2):
        form = {"photo": (BytesIO(taken.getvalue()), "a.jpg")}
        send(client, "A1", weight="82.0", key="one", **form)
    assert photos(scene) == [("one", "A1")]
    form = {"photo": (BytesIO(taken.getvalue()), "a.jpg")}
    sent = {"key": "one", "csrf_token": token(client, "/inspect"), **form}
    assert client.post("/inspect/A1/photo", data=sent).status_code == 200
    assert photos(scene) == [("one", "A1")]
    for tail in ("", "?part=card"):
        sent = {"key": "two", "weight": "79.0", "csrf_token": token(client, "/inspect")}
        broken = {**sent, "photo": (BytesIO(b"no photo"), "b.jpg")}
        html = client.post(f"/inspect/A2{tail}", data=broken).get_data(as_text=True)
        assert "The weight is stored, its photo is not" in html
        assert "Saved. 79.0 g" in html
    assert [row[:2] for row in rows(scene)] == [("A1", 82.0), ("A2", 79.0)]
    alone = {
        "key": "none",
        "csrf_token": token(client, "/inspect"),
        "photo": (BytesIO(b"x"), "c.jpg"),
    }
    answer = client.post("/inspect/A3/photo", data=alone)
    assert answer.status_code == 400
    assert "is not here" in answer.get_data(as_text=True)


def test_undone_within_ten_minutes_it_counts_no_more_and_is_not_stored_again(
    client: FlaskClient, scene: Scene
) -> None:
    html = send(client, weight="82.0", key="first").get_data(as_text=True)
    assert "Undo" in html
    undo = {"key": "undo", "of": "first", "csrf_token": token(client, "/inspect")}
    scene.clock.move(599)
    html = client.post("/inspect/A1/undo?part=card", data=undo).get_data(as_text=True)
    assert "Saved." not in html
    assert 'name="weight"' in html
    assert rows(scene) == []
    again = send(client, weight="82.0", key="first")
    assert 'data-stored="first"' in again.get_data(as_text=True)
    assert rows(scene) == []
    assert client.post("/inspect/A1/undo?part=card", data=undo).status_code == 400


def test_after_ten_minutes_it_is_corrected_with_a_reason_instead(
    client: FlaskClient, scene: Scene
) -> None:
    send(client, weight="82.0", key="first")
    scene.clock.move(601)
    assert "Undo" not in client.get("/inspect").get_data(as_text=True)
    undo = {"key": "undo", "of": "first", "csrf_token": token(client, "/inspect")}
    answer = client.post("/inspect/A1/undo?part=card", data=undo)
    assert answer.status_code == 400
    assert "older than ten minutes" in answer.get_data(as_text=True)
    assert len(rows(scene)) == 1


def test_only_who_is_logged_in_may_send_and_the_token_says_so(scene: Scene) -> None:
    stranger, keeper = scene.client(), scene.client(logged_in=True)
    assert stranger.get("/inspect/token").get_json()["logged_in"] is False
    fresh = stranger.get("/inspect/token").get_json()["token"]
    for path in ("/inspect/A1", "/inspect/A1/skip", "/inspect/A1/undo", "/inspect/A1/photo"):
        assert stranger.post(path, data={"csrf_token": fresh, "weight": "82"}).status_code == 403
    told = keeper.get("/inspect/token")
    assert told.headers["Cache-Control"] == "no-store"
    assert told.get_json()["logged_in"] is True
    sent = {"csrf_token": told.get_json()["token"], "weight": "82.0", "key": "k"}
    assert keeper.post("/inspect/A1?part=card", data=sent).status_code == 200
    stale = {**sent, "key": "other", "csrf_token": fresh}
    assert keeper.post("/inspect/A1?part=card", data=stale).status_code == 400
    assert len(rows(scene)) == 1


# An avoirdupois pound is 453.59237 g and an ounce a sixteenth of it (NIST Handbook 44, app. C).
@pytest.mark.parametrize(
    ("typed", "grams", "ounces_g"),
    [
        ("71.4", 71.4, 71.4 * 453.59237 / 16),
        ("  71,4", 71.4, 71.4 * 453.59237 / 16),
        ("71.4 g", 71.4, 71.4),
        ("71.4G", 71.4, 71.4),
        ("ST,GS,  71.4 g", 71.4, 71.4),
        ("ST,NT,+0071.4  g", 71.4, 71.4),
        ("GS 2.519 oz", 2.519 * 453.59237 / 16, 2.519 * 453.59237 / 16),
        ("0.0714 kg", 71.4, 71.4),
        ("0.157 lb", 0.157 * 453.59237, 0.157 * 453.59237),
    ],
)
def test_a_scale_s_line_is_read_in_its_own_unit(typed: str, grams: float, ounces_g: float) -> None:
    assert weight_read_g(typed, Units()) == pytest.approx(grams, rel=1e-12)
    assert weight_read_g(typed, Units(weight=WeightUnit.OUNCE)) == pytest.approx(
        ounces_g, rel=1e-12
    )
    assert pytest.approx(453.59237 / 16, rel=1e-12) == GRAMS_PER_OUNCE


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("US,GS,  71.4 g", "had not come to rest"),
        ("OL", "digits"),
        ("OL 99999", "overloaded"),
        ("ST,TR, 12.0 g", "tare"),
        ("QT 12", "counts pieces"),
        ("XY 12", "XY, which says nothing known"),
        ("ST,GS, -0.4 g", "above zero"),
        ("71.4 ml", "digits"),
        ("1.234,5 g", "both a comma and a point"),
        ("", "Enter a weight"),
    ],
)
def test_what_a_scale_says_of_no_weight_is_refused_in_words(typed: str, said: str) -> None:
    with pytest.raises(InputError, match=re.escape(said)):
        weight_read_g(typed, Units())


def test_the_scene_s_now_is_what_these_times_count_from() -> None:
    assert START.isoformat() == "2026-11-26T14:52:04+00:00"
