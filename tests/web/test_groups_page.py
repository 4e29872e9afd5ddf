from datetime import UTC, datetime

import pytest
from web.entering import Keeper, keeper, said, value_of
from web.scenario import START, Scene

from hangroom.store.batches import Group
from hangroom.store.record.edits import Kept

GROUPS = "/batches/3/groups"
GROUP = {
    "letter": "A",
    "A-finish": "supple",
    "A-target": "72",
    "A-sticks": "14",
    "A-0-tag": "c1",
    "A-0-green": "101,5",
}


@pytest.fixture
def ada(scene: Scene) -> Keeper:
    ada = keeper(scene)
    ada.start()
    return ada


@pytest.fixture
def with_group(ada: Keeper) -> Keeper:
    ada.stored(GROUPS, GROUP)
    return ada


def group(ada: Keeper) -> Group:
    return ada.record(3).batch.groups[0]


def hung(ada: Keeper, what: str) -> str:
    return f"stick-{group(ada).tagged[0].number}-{what}"


def test_a_group_comes_after_the_batch_was_started(with_group: Keeper) -> None:
    found = group(with_group)
    assert (found.letter, found.sticks, found.room) == ("A", 14, None)
    assert found.tagged[0].green_weight_g == 101.5
    with_group.stored(GROUPS, GROUP)
    assert "There is a group A already." in with_group.see(GROUPS)


def test_a_group_is_hung_with_its_sticks_as_hung(with_group: Keeper) -> None:
    number = group(with_group).tagged[0].number
    weights = {f"stick-{number}-hung": "89,2", f"stick-{number}-across": "19.5"}
    with_group.stored(f"{GROUPS}/A/hang", {"A-room": "closet", **weights}, key="hang")
    with_group.stored(f"{GROUPS}/A/hang", {"A-room": "closet", **weights}, key="hang")
    found = group(with_group)
    assert (found.room, found.hung_at) == ("closet", START)
    assert (found.tagged[0].hang_weight_g, found.tagged[0].hang_diameter_mm) == (89.2, 19.5)
    assert with_group.record(3).stays[0].entered_by == "Ada"


def test_a_hanging_group_is_moved_and_pulled_at_the_time_it_was(
    with_group: Keeper, scene: Scene
) -> None:
    with_group.stored(f"{GROUPS}/A/hang", {"A-room": "closet", "A-at": "2026-11-26T08:00"})
    scene.clock.move(3600)
    with_group.stored(f"{GROUPS}/A/hang", {"A-room": "fridge", "A-at": "2026-11-26T09:30"})
    with_group.stored(f"{GROUPS}/A/pull", {"A-pulled": "2026-11-26T10:15"})
    first, second = with_group.record(3).stays
    assert (first.room, second.room) == ("closet", "fridge")
    # New York is five hours behind UTC in November.
    assert first.to_at == second.from_at == datetime(2026, 11, 26, 14, 30, tzinfo=UTC)
    assert second.to_at == datetime(2026, 11, 26, 15, 15, tzinfo=UTC)
    assert second.ended_by == "Ada"
    assert "Pulled 10:15." in with_group.see(GROUPS)


def test_a_group_cannot_be_pulled_before_it_hung(with_group: Keeper) -> None:
    assert "has not hung yet" in with_group.refused(f"{GROUPS}/A/pull")
    with_group.stored(f"{GROUPS}/A/hang", {"A-room": "closet"})
    page = with_group.refused(f"{GROUPS}/A/pull", {"A-pulled": "2026-11-26T08:00"})
    assert "It was hung 09:52. Write a later time." in page
    assert group(with_group).room == "closet"


def test_a_group_cannot_be_moved_before_it_hung_nor_to_where_it_is(with_group: Keeper) -> None:
    with_group.stored(f"{GROUPS}/A/hang", {"A-room": "closet"})
    page = with_group.refused(f"{GROUPS}/A/hang", {"A-room": "fridge", "A-at": "2026-11-26T08:00"})
    assert "It hangs here since 09:52. Write a later time." in page
    assert "hangs in closet already" in with_group.refused(f"{GROUPS}/A/hang", {"A-room": "closet"})


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"A-room": "attic"}, "Choose one of what is offered"),
        ({"A-room": ""}, "Choose one of what is offered"),
        ({"A-at": "2026-11-27T08:00"}, "still to come"),
        ({"hung": "-5"}, "above zero"),
        ({"hung": "x"}, "Write the weight in digits"),
        ({"length": "9000"}, "That is no length here"),
    ],
)
def test_every_fault_is_told_and_what_was_typed_stays(
    with_group: Keeper, changes: dict[str, str], told: str
) -> None:
    typed = {name if "-" in name else hung(with_group, name): v for name, v in changes.items()}
    across = hung(with_group, "across")
    answer = with_group.send(f"{GROUPS}/A/hang", {"A-room": "closet", across: "19,5", **typed})
    assert answer.status_code == 422
    assert told in said(answer)
    assert value_of(answer, across) == "19,5"
    assert group(with_group).room is None
    assert group(with_group).tagged[0].hang_diameter_mm is None


def test_a_stick_heavier_than_raw_is_asked_about(with_group: Keeper) -> None:
    form = {"A-room": "closet", hung(with_group, "hung"): "120"}
    assert "heavier than its 101.5 g when raw" in with_group.asked(f"{GROUPS}/A/hang", form)
    assert group(with_group).room is None
    name = hung(with_group, "hung")
    with_group.stored(f"{GROUPS}/A/hang", form, keep=name, **{f"asked-{name}": "120"})
    assert group(with_group).tagged[0].hang_weight_g == 120.0


def test_cooked_weights_are_kept_with_who_weighed_them(with_group: Keeper) -> None:
    with_group.stored(f"{GROUPS}/A/sticks", {hung(with_group, "cooked"): "92,4"})
    assert group(with_group).tagged[0].cooked_weight_g == 92.4
    (edit,) = with_group.record(3).edits
    assert (edit.kept, edit.entered_by, edit.new) == (Kept.STICK, "Ada", {"cooked_weight_g": 92.4})


def test_weights_sent_back_as_they_were_shown_change_nothing(with_group: Keeper) -> None:
    with_group.scene.units = {"weight": "oz", "length": "in"}
    imperial = keeper(with_group.scene)
    page = imperial.client.get("/batches/1/groups")
    names = [
        f"stick-{stick.number}-{what}"
        for one in imperial.record(1).batch.groups
        for stick in one.tagged
        for what in ("hung", "across", "length")
    ]
    shown = {name: value_of(page, name) for name in names}
    imperial.stored("/batches/1/groups/A/sticks", shown)
    assert imperial.record(1).edits == ()


def test_as_dry_as_a_tasted_group_goes_by_the_recipes_where_both_are_known(ada: Keeper) -> None:
    """Two batches of one recipe reach one moisture:protein ratio at one yield, 82.9 %."""
    recipe = {
        "meat-0": "10219",
        "meat-0-weight": "1000",
        "salt": "17.5",
        "cure-nitrite": "6.25",
        "cure": "2.5",
    }
    ada.stored("/batches/1/recipe", recipe)
    ada.stored("/batches/1/groups/A/pull")
    ada.stored("/batches/1/taste/A", rating="5")
    ada.stored(GROUPS, GROUP, **{"A-like": "1-A"})
    assert group(ada).target_yield_pct == 82.9
    # A fattier mix dries less to the same ratio of water to protein.
    ada.stored("/batches/3/recipe", {**recipe, "meat-1": "10004", "meat-1-weight": "300"})
    page = ada.see(GROUPS)
    assert "parts of water to one of protein" in page
    assert "Make the target" in page
    wanted = page.split("Make the target ", 1)[1].split(" ", 1)[0]
    ada.stored(f"{GROUPS}/A/target", target=wanted)
    assert group(ada).target_yield_pct == pytest.approx(float(wanted))
    assert float(wanted) > 82.9


def test_a_group_that_is_none_is_not_found(ada: Keeper) -> None:
    assert ada.send(f"{GROUPS}/Q/pull").status_code == 404
    assert ada.send("/batches/99/groups/A/pull").status_code == 404
