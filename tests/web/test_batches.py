import pytest
from flask.testing import FlaskClient
from web.scenario import Scene, token

from hangroom.store.batches import Batch, batches
from hangroom.store.database import connect

FORM = {
    "rows": "3",
    "name": "venison with mustard seed",
    "A-finish": "supple",
    "A-target": "72",
    "A-sticks": "12",
    "A-room": "closet",
    "A-0-tag": "c1",
    "A-0-green": "101,5",
    "A-0-hung": "89.2",
    "A-0-across": "20",
    "A-0-length": "265",
    "B-finish": "snap",
    "B-target": "60",
    "B-room": "closet",
}


@pytest.fixture
def client(scene: Scene) -> FlaskClient:
    return scene.client(logged_in=True)


def stored(scene: Scene) -> list[Batch]:
    db = connect(scene.path)
    try:
        return batches(db)
    finally:
        db.close()


def start(client: FlaskClient, **changes: str) -> tuple[int, str]:
    form = {**FORM, "csrf_token": token(client, "/batches/new"), **changes}
    answer = client.post("/batches/new", data=form)
    return answer.status_code, answer.get_data(as_text=True)


def test_a_batch_is_started_and_hangs(client: FlaskClient, scene: Scene) -> None:
    assert start(client)[0] == 303
    batch = stored(scene)[0]
    assert (batch.number, batch.name) == (3, "venison with mustard seed")
    (group,) = batch.groups
    assert (group.letter, group.room, group.sticks) == ("A", "closet", 12)
    (stick,) = group.tagged
    assert (stick.tag, stick.green_weight_g, stick.hang_weight_g) == ("C1", 101.5, 89.2)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"name": ""}, "Give the batch a name"),
        ({"A-0-green": ""}, "Enter a weight"),
        ({"A-0-green": "x"}, "Write the weight in digits"),
        ({"A-0-tag": "much too long a tag"}, "A tag has up to 8"),
        ({"A-0-tag": "A1"}, "Tag A1 is already in use"),
        ({"A-0-hung": "120"}, "Heavier than raw?"),
        ({"A-target": "5"}, "between 20 and 100"),
        ({"A-sticks": "0"}, "between 1 and 500"),
        ({"A-room": "attic"}, "Choose one of the rooms"),
        (
            {"A-0-tag": "", "A-0-green": "", "A-0-hung": "", "A-0-across": "", "A-0-length": ""},
            "Tag at least one stick",
        ),
    ],
)
def test_every_fault_is_told_and_what_was_typed_stays(
    client: FlaskClient, scene: Scene, changes: dict[str, str], said: str
) -> None:
    code, html = start(client, **changes)
    assert code == 422
    assert said in html
    assert 'value="12"' in html or "A-sticks" in changes
    assert len(stored(scene)) == 2


def test_more_rows_keep_what_was_typed(client: FlaskClient, scene: Scene) -> None:
    code, html = start(client, more="1")
    assert code == 200
    assert 'name="A-5-tag"' in html
    assert 'value="101,5"' in html
    assert len(stored(scene)) == 2


def test_a_pulled_group_leaves_the_rail_and_keeps_its_record(
    client: FlaskClient, scene: Scene
) -> None:
    group = stored(scene)[1].groups[0]
    form = {"csrf_token": token(client, "/batches/1")}
    assert client.post(f"/batches/1/pull/{group.number}", data=form).status_code == 303
    html = client.get("/batches/1").get_data(as_text=True)
    assert "Pulled 09:52." in html
    assert "Yield 83.3 %" in html
    assert "Weigh 5 tagged sticks now" in client.get("/").get_data(as_text=True)


def test_a_group_of_another_batch_cannot_be_pulled_by_mistake(client: FlaskClient) -> None:
    form = {"csrf_token": token(client, "/batches/1")}
    assert client.post("/batches/2/pull/1", data=form).status_code == 404


def test_a_batch_page_tells_when_a_group_may_arrive_and_how_that_is_known(
    client: FlaskClient,
) -> None:
    # Hung at 88.0 % on Tuesday 09:00, at 82.9 % on Wednesday 08:00: 5.1 % in 23 h. The target of
    # 72 % is 10.9 % away, which takes 49 h more at that rate: Friday 09:00.
    html = client.get("/batches/1").get_data(as_text=True)
    assert "72 % of green weight likely Fri 09:00" in html
    assert "wide on purpose" in html
    assert "sample, invented" in html


def test_a_forecast_with_old_weights_asks_for_a_weighing(client: FlaskClient, scene: Scene) -> None:
    scene.clock.move(12 * 3600)
    assert "It needs a weighing." in client.get("/batches/1").get_data(as_text=True)


def test_an_unknown_batch_is_not_found_in_words(client: FlaskClient) -> None:
    answer = client.get("/batches/99")
    assert answer.status_code == 404
    assert "There is no such page." in answer.get_data(as_text=True)


@pytest.mark.parametrize("path", ["/batches", "/batches/1", "/inspect"])
def test_without_a_database_the_page_says_what_to_do(scene: Scene, path: str) -> None:
    scene.path.unlink()
    answer = scene.client().get(path)
    assert answer.status_code == 503
    assert "hangroom daemon" in answer.get_data(as_text=True)
