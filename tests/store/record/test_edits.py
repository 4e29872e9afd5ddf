"""Corrections keep what was there, with who and when; what is struck out stays in its table."""

from dataclasses import replace
from datetime import timedelta

import pytest
from store.record.full_batch import ANN, BEN, COOK, HUNG, NOW, FullBatch, points
from store.record.test_whole import everything, record_of

from hangroom.errors import InputError
from hangroom.store.batch_facts import SurfaceFinding
from hangroom.store.batches import Stick
from hangroom.store.record.edits import Kept, correct, correct_point, strike_out
from hangroom.store.record.entries import entries_of
from hangroom.store.record.recipe import RecipeLine


def fix(full: FullBatch, kept: Kept, of: str, changes: dict[str, object], key: str = "e") -> bool:
    return correct(full.db, kept, of, changes, key=key, by=ANN, now=NOW, why="checked")


def stick(full: FullBatch, tag: str) -> Stick:
    found = record_of(full).batch.groups
    return next(one for group in found for one in group.tagged if one.tag == tag)


def test_a_corrected_weight_is_read_and_the_old_one_kept_with_who_and_when(full: FullBatch) -> None:
    """Read by hand from the table too, so that the old value is really there."""
    assert fix(full, Kept.WEIGH_IN, "weigh 1A1 1", {"weight_g": 71.9, "squeeze": 2})
    assert stick(full, "1A1").weigh_ins[0].weight_g == 71.9
    edit = record_of(full).edits[-1]
    assert (edit.kept, edit.entry_key) == (Kept.WEIGH_IN, "weigh 1A1 1")
    assert (edit.old, edit.new) == ({"weight_g": 71.4}, {"weight_g": 71.9})
    assert (edit.entered_by, edit.entered_at, edit.why) == (ANN, NOW, "checked")
    row = full.db.execute("select old, new from edit where key = 'e'").fetchone()
    assert row == ('{"weight_g": 71.4}', '{"weight_g": 71.9}')


def test_a_correction_sent_twice_or_of_nothing_is_none(full: FullBatch) -> None:
    assert fix(full, Kept.WEIGH_IN, "weigh 1A1 1", {"weight_g": 71.9})
    before = everything(full.db)
    assert not fix(full, Kept.WEIGH_IN, "weigh 1A1 1", {"weight_g": 60.0})
    assert not fix(full, Kept.WEIGH_IN, "weigh 1A1 1", {"weight_g": 71.9}, "f")
    assert everything(full.db) == before


def test_everything_that_is_kept_can_be_corrected(full: FullBatch) -> None:
    """One field of each; the figures are invented."""
    batch = record_of(full).batch
    tagged = stick(full, "1A1")
    assert fix(full, Kept.BATCH, "batch 1", {"name": "Renamed", "casing_diameter_mm": 21.0}, "e1")
    assert fix(full, Kept.GROUP, batch.groups[0].key, {"target_yield_pct": 74.0}, "e2")
    assert fix(full, Kept.STICK, tagged.key, {"tag": "1A9", "hang_weight_g": 77.5}, "e3")
    assert fix(full, Kept.STAY, "move B", {"from_at": HUNG + timedelta(days=2, hours=3)}, "e4")
    assert fix(full, Kept.RECIPE_LINE, "line3", {"weight_g": 6.25}, "e5")
    assert fix(full, Kept.STEP, "dry", {"note": "windy"}, "e6")
    assert fix(full, Kept.SERIES, COOK.key, {"probe": "thinnest stick"}, "e7")
    assert fix(full, Kept.MEASUREMENT, "aw", {"aw": 0.921, "ph": 5.9}, "e8")
    assert fix(full, Kept.LOOK, "look", {"surface": frozenset({SurfaceFinding.SLIME})}, "e9")
    assert fix(full, Kept.PHOTO, "photo", {"caption": "the day after"}, "e10")
    assert fix(full, Kept.FINISH_PROFILE, "tasted", {"rating": 5}, "e11")
    record = record_of(full)
    assert record.batch.name == "Renamed"
    assert record.batch.groups[0].target_yield_pct == 74.0
    assert stick(full, "1A9").hang_weight_g == 77.5
    assert record.stays[-1].from_at == HUNG + timedelta(days=2, hours=3)
    assert record.recipe[3].weight_g == 6.25
    assert record.steps[0].note == "windy"
    assert record.series[0].probe == "thinnest stick"
    assert (record.measurements[0].aw, record.measurements[0].ph) == (0.921, 5.9)
    assert record.looks[0].surface == frozenset({SurfaceFinding.SLIME})
    assert record.photos[0].caption == "the day after"
    assert record.profiles[0].rating == 5
    assert record.edits[-3].old == {"surface": ["mould"]}


def test_what_is_struck_out_is_read_no_more_and_can_come_back(full: FullBatch) -> None:
    strike_out(full.db, Kept.RECIPE_LINE, "line6", key="s", by=BEN, now=NOW, why="not in it")
    assert "line6" not in {line.key for line in record_of(full).recipe}
    kept = full.db.execute("select name from recipe_line where key = 'line6'").fetchone()
    assert kept == ("Juniper and mustard seed",)
    assert fix(full, Kept.RECIPE_LINE, "line6", {"struck_at": None}, "s2")
    assert "line6" in {line.key for line in entries_of(full.db, RecipeLine, 1)}


def test_a_struck_weigh_in_is_read_nowhere_and_a_struck_stay_neither(full: FullBatch) -> None:
    strike_out(full.db, Kept.STAY, "move B", key="s1", by=BEN, now=NOW)
    assert fix(full, Kept.STAY, "hang B", {"to_at": None})
    group = record_of(full).batch.groups[1]
    assert (group.room, group.hung_at) == ("closet", HUNG)
    assert not stick(full, "1A2").weigh_ins


@pytest.mark.parametrize(
    ("kept", "of", "changes", "says"),
    [
        (Kept.WEIGH_IN, "weigh 1A1 1", {"weight_g": -3.0}, "above 0"),
        (Kept.WEIGH_IN, "weigh 1A1 1", {"taken_at": NOW + timedelta(days=1)}, "in the future"),
        (Kept.WEIGH_IN, "no such key", {"weight_g": 3.0}, "no such entry"),
        (Kept.BATCH, "batch 1", {"name": " "}, "name must be a text"),
        (Kept.BATCH, "batch 1", {"started_at": NOW + timedelta(days=1)}, "in the future"),
        (Kept.RECIPE_LINE, "line3", {"nitrite_pct": 0.0625}, "looks like a fraction"),
        (Kept.STAY, "move B", {"from_at": HUNG + timedelta(hours=1)}, "at the same time"),
        (Kept.STAY, "hang B", {"to_at": None}, "at the same time"),
        (Kept.STAY, "hang B", {"to_at": HUNG - timedelta(days=1)}, "before it starts"),
        (Kept.LOOK, "look", {"squeeze": 9}, "from 1 to 5"),
    ],
)
def test_a_correction_is_held_to_the_same_rules(
    full: FullBatch, kept: Kept, of: str, changes: dict[str, object], says: str
) -> None:
    before = everything(full.db)
    with pytest.raises(InputError, match=says):
        fix(full, kept, of, changes)
    assert everything(full.db) == before


def test_a_tag_in_use_is_not_taken_twice(full: FullBatch) -> None:
    with pytest.raises(InputError, match="1B1 is already in use"):
        fix(full, Kept.STICK, stick(full, "1A1").key, {"tag": "1B1"})


@pytest.mark.parametrize(
    ("kept", "name"),
    [
        (Kept.WEIGH_IN, "tag"),
        (Kept.WEIGH_IN, "key"),
        (Kept.WEIGH_IN, "entered_by"),
        (Kept.SUMS, "sums"),
        (Kept.SUMS, "checked_by"),
        (Kept.PHOTO, "sha256"),
        (Kept.GROUP, "letter"),
        (Kept.STEP, "weight_g"),
    ],
)
def test_what_says_which_entry_it_is_and_what_was_checked_is_fixed(
    full: FullBatch, kept: Kept, name: str
) -> None:
    with pytest.raises(ValueError, match=f"{name} of {kept} cannot be corrected"):
        fix(full, kept, "any", {name: "x"})


def test_a_reading_is_corrected_or_taken_out_and_what_it_was_is_kept(full: FullBatch) -> None:
    second, third = COOK.points[1:3]
    db = full.db
    assert correct_point(db, COOK.key, second.at, 66.9, key="p1", by=ANN, now=NOW)
    assert not correct_point(db, COOK.key, second.at, 1.0, key="p1", by=ANN, now=NOW)
    assert correct_point(db, COOK.key, third.at, None, key="p2", by=ANN, now=NOW)
    assert not correct_point(db, COOK.key, third.at, None, key="p2", by=ANN, now=NOW)
    readings = record_of(full).series[0].points
    kept = (COOK.points[0], replace(second, temperature_c=66.9), COOK.points[3])
    assert readings == kept + points(6.25, 68.9)
    assert [edit.old["temperature_c"] for edit in record_of(full).edits[-2:]] == [64.9, 67.3]
    with pytest.raises(InputError, match="no reading at that time"):
        correct_point(db, COOK.key, third.at, 70.0, key="p3", by=ANN, now=NOW)
    with pytest.raises(InputError, match="Is it in degF"):
        correct_point(db, COOK.key, second.at, 155.0, key="p4", by=ANN, now=NOW)
