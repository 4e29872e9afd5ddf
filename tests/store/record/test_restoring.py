"""Exported and taken into another database, the record is the same; a bad file changes nothing."""

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlite_utils import Database
from store.record.full_batch import ANN, GROUPS, NOW, STARTED, WEIGH_INS, FullBatch
from store.record.test_whole import everything

from hangroom.errors import InputError
from hangroom.store.batch_facts import GroupName
from hangroom.store.batches import NewGroup, NewStick, add_batch, batches
from hangroom.store.checks import HEAVIEST_G
from hangroom.store.database import connect, prepare_database
from hangroom.store.migrations import MIGRATIONS
from hangroom.store.record.archive import exported
from hangroom.store.record.edits import Kept, correct
from hangroom.store.record.restoring import restore
from hangroom.store.record.tables import TABLES
from hangroom.store.record.whole import batch_record
from hangroom.store.weigh_ins import add_weigh_in


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Database]:
    """A second database with nothing in it."""
    db = connect(prepare_database(tmp_path / "other"))
    yield db
    db.close()


def written(db: Database) -> Any:  # noqa: ANN401 - JSON
    """The export as another program would read it."""
    return json.loads(json.dumps(exported(db, now=NOW), allow_nan=False))


def test_every_table_of_a_batch_is_exported(full: FullBatch) -> None:
    """Whatever table leads to a batch belongs to its record; reminders, forecasts, plans are not."""
    tables = {
        name
        for (name,) in full.db.execute(
            "select name from sqlite_master where type = 'table'"
        ).fetchall()
    }
    leads = {"batch"}
    for _ in tables:
        leads |= {
            name
            for name in tables
            if any(
                other in leads
                for _, _, other, *_ in full.db.execute(
                    f"pragma foreign_key_list({name})"
                ).fetchall()
            )
        }
    assert leads - {"reminder", "forecast", "plan_wish"} == set(TABLES)
    assert all(written(full.db)["tables"][name] for name in TABLES)


def test_taken_into_an_empty_database_the_record_is_equal(full: FullBatch, empty: Database) -> None:
    restored = restore(empty, written(full.db))
    assert (restored.already, restored.differing, restored.renumbered) == (0, (), {})
    assert written(empty) == written(full.db)
    assert batch_record(empty, 1) == batch_record(full.db, 1)


def test_taken_in_twice_the_second_time_changes_nothing(full: FullBatch, empty: Database) -> None:
    document = written(full.db)
    stored = restore(empty, document).stored
    before = everything(empty)
    again = restore(empty, document)
    assert everything(empty) == before
    assert not again.stored
    assert again.already == sum(stored.values()) == sum(len(r) for r in document["tables"].values())


def test_what_was_corrected_here_since_stays_and_is_told(full: FullBatch, empty: Database) -> None:
    document = written(full.db)
    restore(empty, document)
    changes = {"weight_g": 70.9}
    correct(empty, Kept.WEIGH_IN, "weigh 1A1 1", changes, key="here", by=ANN, now=NOW)
    restored = restore(empty, document)
    assert restored.differing == ("weigh_in 1",)
    weight = empty.execute("select weight_g from weigh_in where key = 'weigh 1A1 1'").fetchone()
    assert weight == (70.9,)


def test_among_other_batches_it_gets_a_number_of_its_own(full: FullBatch, empty: Database) -> None:
    add_batch(empty, name="already here", started_at=STARTED, groups=[])
    restored = restore(empty, written(full.db))
    assert restored.renumbered == {1: 2}
    assert [one.name for one in batches(empty)][1] == "already here"
    mine, theirs = batch_record(full.db, 1), batch_record(empty, 2)
    assert mine is not None
    assert theirs is not None
    assert theirs.recipe == mine.recipe
    assert restore(empty, written(full.db)).stored == {}


def test_a_tag_in_use_there_is_told_and_nothing_is_stored(full: FullBatch, empty: Database) -> None:
    group = replace(GROUPS[0], tagged=[NewStick(tag="1A1", green_weight_g=80.0)])
    add_batch(empty, name="already here", started_at=STARTED, groups=[group])
    before = everything(empty)
    with pytest.raises(InputError, match=r"stick 1: another row here has the same stick\.tag"):
        restore(empty, written(full.db))
    assert everything(empty) == before


def test_a_group_like_one_of_an_earlier_batch_is_still_like_it(
    full: FullBatch, empty: Database
) -> None:
    """The later batch first, as a file in another order would have it."""
    like = batches(full.db)[0].groups[1]
    group = NewGroup(
        letter="A",
        finish="as last time",
        target_yield_pct=62.0,
        sticks=3,
        tagged=[],
        like=GroupName(batch=1, letter=like.letter),
    )
    add_batch(full.db, name="next", started_at=NOW, groups=[group])
    document = written(full.db)
    document["tables"]["stick_group"].reverse()
    restore(empty, document)
    assert batches(empty)[0].groups[0].like == GroupName(batch=1, letter="B")


BAD_ROWS: tuple[tuple[str, int, dict[str, object], str], ...] = (
    ("batch", 1, {"name": None}, "name is missing"),
    ("batch", 1, {"started_at": "2024-11-01T14:00:00"}, "must be a time"),
    ("batch", 1, {"sample": 1}, "must be true or false"),
    ("batch", 1, {"number": True}, "must be a whole number"),
    ("batch", 1, {"number": 2**70}, "must be a whole number"),
    ("batch", 1, {"colour": "red"}, "no 'colour' here"),
    ("stick", 2, {"green_weight_g": "88,1"}, "must be a number"),
    ("stick", 2, {"green_weight_g": float("inf")}, "must be a number"),
    ("stick", 2, {"green_weight_g": -1.0}, "its values cannot be"),
    ("stick", 2, {"stick_group": "nowhere"}, "its stick_group 'nowhere' is not there"),
    ("stick", 2, {"tag": "\ud800"}, "must be a text"),
    ("weigh_in", 3, {"surface": "mould"}, "must be JSON"),
    ("weigh_in", 3, {"surface": ["rust"]}, "cannot be read back"),
    ("weigh_in", 1, {"squeeze": 9}, "its values cannot be"),
    ("recipe_line", 4, {"nitrite_pct": 0.0625}, "cannot be read back"),
    ("recipe_line", 4, {"kind": "glue"}, "cannot be read back"),
    ("frozen_sums", 1, {"sums": [{"what": "x"}]}, "cannot be read back"),
    ("series_point", 2, {"temperature_c": 900.0}, "cannot be read back"),
    ("photo", 1, {"sha256": "../" + "0" * 61}, "cannot be read back"),
    ("stick_group", 1, {"like_key": "nowhere"}, "as dry as one that is not there"),
)


@pytest.mark.parametrize(("table", "place", "changes", "says"), BAD_ROWS)
def test_a_row_that_cannot_be_is_told_and_nothing_is_stored(
    *, full: FullBatch, empty: Database, table: str, place: int, changes: dict[str, Any], says: str
) -> None:
    document = written(full.db)
    document["tables"][table][place - 1] |= changes
    before = everything(empty)
    with pytest.raises(InputError) as refused:
        restore(empty, document)
    assert says in str(refused.value)
    assert everything(empty) == before


def test_every_fault_is_told_at_once(full: FullBatch, empty: Database) -> None:
    document = written(full.db)
    for table, place, changes, _ in BAD_ROWS[:5:2]:
        document["tables"][table][place - 1] |= changes
    document["tables"]["spice_rack"] = []
    document["tables"]["look"] = {}
    with pytest.raises(InputError) as refused:
        restore(empty, document)
    assert len(str(refused.value).splitlines()) == 5


@given(
    weights_g=st.lists(st.floats(min_value=1e-6, max_value=HEAVIEST_G), min_size=1, max_size=200)
)
@settings(max_examples=10, deadline=None)
def test_weights_come_back_to_the_last_bit(weights_g: list[float]) -> None:
    """Through two databases and JSON text, where the shortest text that reads back is written."""
    one, two = (Database(memory=True) for _ in range(2))
    for db in (one, two):
        MIGRATIONS.apply(db)
    add_batch(one, name="x", started_at=STARTED, groups=GROUPS)
    for number, weight_g in enumerate(weights_g):
        add_weigh_in(one, replace(WEIGH_INS[0], key=f"k{number}", weight_g=weight_g))
    restore(two, written(one))
    found = two.execute("select weight_g from weigh_in order by id").fetchall()
    assert found == [(weight_g,) for weight_g in weights_g]
    one.close()
    two.close()
