import re

import pytest
from web.entering import Keeper, keeper
from web.scenario import Scene

LIKELY = re.compile(r'<a class="button" href="([^"]+)">([^<]+)</a>')
RECIPE = {"meat-0": "10219", "meat-0-weight": "1000", "cure-nitrite": "6.25", "cure": "2.5"}


@pytest.fixture
def ada(scene: Scene) -> Keeper:
    return keeper(scene)


def likely(ada: Keeper, number: int) -> list[str]:
    """What the batch's page offers first."""
    html = ada.client.get(f"/batches/{number}").get_data(as_text=True)
    section = html.split('id="next-for-batch"', 1)[1].split("</section>", 1)[0]
    return [words for _href, words in LIKELY.findall(section)]


def test_what_comes_next_follows_the_batch_from_mixing_to_tasting(ada: Keeper) -> None:
    number = ada.start()
    batch = f"/batches/{number}"
    assert likely(ada, number) == ["Enter the recipe", "Add a group of sticks"]
    ada.stored(f"{batch}/recipe", RECIPE)
    assert "Second person: check the sums" in likely(ada, number)
    key = ada.record(number).sums[0].key
    ada.stored(f"{batch}/recipe/check/{key}", agree="1", name="Ben")
    assert likely(ada, number) == ["Steps at the smoker", "Add a group of sticks"]
    ada.stored(
        f"{batch}/groups",
        {"letter": "A", "A-finish": "supple", "A-target": "72"},
        **{"A-sticks": "9"},
    )
    assert likely(ada, number) == ["Steps at the smoker"]
    ada.stored(f"{batch}/steps/start", {"kind": "smoke", "air": "60"}, key="smoke")
    assert likely(ada, number) == ["Steps: smoke is under way"]
    ada.stored(f"{batch}/steps/end/smoke")
    assert likely(ada, number) == ["Hang, move, pull"]
    ada.stored(f"{batch}/groups/A/hang", {"A-room": "closet"})
    assert likely(ada, number) == []
    ada.stored(f"{batch}/groups/A/pull")
    assert likely(ada, number) == ["Taste group A"]
    ada.stored(f"{batch}/taste/A", rating="4")
    assert likely(ada, number) == []


def test_every_action_leads_to_a_page(ada: Keeper) -> None:
    html = ada.client.get("/batches/1").get_data(as_text=True)
    section = html.split('id="next-for-batch"', 1)[1].split("</section>", 1)[0]
    links = re.findall(r'href="([^"#]+)', section)
    assert len(links) >= 6
    for link in links:
        assert ada.client.get(link).status_code == 200


def test_a_stranger_is_offered_nothing_to_enter(scene: Scene) -> None:
    assert "What next" not in scene.client().get("/batches/1").get_data(as_text=True)
