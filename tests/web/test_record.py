"""A batch's record on paper and in files: whole, told apart by its sum, harmless in a spreadsheet."""

import csv
import hashlib
import io
import json
import re
import zipfile
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from web.recorded import recorded
from web.scenario import Scene

from hangroom.alarm_table.log import AlarmEvent
from hangroom.alarm_table.row import AlarmId
from hangroom.alarm_table.titles import TITLES
from hangroom.alarm_table.words import Event, Suppression, Tell
from hangroom.store.batches import batch
from hangroom.store.database import connect, prepare_database
from hangroom.store.record.edits import Kept, correct
from hangroom.store.record.restoring import restore
from hangroom.store.record.tables import TABLES, columns_of_table
from hangroom.store.record.whole import batch_record
from hangroom_web.batch_view.paper import css_string, page_rules

SUM = re.compile(r"Data, SHA-256: ([0-9a-f]{64})")


@pytest.fixture
def client(scene: Scene) -> FlaskClient:
    recorded(scene)
    return scene.client()


def printed(client: FlaskClient, query: str = "") -> str:
    answer = client.get(f"/batches/1/record{query}")
    assert answer.status_code == 200
    return answer.get_data(as_text=True)


def sum_of(client: FlaskClient) -> str:
    found = SUM.search(printed(client))
    assert found is not None
    return found[1]


def as_json(client: FlaskClient) -> dict[str, object]:
    document: dict[str, object] = json.loads(client.get("/batches/1/record.json").data)
    return document


@pytest.mark.parametrize(
    "part",
    [
        pytest.param("SAMPLE: every figure of this batch is invented.", id="sample"),
        pytest.param("America/New_York", id="zone"),
        pytest.param("Juniper, mustard seed and pepper", id="recipe"),
        pytest.param("153.6 ppm", id="curing sum"),
        pytest.param("curing salt x nitrite % of its label", id="formula"),
        pytest.param("Checked by Ben (invented)", id="second person"),
        pytest.param("2026-11-24 01:30 to 02:30 (1 h)", id="a step's times"),
        pytest.param("Readings, Cook, whole batch, 2026-11-24", id="cook's table"),
        pytest.param("Pulled 2026-11-26 06:52.", id="pull"),
        pytest.param("holds itself up, moist", id="tasting"),
        pytest.param("a white speck, wiped off", id="look"),
        pytest.param("pen meter, checked in pH 7 and 4", id="measurement"),
        pytest.param("FDA Food Code 2009 to 2022, 1-201.10(B)", id="a source"),
        pytest.param("<td>2446.0 g</td><td>2464.0 g</td>", id="a correction with its old value"),
        pytest.param("What would change it:", id="what would change a warm room"),
    ],
)
def test_the_printed_record_has(client: FlaskClient, part: str) -> None:
    assert part in printed(client)


def test_every_weight_is_on_paper(client: FlaskClient, scene: Scene) -> None:
    html = printed(client)
    db = connect(scene.path)
    found = batch(db, 1)
    db.close()
    assert found is not None
    weights = [
        f"{look.weight_g:.1f} g"
        for group in found.groups
        for stick in group.tagged
        for look in stick.weigh_ins
    ]
    assert len(weights) == 5
    assert all(weight in html for weight in weights)


def test_the_rooms_alarms_of_that_time_stand_in_it_and_no_others(
    client: FlaskClient, scene: Scene
) -> None:
    def event(room: str, alarm: AlarmId) -> tuple[str, AlarmEvent]:
        return room, AlarmEvent(
            sequence=1,
            at=scene.clock.now(),
            uptime_s=0.0,
            alarm=alarm,
            event=Event.ACKNOWLEDGED,
            tell=Tell.NOTHING,
            suppression=Suppression.NONE,
            occurrences=1,
            by="Ada",
        )

    scene.clock.move(-3600)
    scene.log(
        event("room closet", AlarmId.HUMIDITY_HIGH), event("room fridge", AlarmId.HUMIDITY_LOW)
    )
    scene.clock.move(3600)
    part = printed(client).split("4. Where it hung")[1].split("5. Weights and looks")[0]
    assert "acknowledged by Ada" in part
    assert TITLES[AlarmId.HUMIDITY_HIGH] in part
    assert TITLES[AlarmId.HUMIDITY_LOW] not in part


def test_the_sum_stays_the_same_until_something_is_entered_or_corrected(
    client: FlaskClient, scene: Scene
) -> None:
    first = sum_of(client)
    scene.clock.move(3 * 86_400)
    assert sum_of(client) == first
    db = connect(scene.path)
    correct(
        db,
        Kept.WEIGH_IN,
        "wednesdayA1",
        {"note": "read again"},
        key="later",
        by="Ada",
        now=scene.clock.now(),
    )
    db.close()
    assert sum_of(client) != first


def test_the_sum_is_that_of_the_tables_in_the_json_file(client: FlaskClient) -> None:
    document = as_json(client)
    plain = json.dumps(
        document["tables"], sort_keys=True, ensure_ascii=False, separators=(",", ":")
    )
    assert document["sha256"] == hashlib.sha256(plain.encode()).hexdigest() == sum_of(client)


def test_the_json_file_has_this_batch_alone_and_can_be_taken_in(
    client: FlaskClient, scene: Scene, tmp_path: Path
) -> None:
    document = as_json(client)
    folder = tmp_path / "empty"
    folder.mkdir()
    there = connect(prepare_database(folder))
    restore(there, document)
    here = connect(scene.path)
    assert batch_record(there, 1) == batch_record(here, 1)
    assert there.execute("select count(*) from batch").fetchone() == (1,)
    here.close()
    there.close()


def test_the_tables_have_one_file_each_with_this_batchs_rows(
    client: FlaskClient, scene: Scene
) -> None:
    with zipfile.ZipFile(io.BytesIO(client.get("/batches/1/record.zip").data)) as packed:
        files = {name: packed.read(name).decode("utf-8-sig") for name in packed.namelist()}
    assert set(files) == {f"{table}.csv" for table in TABLES}
    rows = list(csv.DictReader(io.StringIO(files["weigh_in.csv"])))
    assert {row["batch"] for row in rows} == {"1"}
    assert {row["stick"] for row in rows} == {"A1", "A2", "A3", "B1", "B2", "B3"}
    db = connect(scene.path)
    columns = columns_of_table(db, "weigh_in")
    db.close()
    pointers = {column.written for column in columns if column.points_at}
    assert {column.written for column in columns} - pointers <= set(rows[0])


@pytest.mark.parametrize("hostile", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1"])
def test_a_text_that_a_spreadsheet_would_run_is_made_harmless(
    client: FlaskClient, scene: Scene, hostile: str
) -> None:
    db = connect(scene.path)
    db.execute("update weigh_in set note = ? where key = 'wednesdayA1'", (hostile,))
    db.close()
    with zipfile.ZipFile(io.BytesIO(client.get("/batches/1/record.zip").data)) as packed:
        text = packed.read("weigh_in.csv").decode("utf-8-sig")
    (note,) = [
        r["note"]
        for r in csv.DictReader(io.StringIO(text, newline=""))
        if r["key"] == "wednesdayA1"
    ]
    assert note == f"'{hostile}"


@pytest.mark.parametrize(
    ("asked", "size"), [("", "A4"), ("?paper=letter", "letter"), ("?paper=x", "A4")]
)
def test_the_paper_is_a4_or_letter(client: FlaskClient, asked: str, size: str) -> None:
    css = client.get(f"/batches/1/record/page.css{asked}")
    assert css.mimetype == "text/css"
    assert f"@page {{ size: {size};" in css.get_data(as_text=True)
    assert f"page.css?paper={size}" in printed(client, asked)


def test_a_name_cannot_end_the_rule_it_stands_in() -> None:
    hostile = '"; } body { display: none } /* \\ \n </style>'
    rules = page_rules("A4", top_left=hostile, top_right="", bottom_left="")
    assert rules.count("}") == 5
    assert not set('"{};\n<') & set(css_string(hostile)[1:-1])
    # CSS Syntax 3, 4.3.7: a backslash, the code point in hex, and a space.
    assert css_string('é"') == '"\\e9 \\22 "'


@pytest.mark.parametrize("part", ["record", "record/page.css", "record.json", "record.zip"])
def test_a_batch_that_is_not_there_has_none(client: FlaskClient, part: str) -> None:
    assert client.get(f"/batches/99/{part}").status_code == 404


def test_a_record_says_nothing_of_safety(client: FlaskClient) -> None:
    assert "safe" not in printed(client).lower()
