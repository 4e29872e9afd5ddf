from html.parser import HTMLParser
from urllib.parse import quote

import pytest
from web.entering import Keeper, keeper, said, value_of
from web.recorded import recorded
from web.scenario import Scene

from hangroom.store.batches import WeighIn
from hangroom.store.record.edits import Kept
from hangroom_web.batch.correctable import FIELDS
from hangroom_web.pages.batch.entries_said import entries_by_kind

WEDNESDAY = "/batches/1/correct/weigh_in/wednesdayA1"


@pytest.fixture
def ada(scene: Scene) -> Keeper:
    return keeper(scene)


def shown(ada: Keeper, path: str = WEDNESDAY) -> dict[str, str]:
    """What the form of an entry holds when it is opened."""
    page = ada.client.get(path)
    names = ("weight_g", "squeeze", "wrinkle_mm", "diameter_mm", "taken_at", "note")
    return {name: value_of(page, name) for name in names}


def a1(ada: Keeper) -> WeighIn:
    return ada.record(1).batch.groups[0].tagged[0].weigh_ins[-1]


def test_a_weight_is_corrected_and_the_old_one_stays_with_who_when_and_why(ada: Keeper) -> None:
    ada.stored(WEDNESDAY, shown(ada), weight_g="85,9", because="mistyped", key="twice")
    ada.stored(WEDNESDAY, shown(ada), weight_g="85,9", because="mistyped", key="twice")
    assert a1(ada).weight_g == 85.9
    (edit,) = ada.record(1).edits
    assert (edit.old, edit.new) == ({"weight_g": 86.6}, {"weight_g": 85.9})
    assert (edit.entered_by, edit.why) == ("Ada", "mistyped")
    page = ada.see(WEDNESDAY)
    assert "Corrected before Weight: 86.6 g 85.9 g 09:52, by Ada: mistyped" in page


def test_a_reason_is_needed_and_may_be_in_ones_own_words(ada: Keeper) -> None:
    form = {**shown(ada), "weight_g": "85"}
    assert "Say why" in ada.refused(WEDNESDAY, form)
    ada.stored(WEDNESDAY, form, because="other", **{"because-words": "the scale stood crooked"})
    assert ada.record(1).edits[0].why == "the scale stood crooked"


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"weight_g": ""}, "Enter a weight"),
        ({"weight_g": "-3"}, "above zero"),
        ({"weight_g": "heavy"}, "Write the weight in digits"),
        ({"squeeze": "7"}, "from 1 to 5"),
        ({"squeeze": "2.5"}, "whole number"),
        ({"diameter_mm": "900"}, "at most 200"),
        ({"taken_at": "2026-11-28T08:00"}, "still to come"),
        ({"taken_at": ""}, "Write date and time"),
        ({"surface-nothing": "1", "surface-mould": "1"}, "Either nothing was found"),
    ],
)
def test_every_fault_is_told_and_what_was_typed_stays(
    ada: Keeper, changes: dict[str, str], told: str
) -> None:
    answer = ada.send(WEDNESDAY, {**shown(ada), "note": "cold", "because": "mistyped", **changes})
    assert answer.status_code == 422
    assert told in said(answer)
    assert value_of(answer, "note") == "cold"
    assert ada.record(1).edits == ()


@pytest.mark.parametrize(
    ("typed", "question"),
    [
        ("859", "ten times the 91.5 g before. Did you mean 85.9?"),
        ("99", "heavier than the 91.5 g before"),
        # 0.19 lb are 86.2 g (453.59237 g each, by definition).
        ("0.19", "looks like pounds"),
    ],
)
def test_a_slip_is_asked_about_when_correcting_too(ada: Keeper, typed: str, question: str) -> None:
    form = {**shown(ada), "because": "mistyped", "weight_g": typed}
    assert question in ada.asked(WEDNESDAY, form)
    assert ada.record(1).edits == ()
    ada.stored(WEDNESDAY, form, keep="weight_g", **{"asked-weight_g": typed})
    assert a1(ada).weight_g == float(typed)


def test_an_entry_struck_out_counts_no_more_and_can_be_taken_back(ada: Keeper) -> None:
    ada.stored(WEDNESDAY, shown(ada), strike="1", because="wrong stick or group")
    assert ada.record(1).batch.groups[0].tagged[0].weigh_ins == ()
    page = ada.see("/batches/1/correct")
    assert "Struck out Weigh-in of A1, Wed 25 Nov 08:00, 86.6 g" in page
    assert "by Ada: wrong stick or group" in page
    assert ada.send(WEDNESDAY, {"because": "mistyped"}).status_code == 404
    ada.stored(f"{WEDNESDAY}/back")
    assert a1(ada).weight_g == 86.6
    assert ada.send(f"{WEDNESDAY}/back").status_code == 404


def test_a_batch_is_never_struck_out(ada: Keeper) -> None:
    key = ada.record(1).batch.key
    path = f"/batches/1/correct/batch/{key}"
    form = {"name": "pork and venison", "started_at": "2026-11-22T09:00"}
    ada.stored(path, form, strike="1", because="mistyped")
    assert ada.record(1).batch.name == "pork and venison"


def test_a_green_weight_in_pounds_is_noticed_beside_the_recipe(ada: Keeper) -> None:
    recipe = {"meat-0": "10219", "meat-0-weight": "2600", "salt": "45"}
    ada.stored("/batches/1/recipe", recipe)
    path = f"/batches/1/correct/batch/{ada.record(1).batch.key}"
    form = {"name": "x", "started_at": "2026-11-22T09:00", "because": "mistyped"}
    # 5.83 lb are 2,644 g (453.59237 g each, by definition).
    assert "Did you mean 2644" in ada.asked(path, form, green_weight_g="5.83")


def test_a_stay_cannot_be_made_to_overlap_another(ada: Keeper) -> None:
    ada.stored("/batches/1/groups/A/hang", {"A-room": "fridge"})
    first, _second = [stay for stay in ada.record(1).stays if stay.group == "A"]
    path = f"/batches/1/correct/hang/{first.key}"
    form = {"room": "closet", "from_at": "2026-11-24T09:00", "to_at": "", "because": "mistyped"}
    assert "at the same time" in ada.refused(path, form)


def test_every_kind_of_entry_can_be_opened_and_sent_back_unchanged(
    ada: Keeper, scene: Scene
) -> None:
    recorded(scene)
    before = ada.record(1)
    listed = ada.client.get("/batches/1/correct").get_data(as_text=True)
    kinds = set()
    for kept, entries in entries_by_kind(before).items():
        for entry in entries:
            kinds.add(kept)
            path = f"/batches/1/correct/{kept}/{quote(entry.key)}"
            assert path in listed
            form = form_of(ada, path)
            if FIELDS[kept]:
                ada.stored(path, form, because="mistyped")
    assert kinds == set(Kept)
    assert ada.record(1) == before


def form_of(ada: Keeper, path: str) -> dict[str, str]:
    """What a browser would send back of a form that nobody touched."""
    sent: dict[str, str] = {}

    class Reader(HTMLParser):
        select = ""

        def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
            at = dict(attrs)
            name = at.get("name") or ""
            if tag == "input" and name not in {"key", "csrf_token", "because"}:
                if at.get("type") not in {"checkbox", "radio"} or "checked" in at:
                    sent[name] = at.get("value") or ""
            elif tag == "select":
                Reader.select = name
            elif tag == "option" and "selected" in at:
                sent[Reader.select] = at.get("value") or ""

    Reader().feed(ada.client.get(path).get_data(as_text=True))
    return sent


def test_what_is_not_there_is_not_found(ada: Keeper) -> None:
    for path in ("weigh_in/none", "nonsense/wednesdayA1", "step/wednesdayA1"):
        assert ada.client.get(f"/batches/1/correct/{path}").status_code == 404
    assert ada.client.get("/batches/2/correct/weigh_in/wednesdayA1").status_code == 404


def test_looking_at_corrections_is_open_and_correcting_is_not(ada: Keeper, scene: Scene) -> None:
    stranger = scene.client()
    assert "<form" not in stranger.get(WEDNESDAY).get_data(as_text=True)
    assert stranger.post(WEDNESDAY, data={"weight_g": "1"}).status_code in {400, 403}
    assert a1(ada).weight_g == 86.6
