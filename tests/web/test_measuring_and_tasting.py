import pytest
from web.entering import Keeper, keeper, said, value_of
from web.scenario import HUNG_AT, START, Scene

from hangroom.store.batch_facts import SurfaceFinding

MEASURE, TASTE, LOOK = "/batches/1/measurements", "/batches/1/taste/A", "/inspect/looks/1/B"
DEW_POINT = {"group": "A", "aw": "0,912", "ph": "5.4", "instrument": "dew point, 25 °C"}


@pytest.fixture
def ada(scene: Scene) -> Keeper:
    return keeper(scene)


def test_a_measurement_is_kept_with_its_date_and_instrument(ada: Keeper) -> None:
    ada.stored(MEASURE, DEW_POINT, taken="2026-11-26T08:10", key="twice")
    ada.stored(MEASURE, DEW_POINT, taken="2026-11-26T08:10", key="twice")
    (one,) = ada.record(1).measurements
    assert (one.aw, one.ph, one.group, one.instrument) == (0.912, 5.4, "A", "dew point, 25 °C")
    assert (one.taken_at.hour, one.entered_by) == (13, "Ada")
    assert "Group A, 08:10 dew point, 25 °C aw 0.912, pH 5.40" in ada.see(MEASURE)


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"aw": "", "ph": ""}, "Enter a water activity, a pH, or both"),
        ({"aw": "dry"}, "Write the water activity in digits"),
        ({"aw": "-0.9"}, "between 0 and"),
        ({"instrument": ""}, "Say with what it was measured"),
        ({"taken": "2026-11-27T08:00"}, "still to come"),
        ({"group": "Z"}, "Choose one of what is offered"),
        ({"aw": "", "ph": "3.2", "note": "x" * 1001}, "Keep the note under"),
    ],
)
def test_every_fault_of_a_measurement_is_told_and_what_was_typed_stays(
    ada: Keeper, changes: dict[str, str], told: str
) -> None:
    answer = ada.send(MEASURE, {**DEW_POINT, **changes})
    assert answer.status_code == 422
    assert told in said(answer)
    assert value_of(answer, "instrument") == {**DEW_POINT, **changes}["instrument"]
    assert ada.record(1).measurements == ()


@pytest.mark.parametrize(
    ("field", "typed", "meant"),
    [("aw", "91", 0.91), ("aw", "9.1", 0.91), ("ph", "54", 5.4)],
)
def test_a_slip_of_the_point_is_noticed(ada: Keeper, field: str, typed: str, meant: float) -> None:
    page = ada.asked(MEASURE, DEW_POINT, **{field: typed})
    assert f"Did you mean {meant:g}?" in page
    ada.stored(
        MEASURE, DEW_POINT, **{field: typed, f"asked-{field}": typed, "use": f"{field}:{meant:g}"}
    )
    assert getattr(ada.record(1).measurements[0], field) == meant


def test_a_group_is_tasted_with_what_the_record_says_of_it(ada: Keeper) -> None:
    ada.stored("/batches/1/groups/A/pull")
    ada.stored(TASTE, rating="4", squeeze="3", words="still bends, a little dry at the ends")
    (one,) = ada.record(1).profiles
    assert (one.group, one.rating, one.squeeze, one.entered_by) == ("A", 4, 3, "Ada")
    # Wednesday's A1, A2, A3 are 83.3, 82.9 and 82.6 % of their green weight.
    assert one.yield_pct == pytest.approx(82.9, abs=0.05)
    assert one.hung_h == pytest.approx((START - HUNG_AT).total_seconds() / 3600)
    page = ada.see(TASTE)
    assert "4 / 5 still bends, a little dry at the ends" in page
    assert "Yield 82.9 % of green weight. Squeeze 3 of 5." in page


def test_without_a_squeeze_of_its_own_a_tasting_takes_the_last_ones(ada: Keeper) -> None:
    ada.stored(TASTE, rating="4")
    assert ada.record(1).profiles[0].squeeze == 2  # what all were on Wednesday


@pytest.mark.parametrize(
    ("form", "told"),
    [
        ({}, "Choose one of what is offered"),
        ({"rating": "6"}, "Choose one of what is offered"),
        ({"rating": "4", "squeeze": "9"}, "Choose one of what is offered"),
        ({"rating": "4", "tasted": "2026-11-27T08:00"}, "still to come"),
    ],
)
def test_every_fault_of_a_tasting_is_told_and_its_words_stay(
    ada: Keeper, form: dict[str, str], told: str
) -> None:
    answer = ada.send(TASTE, {**form, "words": "too soft"})
    assert answer.status_code == 422
    assert told in said(answer)
    assert value_of(answer, "words") == "too soft"
    assert ada.record(1).profiles == ()


def test_nothing_found_is_one_tap(ada: Keeper) -> None:
    ada.stored(LOOK, {"surface-nothing": "1"})
    (one,) = ada.record(1).looks
    assert (one.group, one.surface, one.entered_by) == ("B", frozenset(), "Ada")


def test_a_look_keeps_what_was_found(ada: Keeper) -> None:
    found = {"surface-mould": "1", "surface-off-smell": "1", "squeeze": "4", "wrinkle": "0.5"}
    ada.stored(LOOK, found, key="twice")
    ada.stored(LOOK, found, key="twice")
    (one,) = ada.record(1).looks
    assert one.surface == frozenset({SurfaceFinding.MOULD, SurfaceFinding.OFF_SMELL})
    assert (one.squeeze, one.wrinkle_mm) == (4, 0.5)


@pytest.mark.parametrize(
    ("form", "told"),
    [
        ({}, "Say what was seen, or that nothing was"),
        ({"surface-nothing": "1", "surface-slime": "1"}, "Either nothing was found, or something"),
        ({"squeeze": "6"}, "Choose one of what is offered"),
        ({"wrinkle": "0.7"}, "Choose one of what is offered"),
    ],
)
def test_every_fault_of_a_look_is_told(ada: Keeper, form: dict[str, str], told: str) -> None:
    assert told in ada.refused(LOOK, form)
    assert ada.record(1).looks == ()


def test_looks_are_offered_for_what_hangs_only(ada: Keeper) -> None:
    ada.stored("/batches/1/groups/A/pull")
    page = ada.see("/inspect/looks")
    assert "Batch 1 B, dry, snaps" in page
    assert "Batch 1 A" not in page
    assert ada.send("/inspect/looks/1/Q").status_code == 404
