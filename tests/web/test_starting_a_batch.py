import pytest
from flask.testing import FlaskClient
from web.entering import Keeper, keeper, said, value_of
from web.scenario import Scene

from hangroom.store.batch_facts import CasingKind, GroupName
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
NEW = "/batches/new"


@pytest.fixture
def ada(scene: Scene) -> Keeper:
    return keeper(scene)


def kept(scene: Scene) -> list[Batch]:
    db = connect(scene.path)
    try:
        return batches(db)
    finally:
        db.close()


def test_a_batch_is_started_and_hangs(ada: Keeper, scene: Scene) -> None:
    ada.stored(NEW, FORM)
    batch = kept(scene)[0]
    assert (batch.number, batch.name, batch.entered_by) == (3, "venison with mustard seed", "Ada")
    (group,) = batch.groups
    assert (group.letter, group.room, group.sticks) == ("A", "closet", 12)
    (stick,) = group.tagged
    assert (stick.tag, stick.green_weight_g, stick.hang_weight_g) == ("C1", 101.5, 89.2)


def test_a_name_alone_starts_a_batch_and_the_rest_comes_later(ada: Keeper, scene: Scene) -> None:
    number = ada.start("juniper sticks", casing="collagen", **{"casing-diameter": "19"})
    batch = kept(scene)[0]
    assert batch.groups == ()
    assert (batch.casing, batch.casing_diameter_mm) == (CasingKind.COLLAGEN, 19.0)
    page = ada.see(f"/batches/{number}")
    assert "Batch 3 is started." in page
    assert "Enter the recipe" in page


def test_groups_may_be_told_before_they_hang(ada: Keeper, scene: Scene) -> None:
    ada.stored(NEW, FORM, later="1")
    (group,) = kept(scene)[0].groups
    assert (group.room, group.hung_at, len(group.tagged)) == (None, None, 1)


def test_the_same_form_sent_twice_is_one_batch(ada: Keeper, scene: Scene) -> None:
    ada.stored(NEW, FORM, key="twice")
    ada.stored(NEW, FORM, key="twice")
    assert len(kept(scene)) == 3


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"name": ""}, "Give the batch a name"),
        ({"name": "x" * 61}, "Keep this under 61 letters"),
        ({"A-0-green": ""}, "Enter a weight"),
        ({"A-0-green": "x"}, "Write the weight in digits"),
        ({"A-0-green": "-101"}, "above zero"),
        ({"A-0-tag": "much too long a tag"}, "A tag has up to 8"),
        ({"A-0-tag": "A1"}, "Tag A1 is already in use"),
        ({"A-target": "5"}, "between 20 and 100"),
        ({"A-sticks": "0"}, "between 1 and 500"),
        ({"A-sticks": "12.5"}, "whole number"),
        ({"A-room": "attic"}, "Choose one of what is offered"),
        ({"A-0-across": "900"}, "That is no length here"),
        ({"green": "much"}, "Write the weight in digits"),
        (
            {"A-0-tag": "", "A-0-green": "", "A-0-hung": "", "A-0-across": "", "A-0-length": ""},
            "Tag at least one stick",
        ),
    ],
)
def test_every_fault_is_told_and_what_was_typed_stays(
    ada: Keeper, scene: Scene, changes: dict[str, str], told: str
) -> None:
    answer = ada.send(NEW, {**FORM, "note": "cold morning", **changes})
    assert answer.status_code == 422
    assert told in said(answer)
    assert value_of(answer, "note") == "cold morning"
    for name, typed in {**FORM, **changes}.items():
        if name not in {"rows", "A-room", "B-room"}:
            assert value_of(answer, name) == typed
    assert len(kept(scene)) == 2


@pytest.mark.parametrize(
    ("changes", "question"),
    [
        pytest.param({"A-0-hung": "120"}, "heavier than its 101.5 g when raw", id="heavier"),
        pytest.param({"A-0-hung": "892"}, "Did you mean 89.2?", id="ten times"),
        # 0.197 lb are 89.4 g (453.59237 g each, by definition).
        pytest.param({"A-0-hung": "0.197"}, "looks like pounds", id="pounds"),
        pytest.param(
            {"A-1-tag": "c2", "A-1-green": "99", "A-2-tag": "c3", "A-2-green": "1040"},
            "1040 g is about ten times the other sticks. Did you mean 104?",
            id="one among others",
        ),
    ],
)
def test_an_unlikely_weight_is_asked_about_and_may_be_kept(
    ada: Keeper, scene: Scene, changes: dict[str, str], question: str
) -> None:
    assert question in ada.asked(NEW, FORM, **changes)
    assert len(kept(scene)) == 2
    (name, typed) = list(changes.items())[-1]
    ada.stored(NEW, FORM, **changes, keep=name, **{f"asked-{name}": typed})
    assert len(kept(scene)) == 3


def test_what_was_meant_is_taken_where_it_is_chosen(ada: Keeper, scene: Scene) -> None:
    slip = {"A-0-hung": "892", "asked-A-0-hung": "892", "use": "A-0-hung:89.2"}
    ada.stored(NEW, FORM, **slip)
    assert kept(scene)[0].groups[0].tagged[0].hang_weight_g == 89.2


def test_an_answer_counts_only_for_what_was_asked_about(ada: Keeper, scene: Scene) -> None:
    ada.asked(NEW, FORM, **{"A-0-hung": "895", "asked-A-0-hung": "892", "keep": "A-0-hung"})
    ada.asked(NEW, FORM, **{"A-0-hung": "895", "asked-A-0-hung": "892", "use": "A-0-hung:89.2"})
    assert len(kept(scene)) == 2


def test_one_answer_of_two_is_remembered_with_the_other_question(ada: Keeper, scene: Scene) -> None:
    second = {"A-1-tag": "c2", "A-1-green": "99", "A-1-hung": "130"}
    slip = {"A-0-hung": "120", "asked-A-0-hung": "120", "keep": "A-0-hung"}
    answer = ada.send(NEW, {**FORM, **second, **slip})
    assert answer.status_code == 200
    assert value_of(answer, "kept-A-0-hung") == "120"
    answered = {"kept-A-0-hung": "120", "asked-A-1-hung": "130", "keep": "A-1-hung"}
    ada.stored(NEW, {**FORM, **second, "A-0-hung": "120", **answered})
    assert len(kept(scene)) == 3


def test_more_rows_keep_what_was_typed(ada: Keeper, scene: Scene) -> None:
    answer = ada.send(NEW, FORM, more="1")
    assert answer.status_code == 200
    assert 'name="A-5-tag"' in answer.get_data(as_text=True)
    assert value_of(answer, "A-0-green") == "101,5"
    assert len(kept(scene)) == 2


def test_ounces_and_inches_are_stored_as_grams_and_millimetres(scene: Scene) -> None:
    scene.units = {"weight": "oz", "length": "in"}
    typed = {"A-0-green": "3.5", "A-0-hung": "3.1", "A-0-across": "0,75", "A-0-length": "10"}
    keeper(scene).stored(NEW, FORM, **typed)
    (stick,) = kept(scene)[0].groups[0].tagged
    # By definition: an ounce is 28.349523125 g, an inch 25.4 mm.
    assert stick.green_weight_g == pytest.approx(3.5 * 28.349523125)
    assert stick.hang_diameter_mm == pytest.approx(0.75 * 25.4)


def test_the_whole_green_weight_may_be_typed_in_pounds(ada: Keeper, scene: Scene) -> None:
    ada.start(green="5.5", **{"green-unit": "lb"})
    assert kept(scene)[0].green_weight_g == pytest.approx(5.5 * 453.59237)


def test_a_group_can_become_as_dry_as_one_that_was_tasted(ada: Keeper, scene: Scene) -> None:
    # Wednesday's group A: 83.3, 82.9 and 82.6 % of green weight, 82.9 on average.
    ada.stored("/batches/1/groups/A/pull")
    ada.stored("/batches/1/taste/A", rating="4")
    assert "batch 1, group A: supple, rated 4 of 5" in ada.see(NEW)
    ada.stored(NEW, FORM, **{"A-like": "1-A", "A-target": ""})
    (group,) = kept(scene)[0].groups
    assert group.like == GroupName(batch=1, letter="A")
    assert group.target_yield_pct == 82.9


def test_starting_needs_somebody_logged_in(scene: Scene) -> None:
    stranger: FlaskClient = scene.client()
    assert stranger.get(NEW).status_code == 403
