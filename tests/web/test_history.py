"""The page, the JSON, the table and the files of a room's past, against the raw rows."""

import csv
import gzip
import io
import json
import re
import sqlite3
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from html import unescape
from typing import Any
from xml.etree import ElementTree as ET

import pytest
from flask.testing import FlaskClient
from hypothesis import given, settings
from hypothesis import strategies as st
from markupsafe import Markup
from web.daemon import Daemon
from web.scenario import START, Scene, token

from hangroom.alarm_table.log import AlarmEvent
from hangroom.alarm_table.row import AlarmId
from hangroom.alarm_table.words import Event, Suppression, Tell
from hangroom.store.journal import Journal
from hangroom.store.moments import to_ms
from hangroom.terms import AirReading, Calibration
from hangroom_web.api.history import MOST_DRAWN

PAGE, TABLE = "/rooms/closet/history", "/rooms/closet/history/table"
JSON, CSV = "/api/v1/rooms/closet/history", "/rooms/closet/history.csv"
READINGS = "/rooms/closet/readings.csv"


def raw(scene: Scene, sensor: str = "rail") -> list[tuple[float, float, float]]:
    """Seconds since 1970, degC and %RH of every row, read past the program."""
    with sqlite3.connect(scene.path) as db:
        return [
            (taken_ms / 1000, celsius, pct)
            for taken_ms, celsius, pct in db.execute(
                "select taken_ms, temperature_c, humidity_pct from reading"
                " join sensor on sensor.id = sensor_id where name = ? order by taken_ms",
                (sensor,),
            )
        ]


def told(client: FlaskClient, asked: str = "") -> dict[str, Any]:
    answer = client.get(f"{JSON}{asked}")
    assert answer.status_code == 200, answer.get_data(as_text=True)
    body: dict[str, Any] = answer.get_json()
    return body


def seconds(moment: str) -> float:
    return datetime.fromisoformat(moment).timestamp()


@pytest.mark.parametrize("asked", ["?range=6h", "", "?range=7d", "?range=30d", "?points=1440"])
def test_each_stretch_has_the_lowest_and_highest_of_its_rows(scene: Scene, asked: str) -> None:
    body, rows = told(scene.client(), asked), raw(scene)
    since, long_s = seconds(body["since"]), body["stretch_s"]
    stretches = len(body["readings"])
    assert stretches <= (1440 if "points" in asked else MOST_DRAWN)
    seen = 0
    for place in range(stretches):
        start = since + place * long_s
        inside = [row for row in rows if start <= row[0] < start + long_s]
        seen += len(inside)
        assert body["readings"][place] == len(inside)
        for key, column in (("temperature", 1), ("humidity", 2)):
            values = [row[column] for row in inside]
            low, mean, high = (body[key][name][place] for name in ("lowest", "mean", "highest"))
            if not values:
                assert (low, mean, high) == (None, None, None)
                continue
            # The JSON gives hundredths.
            assert low == pytest.approx(min(values), abs=0.005001)
            assert mean == pytest.approx(sum(values) / len(values), abs=0.005001)
            assert high == pytest.approx(max(values), abs=0.005001)
    assert seen == len([row for row in rows if row[0] >= since])


def test_a_gap_is_null_and_named_with_its_reason(scene: Scene) -> None:
    """The household's controller was off from two to four at night, New York time."""
    body = told(scene.client())
    gaps = [gap for gap in body["gaps"] if gap["controller_off"]]
    assert [(gap["since"][11:16], gap["until"][11:16]) for gap in gaps] == [("01:58", "04:00")]
    assert gaps[0]["said"] == "No readings from 01:58 to 04:00. The controller was off."
    since = seconds(body["since"])
    start = round((seconds(gaps[0]["since"]) - since) / body["stretch_s"])
    end = round((seconds(gaps[0]["until"]) - since) / body["stretch_s"])
    for key in ("temperature", "humidity"):
        assert set(body[key]["mean"][start:end]) == {None}
    # The controller ran on for a few seconds of the first stretch.
    assert set(body["relays"]["humidifier"][start + 1 : end]) == {None}
    assert gaps[0]["said"] in scene.client().get(PAGE).get_data(as_text=True)


def test_the_rest_up_to_now_is_a_gap_and_the_axis_goes_on(scene: Scene) -> None:
    scene.clock.move(3 * 3600)
    body = told(scene.client())
    assert seconds(body["until"]) == scene.clock.now().timestamp()
    assert body["gaps"][-1]["until"] == body["until"]
    assert body["temperature"]["mean"][-1] is None
    page = scene.client().get(PAGE).get_data(as_text=True)
    assert "No readings since 09:50. The controller was off." in page
    # What was not written yet is not missing.
    scene.clock.move(-3 * 3600)
    assert told(scene.client())["gaps"][-1]["until"] != told(scene.client())["until"]


def test_no_number_stands_where_nothing_was_read(scene: Scene) -> None:
    answer = scene.client().get(f"{PAGE}?since=2025-01-01T00:00:00Z&until=2025-01-02T00:00:00Z")
    page = answer.get_data(as_text=True)
    assert "No readings in this time." in page
    assert "Temperature: no reading." in page
    assert 'class="spread' not in page


def test_a_household_that_is_new_here_is_not_told_that_anything_was_off(scene: Scene) -> None:
    """Its first run began a day ago, with its first reading."""
    page = scene.client().get(f"{PAGE}?range=7d").get_data(as_text=True)
    assert "The record begins Wed 25 Nov 09:52." in page
    assert page.count("The controller was off.") == 2  # of the night, beside the picture and in it


def picture(scene: Scene, asked: str = "") -> ET.Element:
    page = scene.client().get(f"{PAGE}{asked}").get_data(as_text=True)
    start = page.index('<svg class="day history"')
    return ET.fromstring(page[start : page.index("</svg>", start) + 6])  # noqa: S314 - our own


def test_the_picture_without_script_bridges_no_gap(scene: Scene) -> None:
    """Each curve is in two pieces, and the hatched gap lies between them."""
    drawn = picture(scene)
    paths = {
        kind: [p.get("d", "") for p in drawn.iter("path") if p.get("class") == kind]
        for kind in ("mean t", "spread h", "gap")
    }
    # The first line of a mean is its sample in the heading or follows the curves; it is short.
    curves = [d for d in paths["mean t"] if len(d) > 40]
    assert len(curves) == 2
    assert len(paths["spread h"]) == 2
    (gap,) = paths["gap"]
    left = float(gap[1:].split(" ")[0])
    width = float(gap.split("h")[1].split("V")[0])
    first_starts, second_starts = (float(d[1:].split(" ")[0]) for d in curves)
    assert first_starts < left
    assert second_starts == pytest.approx(left + width, abs=0.11)
    assert drawn.get("role") == "img"
    assert "The controller was off" in (drawn.get("aria-label") or "")


def test_the_relays_are_told_by_share(scene: Scene) -> None:
    """The humidifier is on where a sine is below -0.75, which is 23 % of its turn."""
    body = told(scene.client())
    shares = [share for share in body["relays"]["humidifier"] if share is not None]
    assert 100 * sum(shares) / len(shares) == pytest.approx(23.0, abs=2.0)
    assert "Humidifier on 23 % of the time." in scene.client().get(PAGE).get_data(as_text=True)


def test_what_was_wanted_is_told_for_as_long_as_it_was(scene: Scene, daemon: Daemon) -> None:
    daemon._journal.begin_ticks(start_uptime_s=scene.clock.uptime_s(), tick_s=2.0)
    daemon.note_plans()
    scene.clock.move(3600)
    daemon.answer()
    scene.report()
    body = told(scene.client(), "?range=6h")
    (wanted,) = body["wanted"]
    assert (wanted["humidity_pct"], wanted["humidity_band_pct"]) == (76.0, 3.0)
    assert wanted["temperature_c"] is None
    assert wanted["since"][11:19] == "09:52:04"
    assert wanted["until"] == body["until"]
    assert body["drawn"]["humidity"]["bands_s"][0][2:] == [73.0, 76.0, 79.0]


def test_humidity_is_shown_with_the_calibration_that_held_at_the_time(
    scene: Scene, daemon: Daemon
) -> None:
    """Gain * read + offset from the moment on that control goes by it, and not before."""
    daemon._journal.begin_ticks(start_uptime_s=scene.clock.uptime_s(), tick_s=2.0)
    checked = Calibration(gain_ratio=1.1, offset_pct=-5.0, checked_at=scene.clock.now())
    daemon.plans["closet"] = replace(daemon.plans["closet"], calibrations={"rail": checked})
    daemon.note_plans()
    for minutes in range(0, 60, 2):
        at = scene.clock.now() + timedelta(minutes=minutes)
        reading = AirReading(taken_at=at, taken_uptime_s=1.0, temperature_c=13.0, humidity_pct=70.0)
        daemon._journal.note_reading("closet", "rail", reading, seen_uptime_s=1.0)
    scene.clock.move(3600)
    daemon.answer()
    scene.report()
    body = told(scene.client(), "?range=6h")
    assert body["humidity"]["corrected"] is True
    assert body["humidity"]["mean"][-5] == pytest.approx(1.1 * 70.0 - 5.0)
    rows, since = raw(scene), seconds(body["since"])
    first = [row[2] for row in rows if since <= row[0] < since + body["stretch_s"]]
    assert body["humidity"]["lowest"][0] == pytest.approx(min(first), abs=0.005001)
    page = unescape(scene.client().get(PAGE).get_data(as_text=True))
    assert "Humidity with the sensor's calibration." in page


@pytest.mark.usefixtures("daemon")
def test_what_happened_is_marked_and_listed(scene: Scene) -> None:
    """By the page's own forms, as the daemon notes them."""
    client = scene.client(logged_in=True)
    for path, form in (
        ("/rooms/closet/door", {"for_s": "900"}),
        ("/rooms/closet/humidity", {"setpoint": "78"}),
        ("/rooms/closet/stage", {"stage": "rest", "hours": "2", "then": "hang"}),
    ):
        form |= {"csrf_token": token(client, "/login"), "key": path}
        assert client.post(path, data=form).status_code == 303, path
    scene.log(
        (
            "room closet",
            AlarmEvent(
                sequence=1,
                at=scene.clock.now(),
                uptime_s=1.0,
                alarm=AlarmId.HUMIDITY_HIGH,
                event=Event.ACTIVATED,
                tell=Tell.ANNUNCIATE,
                suppression=Suppression.NONE,
                occurrences=1,
                by="",
                reason="",
                figures={},
            ),
        )
    )
    scene.clock.move(120)
    marks = {mark["kind"]: mark["said"] for mark in told(client, "?range=7d")["marks"]}
    assert marks == {
        "inspection": "6 sticks of batch 1 weighed: A1, A2, A3, B1, B2, B3",
        "door": "opened, by Ada",
        "setpoint": "humidity 78 %, by Ada",
        "stage": "hang to rest, by Ada",
        "alarm": "Too humid",
    }
    page = client.get(f"{PAGE}?range=7d").get_data(as_text=True)
    for kind, said in marks.items():
        assert said in page
        assert f"<strong>{kind.title()}</strong>" in page
    shapes = {
        path.get("d")
        for path in picture(scene, "?range=7d").iter("path")
        if (path.get("class") or "").startswith("event")
    }
    assert len(shapes) == 5


def test_temperatures_are_shown_in_the_keepers_unit_and_told_in_si(scene: Scene) -> None:
    celsius = told(scene.client())
    scene.units = {"temperature": "F"}
    fahrenheit = told(scene.client())
    assert fahrenheit["temperature"]["highest"] == celsius["temperature"]["highest"]
    assert fahrenheit["drawn"]["temperature"]["unit"] == "°F"
    highest = max(v for v in celsius["temperature"]["highest"] if v is not None)
    page = scene.client().get(PAGE).get_data(as_text=True)
    # 1 degC is 9/5 degF, 0 degC is 32 degF: by definition (BIPM, SI brochure, 9th ed., 2.3.1).
    assert f"to {highest * 9 / 5 + 32:.1f} °F" in page
    row = scene.client().get(CSV).get_data(as_text=True).splitlines()[0]
    assert "highest temperature (°F)" in row


WRONG = [
    ("?range=7days", "`range` must be one of 6h, 24h, 7d, 30d, batch."),
    ("?points=0", "`points` must be a whole number from 10 to 1440."),
    ("?points=9999999999", "`points` must be a whole number"),
    ("?points=²", "`points` must be a whole number"),
    ("?end=yesterday", "`end` must be a time such as"),
    ("?end=2026-11-26T09:00:00", "`end` must be a time such as"),
    ("?end=0001-01-01T00:00:00Z", "`end` must be a time such as"),
    ("?since=2026-11-26T09:00:00Z", "`until` must be a time such as"),
    ("?since=2026-11-26T09:00:00Z&until=2026-11-25T09:00:00Z", "`until` must be later"),
    ("?since=2027-11-26T09:00:00Z&until=2028-11-25T09:00:00Z", "has not come yet"),
    ("?since=2001-11-26T09:00:00Z&until=2026-11-25T09:00:00Z", "longer than 8 years"),
    ("?sensor=nose", "There is no such sensor here. These are known: rail."),
    ("?range=batch&batch=77", "did not hang in this room. These did: 1."),
]


def test_what_cannot_be_asked_is_answered_in_words(scene: Scene) -> None:
    client = scene.client()
    for asked, said in WRONG:
        answer = client.get(f"{JSON}{asked}")
        assert answer.status_code == 422, asked
        assert said in answer.get_json()["fault"], asked
        page = client.get(f"{PAGE}{asked}")
        assert page.status_code == 422, asked
        assert str(Markup.escape(said)) in page.get_data(as_text=True), asked
        assert client.get(f"{CSV}{asked}").status_code == 400, asked


MOMENTS = st.one_of(
    st.text(max_size=12),
    st.datetimes(timezones=st.timezones()).map(lambda moment: moment.isoformat()),
    st.sampled_from(["2026-11-26T09:30:00Z", "2000-01-01T00:00:00Z", "2200-01-01T00:00:00-12:00"]),
)
ANYTHING = st.fixed_dictionaries(
    {},
    optional={
        "range": st.one_of(st.sampled_from(["6h", "24h", "7d", "30d", "batch"]), st.text()),
        **dict.fromkeys(("end", "since", "until"), MOMENTS),
        "batch": st.one_of(st.sampled_from(["1", "2"]), st.text(max_size=8)),
        "points": st.one_of(st.integers(-5, 2000).map(str), st.text(max_size=8)),
        "sensor": st.one_of(st.just("rail"), st.text(max_size=12)),
    },
)


def test_whatever_is_asked_is_answered_or_refused(scene: Scene) -> None:
    client = scene.client()

    @settings(max_examples=50, deadline=None)
    @given(asked=ANYTHING)
    def ask(asked: dict[str, str]) -> None:
        answer = client.get(JSON, query_string=asked)
        assert answer.status_code in {200, 422}
        assert client.get(PAGE, query_string=asked).status_code == answer.status_code
        body = answer.get_json()
        if answer.status_code == 422:
            assert body["fault"].endswith(".")
            return
        assert len(body["readings"]) <= 1440
        assert seconds(body["since"]) < seconds(body["until"]) <= START.timestamp()

    ask()


def test_a_strangers_room_is_not_there(scene: Scene) -> None:
    assert scene.client().get("/api/v1/rooms/attic/history").status_code == 404
    for path in (PAGE, TABLE, CSV, READINGS):
        assert scene.client().get(path.replace("closet", "attic")).status_code == 404


def test_without_a_database_it_says_so(scene: Scene) -> None:
    for file in scene.folder.glob("hangroom.db*"):
        file.unlink()
    assert scene.client().get(JSON).status_code == 503
    assert "There is no database" in scene.client().get(PAGE).get_data(as_text=True)


def test_earlier_and_later_lead_there_and_back(scene: Scene) -> None:
    client = scene.client()
    page = client.get(f"{PAGE}?range=6h").get_data(as_text=True)
    assert ">Later<" not in page
    (earlier,) = re.findall(rf'href="({PAGE}[^"]*end=[^"]*)">Earlier<', page)
    before = client.get(unescape(earlier)).get_data(as_text=True)
    # Six hours before 09:52, up to a whole stretch: from 21:52 the day before.
    assert "Wed 25 Nov 21:52 to today 03:" in before
    (later,) = re.findall(rf'href="({PAGE}[^"]*)">Later<', before)
    assert unescape(later) == f"{PAGE}?range=6h"


def test_a_batch_is_shown_for_as_long_as_it_hung(scene: Scene) -> None:
    body = told(scene.client(), "?range=batch")
    hung = datetime(2026, 11, 24, 14, 0, tzinfo=UTC).timestamp()
    assert 0 <= hung - seconds(body["since"]) < body["stretch_s"]
    assert seconds(body["until"]) == START.timestamp()
    page = scene.client().get("/batches/1").get_data(as_text=True)
    assert f'href="{PAGE}?range=batch&amp;batch=1"' in page


def test_the_file_holds_the_same_as_the_picture(scene: Scene) -> None:
    answer = scene.client().get(CSV)
    assert answer.mimetype == "text/csv"
    rows = list(csv.reader(io.StringIO(answer.get_data(as_text=True))))
    body = told(scene.client(), "?points=1440")
    assert rows[0][:4] == ["start", "sensor", "readings", "lowest temperature (°C)"]
    assert len(rows) - 1 == len(body["readings"])
    first = datetime.fromisoformat(rows[1][0])
    assert first.utcoffset() == timedelta(hours=-5)
    assert first.timestamp() == seconds(body["since"])
    empty = [row for row in rows[1:] if row[2] == "0"]
    assert empty
    assert all(row[3:9] == [""] * 6 for row in empty)


def test_every_reading_is_in_the_other_file(scene: Scene) -> None:
    answer = scene.client().get(READINGS, headers={"Accept-Encoding": "gzip"})
    assert answer.headers["Content-Encoding"] == "gzip"
    text = gzip.decompress(answer.get_data()).decode()
    rows = list(csv.reader(io.StringIO(text)))
    assert rows[0] == ["taken", "sensor", "temperature (°C)", "humidity as read (%RH)"]
    kept = raw(scene)
    assert len(rows) - 1 == len(kept)
    for row, (taken_s, celsius, pct) in zip(rows[1:], kept, strict=True):
        assert datetime.fromisoformat(row[0]).timestamp() == int(taken_s)
        assert (float(row[2]), float(row[3])) == (round(celsius, 2), round(pct, 2))


def test_a_sensors_name_is_never_run_by_a_spreadsheet(scene: Scene) -> None:
    """Names come from a file that a person writes; a cold reading stays a number."""
    journal = Journal(scene.path)
    now = scene.clock.now()
    journal.start({"closet": ["=1+1"]}, boot_id="b", version="0", now=now)
    reading = AirReading(
        taken_at=now - timedelta(minutes=1),
        taken_uptime_s=1.0,
        temperature_c=-3.25,
        humidity_pct=70.0,
    )
    journal.note_reading("closet", "=1+1", reading, seen_uptime_s=1.0)
    journal.flush(now=now)
    journal.close()
    text = scene.client().get(f"{READINGS}?sensor=%3D1%2B1").get_data(as_text=True)
    assert text.splitlines()[1].split(",")[1:] == ["'=1+1", "-3.25", "70.0"]


def test_the_sensor_that_control_goes_by_comes_first(scene: Scene) -> None:
    with sqlite3.connect(scene.path) as db:
        db.execute("insert into sensor (room_id, name) values (1, 'attached')")
        number = db.execute("select id from sensor where name = 'attached'").fetchone()[0]
        db.execute(
            "insert into reading (sensor_id, taken_ms, uptime_ms, temperature_c, humidity_pct)"
            " values (?, ?, 0, 30.0, 20.0)",
            (number, to_ms(START - timedelta(hours=1))),
        )
    assert told(scene.client())["sensor"] == "rail"
    other = told(scene.client(), "?sensor=attached")
    assert [v for v in other["temperature"]["mean"] if v is not None] == [30.0]
    page = scene.client().get(PAGE).get_data(as_text=True)
    assert 'sensor=attached">attached<' in page


def test_the_air_outside_can_be_looked_at_too(scene: Scene) -> None:
    journal = Journal(scene.path)
    now = scene.clock.now()
    journal.start({"outside": ["porch"]}, boot_id="b", version="0", now=now)
    reading = AirReading(
        taken_at=now - timedelta(hours=2), taken_uptime_s=1.0, temperature_c=4.0, humidity_pct=88.0
    )
    journal.note_reading("outside", "porch", reading, seen_uptime_s=1.0)
    journal.flush(now=now)
    journal.close()
    body = told(scene.client(), "?sensor=outside.porch")
    assert body["outside"] is True
    assert [v for v in body["humidity"]["mean"] if v is not None] == [88.0]
    assert "porch, outside" in scene.client().get(PAGE).get_data(as_text=True)


def test_the_table_has_a_row_for_each_stretch_newest_first(scene: Scene) -> None:
    page = scene.client().get(TABLE).get_data(as_text=True)
    rows = page.split("<tr>")[3:]
    assert 80 <= len(rows) <= 100
    assert '<th scope="row">09:45</th>' in rows[0]
    gap = next(row for row in rows if ">03:00<" in row)
    assert gap.count("<td></td>") == 8


def test_room_and_controls_lead_there(scene: Scene) -> None:
    for path in ("/", "/rooms/closet"):
        assert f'href="{PAGE}"' in scene.client().get(path).get_data(as_text=True)


def test_the_answer_of_a_phone_is_small(scene: Scene) -> None:
    """What a phone 390 px wide asks for, packed as it travels."""
    answer = scene.client().get(f"{JSON}?points=324", headers={"Accept-Encoding": "gzip"})
    assert answer.headers["Content-Encoding"] == "gzip"
    assert len(answer.get_data()) < 12_000
    assert json.loads(gzip.decompress(answer.get_data()))["room"] == "closet"
