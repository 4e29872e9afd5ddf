"""What is asked about a weight before it is stored: held against the weighing before it."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from sqlite_utils import Database

from hangroom.errors import InputError
from hangroom.product.slips import SlipKind
from hangroom.store.batch_facts import SurfaceFinding
from hangroom.store.batches import NewGroup, NewStick, add_batch, batches
from hangroom.store.weigh_ins import (
    NewWeighIn,
    add_weigh_in,
    add_weigh_ins,
    questions,
    stored_weight_g,
    tags_in_use,
)

HUNG = datetime(2026, 11, 1, 6, tzinfo=UTC)


@pytest.fixture
def hung(db: Database) -> Database:
    """Two sticks of 88 g, hung at 77 g and not weighed at hanging. Invented."""
    tagged = [
        NewStick(tag="A1", green_weight_g=88.0, hang_weight_g=77.0),
        NewStick(tag="A2", green_weight_g=88.0),
    ]
    group = NewGroup(
        letter="A",
        finish="supple",
        target_yield_pct=72.0,
        sticks=12,
        tagged=tagged,
        room="closet",
        hung_at=HUNG,
    )
    add_batch(db, name="x", started_at=HUNG - timedelta(hours=9), groups=[group])
    return db


def weighed(days: float, weight_g: float, tag: str = "A1") -> NewWeighIn:
    return NewWeighIn(
        key=f"{tag} {days}", tag=tag, taken_at=HUNG + timedelta(days=days), weight_g=weight_g
    )


def asked(db: Database, *entries: NewWeighIn) -> list[tuple[float, SlipKind, float]]:
    return [(one.entry.weight_g, one.slip.kind, one.last_g) for one in questions(db, entries)]


def test_a_first_weight_is_held_against_the_weight_as_hung_or_else_the_raw_one(
    hung: Database,
) -> None:
    assert asked(hung, weighed(1, 72.0), weighed(1, 82.0, "A2")) == []
    found = asked(hung, weighed(1, 82.0), weighed(1, 720.0, "A2"))
    assert found == [(82.0, SlipKind.HEAVIER, 77.0), (720.0, SlipKind.TEN_TIMES, 88.0)]


def test_pounds_in_a_field_of_grams_are_noticed(hung: Database) -> None:
    """72 g are 0.15873 lb (453.59237 g each, by definition)."""
    (question,) = questions(hung, [weighed(1, 0.15873)])
    assert question.slip.kind is SlipKind.POUNDS
    assert question.slip.meant_g == pytest.approx(72.0, abs=0.01)
    assert question.last_at is None


def test_entries_are_held_against_each_other_in_the_order_of_time(hung: Database) -> None:
    add_weigh_in(hung, weighed(1, 72.0))
    entries = [weighed(3, 64.0), weighed(2, 68.0), weighed(4, 66.0)]
    assert asked(hung, *entries) == [(66.0, SlipKind.HEAVIER, 64.0)]


def test_a_weight_that_is_asked_about_is_no_measure_for_the_next(hung: Database) -> None:
    assert asked(hung, weighed(1, 7.2), weighed(2, 68.0)) == [(7.2, SlipKind.TENTH, 77.0)]


def test_a_weight_entered_for_an_earlier_day_is_held_against_the_one_before_it(
    hung: Database,
) -> None:
    add_weigh_ins(hung, [weighed(1, 72.0), weighed(3, 64.0)])
    assert asked(hung, weighed(2, 68.0)) == []
    assert asked(hung, weighed(2, 74.0)) == [(74.0, SlipKind.HEAVIER, 72.0)]


def test_what_is_stored_is_not_asked_about_again(hung: Database) -> None:
    add_weigh_in(hung, weighed(1, 720.0))
    assert asked(hung, weighed(1, 720.0)) == []


def test_a_tag_of_no_stick_is_refused_and_of_several_entries_none_is_stored(
    hung: Database,
) -> None:
    with pytest.raises(InputError, match="No stick bears the tag Z9"):
        questions(hung, [weighed(1, 72.0, "Z9")])
    with pytest.raises(InputError, match="No stick bears the tag Z9"):
        add_weigh_ins(hung, [weighed(1, 72.0), weighed(1, 72.0, "Z9")])
    assert stored_weight_g(hung, "A1 1") is None
    assert tags_in_use(hung) == {"A1", "A2"}


def test_nothing_found_is_not_the_same_as_not_looked_at(hung: Database) -> None:
    found = frozenset({SurfaceFinding.MOULD, SurfaceFinding.OFF_SMELL})
    for day, surface in enumerate((None, frozenset(), found), start=1):
        add_weigh_in(hung, replace(weighed(day, 72.0 - day), surface=surface))
    looks = batches(hung)[0].groups[0].tagged[0].weigh_ins
    assert [look.surface for look in looks] == [None, frozenset(), found]
