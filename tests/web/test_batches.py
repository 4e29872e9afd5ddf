import pytest
from flask.testing import FlaskClient
from web.scenario import Scene, token

from hangroom.store.batches import Batch, batches
from hangroom.store.database import connect


@pytest.fixture
def client(scene: Scene) -> FlaskClient:
    return scene.client(logged_in=True)


def stored(scene: Scene) -> list[Batch]:
    db = connect(scene.path)
    try:
        return batches(db)
    finally:
        db.close()


def test_a_pulled_group_leaves_the_rail_and_keeps_its_record(
    client: FlaskClient, scene: Scene
) -> None:
    form = {"csrf_token": token(client, "/batches/1/groups")}
    assert client.post("/batches/1/groups/A/pull", data=form).status_code == 303
    html = client.get("/batches/1").get_data(as_text=True)
    assert "Pulled 09:52." in html
    assert "Yield 83.3 %" in html
    assert "Weigh 5 tagged sticks now" in client.get("/").get_data(as_text=True)
    assert stored(scene)[1].groups[0].room is None


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
