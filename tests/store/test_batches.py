"""Batches and weigh-ins: what was typed comes back, twice is once, a refusal stores nothing."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from sqlite_utils import Database

from hangroom.errors import InputError
from hangroom.store.batches import (
    Batch,
    Group,
    NewGroup,
    NewStick,
    Stick,
    WeighIn,
    add_batch,
    batch_ids,
    batches,
    pull_group,
)
from hangroom.store.moments import to_ms
from hangroom.store.weigh_ins import NewWeighIn, add_weigh_in, last_entry_at

NOW = datetime(2026, 11, 1, 6, tzinfo=UTC)
LATER = NOW + timedelta(days=365)
# Invented: a pork and venison stick with juniper and mustard seed.
SUPPLE = NewGroup(
    letter="A",
    finish="supple",
    target_yield_pct=72.5,
    sticks=12,
    tagged=(
        NewStick(
            tag="1A1",
            green_weight_g=88.1,
            hang_weight_g=77.5,
            hang_diameter_mm=18.9,
            length_mm=265.0,
        ),
        NewStick(tag="1A2", green_weight_g=90.3),
    ),
    room="closet",
    hung_at=NOW,
)
SNAP = replace(
    SUPPLE,
    letter="B",
    finish="snaps",
    target_yield_pct=50.0,
    tagged=(NewStick(tag="1B1", green_weight_g=87.7),),
)
ENTRY = NewWeighIn(
    key="k1",
    tag="1A1",
    taken_at=NOW + timedelta(hours=20),
    weight_g=71.4,
    squeeze=3,
    wrinkle_mm=0.5,
    diameter_mm=18.2,
    note="a dry end",
)
TABLES = ("batch", "stick_group", "hang", "stick", "weigh_in")


def hung(db: Database, groups: Sequence[NewGroup] = (SUPPLE, SNAP)) -> int:
    return add_batch(
        db,
        name="Pork and venison",
        started_at=NOW - timedelta(hours=20),
        groups=groups,
        note="Invented.",
        sample=True,
    )


def counts(db: Database) -> list[int]:
    return [db.execute(f"select count(*) from {table}").fetchone()[0] for table in TABLES]  # noqa: S608


def test_a_batch_comes_back_as_it_was_entered(db: Database) -> None:
    assert hung(db) == 1
    add_weigh_in(db, ENTRY)
    assert batches(db) == [
        Batch(
            number=1,
            name="Pork and venison",
            started_at=NOW - timedelta(hours=20),
            note="Invented.",
            sample=True,
            groups=(
                Group(
                    number=1,
                    letter="A",
                    finish="supple",
                    target_yield_pct=72.5,
                    sticks=12,
                    room="closet",
                    hung_at=NOW,
                    tagged=(
                        Stick(
                            number=1,
                            tag="1A1",
                            green_weight_g=88.1,
                            hang_weight_g=77.5,
                            hang_diameter_mm=18.9,
                            length_mm=265.0,
                            weigh_ins=(
                                WeighIn(
                                    taken_at=NOW + timedelta(hours=20),
                                    weight_g=71.4,
                                    squeeze=3,
                                    wrinkle_mm=0.5,
                                    diameter_mm=18.2,
                                    note="a dry end",
                                ),
                            ),
                        ),
                        Stick(
                            number=2,
                            tag="1A2",
                            green_weight_g=90.3,
                            hang_weight_g=None,
                            hang_diameter_mm=None,
                            length_mm=None,
                            weigh_ins=(),
                        ),
                    ),
                ),
                Group(
                    number=2,
                    letter="B",
                    finish="snaps",
                    target_yield_pct=50.0,
                    sticks=12,
                    room="closet",
                    hung_at=NOW,
                    tagged=(
                        Stick(
                            number=3,
                            tag="1B1",
                            green_weight_g=87.7,
                            hang_weight_g=None,
                            hang_diameter_mm=None,
                            length_mm=None,
                            weigh_ins=(),
                        ),
                    ),
                ),
            ),
        )
    ]


def test_batches_are_numbered_on_and_come_newest_first(db: Database) -> None:
    hung(db)
    hung(db, [replace(SUPPLE, tagged=())])
    assert [batch.number for batch in batches(db)] == [2, 1]
    assert set(batch_ids(db)) == {1, 2}


def test_a_tag_that_is_in_use_is_refused_and_nothing_is_stored(db: Database) -> None:
    hung(db)
    before = counts(db)
    with pytest.raises(InputError, match=r"Tag 1A1 is already in use.*nothing was stored"):
        hung(db, [replace(SNAP, tagged=(NewStick(tag="2B1", green_weight_g=80.0),)), SUPPLE])
    assert counts(db) == before


def test_a_tag_given_twice_in_one_batch_is_refused_and_nothing_is_stored(db: Database) -> None:
    with pytest.raises(InputError, match="Tag 1A1 is already in use"):
        hung(db, [SUPPLE, replace(SUPPLE, letter="B")])
    assert counts(db) == [0, 0, 0, 0, 0]


@pytest.mark.parametrize("wrong", [{"target_yield_pct": 120.0}, {"sticks": 0}])
def test_a_group_that_cannot_be_is_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(InputError, match=r"[Nn]othing was stored"):
        replace(SUPPLE, **wrong)  # type: ignore[arg-type]  # the point


def test_a_pulled_group_hangs_nowhere_and_the_other_still_does(db: Database) -> None:
    hung(db)
    pull_group(db, 1, now=NOW + timedelta(days=2))
    (batch,) = batches(db)
    assert [group.room for group in batch.groups] == [None, "closet"]
    assert batch.groups[0].pulled_at == NOW + timedelta(days=2)
    assert batch.hangs
    pull_group(db, 2, now=NOW + timedelta(days=6))
    assert not batches(db)[0].hangs


def test_a_group_pulled_twice_keeps_the_first_time(db: Database) -> None:
    hung(db)
    for day in (2, 3):
        pull_group(db, 1, now=NOW + timedelta(days=day))
    assert batches(db)[0].groups[0].pulled_at == NOW + timedelta(days=2)


def test_an_entry_sent_twice_is_stored_once(db: Database) -> None:
    hung(db)
    assert add_weigh_in(db, ENTRY)
    assert not add_weigh_in(db, replace(ENTRY, weight_g=70.0))
    (weigh_in,) = batches(db)[0].groups[0].tagged[0].weigh_ins
    assert weigh_in.weight_g == 71.4


def test_two_entries_of_one_moment_with_keys_of_their_own_are_two(db: Database) -> None:
    hung(db)
    assert add_weigh_in(db, ENTRY)
    assert add_weigh_in(db, replace(ENTRY, key="k2"))
    assert len(batches(db)[0].groups[0].tagged[0].weigh_ins) == 2


def test_a_stick_that_nobody_tagged_cannot_be_weighed(db: Database) -> None:
    hung(db)
    with pytest.raises(InputError, match=r"No stick bears the tag 9Z9\. Check the tag"):
        add_weigh_in(db, replace(ENTRY, tag="9Z9"))
    assert counts(db)[-1] == 0


def test_weigh_ins_come_oldest_first_however_they_were_entered(db: Database) -> None:
    hung(db)
    for hours in (44, 20, 68):
        add_weigh_in(db, replace(ENTRY, key=f"k{hours}", taken_at=NOW + timedelta(hours=hours)))
    taken = [w.taken_at for w in batches(db)[0].groups[0].tagged[0].weigh_ins]
    assert taken == [NOW + timedelta(hours=hours) for hours in (20, 44, 68)]
    assert last_entry_at(db, 1, until=LATER) == to_ms(NOW + timedelta(hours=68))


def test_a_batch_without_entries_has_no_last_one(db: Database) -> None:
    hung(db)
    assert last_entry_at(db, 1, until=LATER) is None
