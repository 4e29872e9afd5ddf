import pytest
from web.entering import Keeper, keeper, said
from web.scenario import Scene

from hangroom.store.batch_facts import SurfaceFinding
from hangroom.store.batches import WeighIn

WEIGHT = {"weight": "82.0"}


@pytest.fixture
def ada(scene: Scene) -> Keeper:
    return keeper(scene)


def newest(ada: Keeper) -> WeighIn:
    return ada.record(1).batch.groups[0].tagged[0].weigh_ins[-1]


@pytest.mark.parametrize(
    ("form", "surface", "words"),
    [
        ({}, None, "82.0 g. Yield 78.8 %, down 4.4 since Wed."),
        ({"surface-nothing": "1"}, frozenset(), "since Wed. Nothing found."),
        (
            {"surface-mould": "1", "surface-drip": "1"},
            frozenset({SurfaceFinding.MOULD, SurfaceFinding.DRIP}),
            "since Wed. Found: drip, mould.",
        ),
    ],
)
def test_what_is_found_on_a_stick_goes_with_its_weight(
    ada: Keeper, form: dict[str, str], surface: frozenset[SurfaceFinding] | None, words: str
) -> None:
    ada.stored("/inspect/A1", {**WEIGHT, **form})
    assert newest(ada).surface == surface
    assert newest(ada).entered_by == "Ada"
    assert words in ada.see("/inspect")


def test_nothing_and_something_at_once_is_a_fault_and_stays(ada: Keeper) -> None:
    form = {**WEIGHT, "surface-nothing": "1", "surface-slime": "1"}
    answer = ada.send("/inspect/A1", form)
    assert answer.status_code == 422
    assert "Either nothing was found, or something was" in said(answer)
    assert 'name="surface-slime" value="1" checked' in answer.get_data(as_text=True)
    assert newest(ada).key == "wednesdayA1"


def test_a_photo_of_a_weighed_stick_is_one_tap_away(ada: Keeper) -> None:
    ada.stored("/inspect/A1", WEIGHT)
    html = ada.client.get("/inspect").get_data(as_text=True)
    assert f"/batches/1/photos?of={newest(ada).key}&amp;group=A" in html
