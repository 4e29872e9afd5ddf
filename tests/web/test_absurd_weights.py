"""A weight that nobody can mean is refused in words, and the heaviest that is taken hurts no page.

The picture of a batch's yields drew a rule for each 5 %: of a stick of a ton it took seconds, of
nine digits it never came to an end, and one kept slip would have held the page from everybody.
"""

import pytest
from flask.testing import FlaskClient
from web.scenario import Scene, token
from web.test_api_acts import Program

from hangroom.store.checks import HEAVIEST_G
from hangroom_web.draw.yields import MOST_RULES


@pytest.fixture
def client(scene: Scene) -> FlaskClient:
    return scene.client(logged_in=True)


@pytest.mark.parametrize("weight_g", [HEAVIEST_G + 1, 1e150, 9e307])
def test_a_program_is_told(scene: Scene, weight_g: float) -> None:
    scale = Program(scene=scene, scopes=("write",))
    sent = {"key": "k", "tag": "A1", "weight_g": weight_g, "confirm": True}
    answer = scale.post("/api/v1/weigh-ins", sent)
    assert answer.status_code == 400
    assert "at most 500000" in answer.get_json()["detail"]


def test_a_person_is_told_in_the_card_even_where_it_is_kept(client: FlaskClient) -> None:
    form = {"key": "k", "weight": "999999999", "asked": "999999999", "keep": "999999999"}
    form["csrf_token"] = token(client, "/inspect?all=1")
    answer = client.post("/inspect/A1?part=card", data=form)
    assert answer.status_code == 422
    assert "at most 500000" in answer.text
    assert 'value="999999999"' in answer.text


def test_the_heaviest_of_all_is_drawn_with_as_few_rules_as_any(
    scene: Scene, client: FlaskClient
) -> None:
    scale = Program(scene=scene, scopes=("write",))
    sent = {"key": "k", "tag": "A1", "weight_g": HEAVIEST_G, "confirm": True}
    assert scale.post("/api/v1/weigh-ins", sent).status_code == 201
    page = client.get("/batches/1").text
    pictures = page.count('class="yields"')
    assert pictures
    assert page.count('class="rule"') < pictures * (MOST_RULES + 60)
