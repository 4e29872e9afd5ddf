"""Hung, moved, pulled: a group hangs in one room at a time, and in no order that cannot be."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from functools import partial

import pytest
from sqlite_utils import Database

from hangroom.errors import InputError
from hangroom.store.batch_facts import GroupName
from hangroom.store.batches import (
    NewGroup,
    NewStick,
    add_batch,
    add_group,
    batch,
    batches,
    batches_in_short,
    hanging_batches,
)
from hangroom.store.hanging import hang_group, move_group, pull_group, stays_of
from hangroom.store.weigh_ins import NewWeighIn, add_weigh_in

STARTED = datetime(2026, 11, 1, 6, tzinfo=UTC)
NOW = STARTED + timedelta(days=10)
STICK = NewStick(tag="A1", green_weight_g=88.0)


def group(letter: str = "A", *sticks: NewStick, like: GroupName | None = None) -> NewGroup:
    return NewGroup(
        letter=letter,
        finish="supple",
        target_yield_pct=72.0,
        sticks=12,
        tagged=sticks,
        like=like,
    )


@pytest.fixture
def raw(db: Database) -> Database:
    """A batch whose one group is not hung yet."""
    add_batch(db, name="raw", started_at=STARTED, groups=[group("A", STICK)])
    return db


def day(days: float) -> datetime:
    return STARTED + timedelta(days=days)


def stays(db: Database) -> list[tuple[str, datetime, datetime | None]]:
    return [(stay.room, stay.from_at, stay.to_at) for stay in stays_of(db, 1)]


def hang(db: Database, days: float, room: str = "closet", key: str = "h") -> bool:
    return hang_group(db, 1, room=room, at=day(days), key=key, by="Ann", now=NOW)


def move(db: Database, days: float, room: str = "fridge", key: str = "m") -> bool:
    return move_group(db, 1, room=room, at=day(days), key=key, by="Ann", now=NOW)


def pull(db: Database, days: float) -> bool:
    return pull_group(db, 1, now=NOW, at=day(days), by="Ben")


def test_a_batch_that_is_not_hung_yet_hangs_nowhere(raw: Database) -> None:
    (found,) = batches(raw)
    assert (found.groups[0].room, found.groups[0].hung_at) == (None, None)
    assert not found.hangs
    assert not hanging_batches(raw)


def test_hung_moved_pulled_and_hung_again_is_four_stays_less_one(raw: Database) -> None:
    assert hang(raw, 1)
    assert move(raw, 2)
    assert pull(raw, 3)
    assert hang(raw, 4, key="h2")
    assert stays(raw) == [
        ("closet", day(1), day(2)),
        ("fridge", day(2), day(3)),
        ("closet", day(4), None),
    ]
    assert [stay.ended_by for stay in stays_of(raw, 1)] == ["Ann", "Ben", ""]
    found = batch(raw, 1)
    assert found is not None
    assert (found.groups[0].room, found.groups[0].hung_at) == ("closet", day(4))


def test_each_done_twice_is_done_once(raw: Database) -> None:
    assert [hang(raw, 1), hang(raw, 1), move(raw, 2), move(raw, 2)] == [True, False, True, False]
    assert [pull(raw, 3), pull(raw, 5)] == [True, False]
    assert stays(raw) == [("closet", day(1), day(2)), ("fridge", day(2), day(3))]


Act = Callable[[Database], object]


@pytest.mark.parametrize(
    ("before", "act", "says"),
    [
        ((), partial(pull, days=1), "has not hung yet"),
        ((), partial(move, days=1), "hangs nowhere"),
        ((partial(hang, days=1),), partial(pull, days=0.5), "cannot have been pulled"),
        ((partial(hang, days=1),), partial(move, days=0.5), "cannot have been moved"),
        ((partial(hang, days=1),), partial(move, days=2, room="closet"), "in closet already"),
        ((partial(hang, days=1),), partial(hang, days=2, key="h2"), "hangs in closet already"),
        ((partial(hang, days=1),), partial(pull, days=11), "in the future"),
        ((), partial(hang, days=11), "in the future"),
        ((), partial(hang, days=1, room=" "), "room must be a text"),
        (
            (partial(hang, days=1), partial(pull, days=3)),
            partial(hang, days=2, key="h2"),
            "still hung in closet",
        ),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_changes(
    raw: Database, before: tuple[Act, ...], act: Act, says: str
) -> None:
    for done in before:
        done(raw)
    there = stays(raw)
    with pytest.raises(InputError, match=says):
        act(raw)
    assert stays(raw) == there


def test_a_group_can_come_later_and_be_as_dry_as_a_tasted_one(raw: Database) -> None:
    like = GroupName(batch=1, letter="A")
    assert add_group(raw, 1, group("B", like=like), now=NOW)
    assert not add_group(raw, 1, group("B"), now=NOW)
    found = batch(raw, 1)
    assert found is not None
    assert [one.like for one in found.groups] == [None, like]
    with pytest.raises(InputError, match="no group Z in batch 1"):
        add_group(raw, 1, group("C", like=GroupName(batch=1, letter="Z")), now=NOW)


def test_a_list_has_every_batch_with_the_newest_weigh_ins_alone(raw: Database) -> None:
    other = group("A", NewStick(tag="B1", green_weight_g=90.0))
    add_batch(raw, name="second", started_at=STARTED, groups=[other])
    hang(raw, 1)
    for hours, weight_g in ((20, 75.0), (68, 66.0), (44, 70.0)):
        add_weigh_in(
            raw,
            NewWeighIn(
                key=f"k{hours}",
                tag="A1",
                taken_at=day(1) + timedelta(hours=hours),
                weight_g=weight_g,
            ),
        )
    short = batches_in_short(raw)
    assert [one.number for one in short] == [2, 1]
    assert [look.weight_g for look in short[1].groups[0].tagged[0].weigh_ins] == [66.0]
    assert [one.number for one in hanging_batches(raw)] == [1]
    assert hanging_batches(raw)[0] == batches(raw)[1] == batch(raw, 1)
    assert batch(raw, 3) is None


def test_the_same_batch_sent_twice_is_one(db: Database) -> None:
    for _ in range(2):
        number = add_batch(
            db, name="raw", started_at=STARTED, groups=[group("A", STICK)], key="page 1"
        )
        assert number == 1
    assert len(batches(db)) == 1
