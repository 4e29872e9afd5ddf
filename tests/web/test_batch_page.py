"""The page of one batch: every part of its record is on it, and what is missing is said to be."""

import re

import pytest
from flask.testing import FlaskClient
from web.recorded import recorded
from web.scenario import START, Scene

from hangroom.product.findings import Answer
from hangroom.store.batch_facts import NewGroup
from hangroom.store.batches import add_batch
from hangroom.store.database import connect
from hangroom.store.record.recipe import LineKind, RecipeLine, add_recipe_lines


@pytest.fixture
def client(scene: Scene) -> FlaskClient:
    recorded(scene)
    return scene.client()


@pytest.fixture
def html(client: FlaskClient) -> str:
    return client.get("/batches/1").get_data(as_text=True)


def test_recipe_and_sums_stand_there_with_who_worked_and_who_checked_them(html: str) -> None:
    # 5.7 g of 6.25 % salt on 2320 g of meat: 5.7 x 0.0625 x 1e6 / 2320.
    assert f"{5.7 * 0.0625 * 1e6 / 2320:.1f} ppm" in html
    assert "Worked by Ann (invented)" in html
    assert "Checked by Ben (invented)" in html
    assert "Juniper, mustard seed and pepper" in html


def test_sums_that_nobody_checked_are_said_to_be_unchecked(scene: Scene) -> None:
    recorded(scene)
    db = connect(scene.path)
    db.execute("update frozen_sums set checked_ms = null, checked_by = null")
    db.close()
    html = scene.client().get("/batches/1").get_data(as_text=True)
    assert "<strong>Not checked by a second person.</strong>" in html


def test_the_way_shows_each_step_as_done_going_on_or_not_noted(html: str) -> None:
    way = html.split('<ol class="way">')[1].partition("</ol>")[0]
    states = re.findall(r'data-state="(\w+)"><p><strong>([^<]+)', way)
    assert ("done", "Smoke at 60.0 °C") in states
    assert ("done", "Pull group A") in states
    assert ("now", "Hang group B in Closet") in states
    assert "open" not in {state for state, _title in states}


def test_usual_steps_that_nobody_noted_stand_there_as_open(scene: Scene) -> None:
    html = scene.client().get("/batches/1").get_data(as_text=True)
    open_ones = re.findall(r'data-state="open"><p><strong>([^<]+)', html)
    assert open_ones == ["Mix and cure", "Casing dry", "Smoke", "Cook", "Chill"]


def test_hours_of_low_heat_come_with_the_trades_advice_and_its_standing(html: str) -> None:
    # An hour each at 130 and 140 degF, 2.5 h at 150 degF; the finish at 180 degF does not count.
    assert "4.5 h in low heat" in html
    assert "do the rest of the drying on the rail" in html
    assert "common practice, no source" in html


def test_the_counts_are_those_of_the_checks_below_them(html: str) -> None:
    answers = re.findall(r'class="check" data-answer="([^"]+)"', html)
    counted = {answer: answers.count(answer) for answer in Answer}
    assert sum(counted.values()) == len(answers)
    assert (
        f"Published figures: {counted[Answer.NOT_MET]} not met, {counted[Answer.NOT_SHOWN]} not"
        f" shown, {counted[Answer.MET]} met"
    ) in html


def test_each_answer_has_a_word_and_a_shape_of_its_own(html: str) -> None:
    shapes = {
        answer: set(re.findall(r'<svg class="answer".*?</svg>', part))
        for answer, part in re.findall(
            r'class="check" data-answer="([^"]+)">(.*?)<b>', html, flags=re.DOTALL
        )
    }
    assert len(shapes) >= 2
    assert len(set(map(frozenset, shapes.values()))) == len(shapes)
    assert "<b>Not shown</b>" in html


def test_every_check_has_its_source_with_its_standing(html: str) -> None:
    checks = re.findall(r'<li class="check".*?</details>', html, flags=re.DOTALL)
    assert len(checks) > 10
    assert all("Source: " in check for check in checks)
    assert all("would settle it:" in check for check in checks if ">Not shown</b>" in check)


def test_corrections_show_the_old_value_who_and_why_and_what_was_struck_out(html: str) -> None:
    corrected = html.split("Corrected</h2>")[1]
    assert "<del>2446.0 g</del> <ins>2464.0 g</ins>" in corrected
    assert "by Ben (invented): read again" in corrected
    assert "Weigh-in of A3, Wed 25 Nov 08:00" in corrected
    assert "struck out" in corrected
    assert "that was A2" in corrected


def test_a_struck_out_weight_counts_for_nothing(html: str) -> None:
    stick = html.split("<strong>A3</strong>")[1].partition("</li>")[0]
    assert "Not weighed since hanging" in stick


def test_measured_values_stand_beside_estimates_and_are_called_what_they_are(html: str) -> None:
    group_a, group_b = html.split('<section class="sheet group"')[1:3]
    assert "Water activity and pH: never measured." in group_a
    assert "<strong>Measured:</strong> pH 5.9" in group_b
    assert "Makeup, estimated" in group_b


def test_a_wanted_ratio_is_answered_for_each_group(client: FlaskClient) -> None:
    html = client.get("/batches/1?ratio=1.6").get_data(as_text=True)
    assert html.count("Moisture:protein 1.6 is reached at") == 2
    hostile = client.get('/batches/1?ratio="><script>').get_data(as_text=True)
    assert "<script>" not in hostile
    assert "Write the ratio in digits" in hostile


def test_photos_are_shown_from_the_records_folder_and_no_other_file_is(
    client: FlaskClient,
) -> None:
    html = client.get("/batches/1").get_data(as_text=True)
    source = re.search(r'<a href="([^"]+)"><img src="([^"]+)" alt=""', html)
    assert source is not None
    with client.get(source[1]) as answer:
        assert answer.mimetype == "image/png"
        assert answer.data.startswith(b"\x89PNG")
    with client.get(source[2]) as answer:
        assert answer.mimetype == "image/jpeg"
        assert answer.data.startswith(b"\xff\xd8\xff")
    for name in source[1].rpartition("/")[2], source[2].partition("/photos/")[2]:
        assert client.get(f"/batches/2/photos/{name}").status_code == 404
    assert client.get("/batches/1/photos/..%2fhangroom.db").status_code == 404


def test_a_photo_whose_file_is_gone_is_not_found(client: FlaskClient, scene: Scene) -> None:
    (photo,) = (scene.folder / "photos").iterdir()
    photo.unlink()
    assert client.get(f"/batches/1/photos/{photo.name}").status_code == 404


def test_a_recipe_that_makes_no_sums_is_a_fault_on_the_page_and_not_of_the_page(
    scene: Scene,
) -> None:
    db = connect(scene.path)
    lines = [
        RecipeLine(
            key=f"cure {place}",
            place=place,
            kind=LineKind.CURING_SALT,
            name="cure #1",
            weight_g=2.5,
            nitrite_pct=6.25,
            entered_at=START,
            entered_by="Ada",
        )
        for place in (0, 1)
    ]
    meat = RecipeLine(
        key="meat",
        place=2,
        kind=LineKind.MEAT,
        name="pork",
        weight_g=1000.0,
        ndb="10219",
        entered_at=START,
        entered_by="Ada",
    )
    add_recipe_lines(db, 1, [*lines, meat])
    db.close()
    answer = scene.client().get("/batches/1")
    assert answer.status_code == 200
    assert "There are 2 lines of curing-salt" in answer.get_data(as_text=True)


def test_a_batch_that_does_not_hang_yet_is_listed_by_itself_and_has_a_page(scene: Scene) -> None:
    db = connect(scene.path)
    add_batch(
        db,
        name="mixed today",
        started_at=START,
        groups=[NewGroup(letter="A", finish="supple", target_yield_pct=75.0, sticks=9, tagged=())],
    )
    add_batch(db, name="only a name", started_at=START, groups=[])
    db.close()
    client = scene.client()
    listed = client.get("/batches").get_data(as_text=True).split("Before hanging</h2>")[1]
    assert "9 sticks, started Thu 26 Nov" in listed
    for number in (3, 4):
        page = client.get(f"/batches/{number}")
        assert page.status_code == 200
        assert "0 met" in page.get_data(as_text=True)
    assert "Not hung yet." in client.get("/batches/3").get_data(as_text=True)
    assert client.get("/batches/4/record").status_code == 200


def test_a_long_list_shows_the_newest_finished_batches_and_the_rest_on_asking(
    scene: Scene,
) -> None:
    db = connect(scene.path)
    for place in range(30):
        group = NewGroup(
            letter="A",
            finish="supple",
            target_yield_pct=75.0,
            sticks=9,
            tagged=(),
            room="closet",
            hung_at=START,
        )
        add_batch(db, name=f"old {place}", started_at=START, groups=[group])
    db.execute("update hang set to_ms = from_ms + 86400000 where group_id > 3")
    db.close()
    client = scene.client()
    first = client.get("/batches").get_data(as_text=True)
    assert first.count('class="sheet row"') == 2 + 25
    assert "Show 5 more" in first
    assert client.get("/batches?all=1").get_data(as_text=True).count('class="sheet row"') == 32
