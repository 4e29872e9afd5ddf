"""The record's tables and what is said of them agree; an older database keeps what it has."""

from dataclasses import fields
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlite_utils import Database, Migrations

from hangroom.store.batches import batches
from hangroom.store.database import FILE_NAME, connect, prepare_database
from hangroom.store.migrations import MIGRATIONS
from hangroom.store.record.entries import GROUP, Entry, columns_of
from hangroom.store.record.finish import FinishProfile
from hangroom.store.record.looks import Look, Measurement
from hangroom.store.record.photos import Photo
from hangroom.store.record.recipe import RecipeLine
from hangroom.store.record.series import Series
from hangroom.store.record.steps import Step
from hangroom.store.record.sums import FrozenSums
from hangroom.store.record.tables import FLAGS, JSON_COLUMNS, TABLES, Form, columns_of_table

KINDS = (RecipeLine, FrozenSums, Step, Series, Measurement, Look, Photo, FinishProfile)


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_an_entry_has_a_field_for_each_column_of_its_table(db: Database, kind: type[Entry]) -> None:
    told = {row[1] for row in db.execute(f"pragma table_info({kind.TABLE})").fetchall()}
    group = {"group_id"} if GROUP in {field.name for field in fields(kind)} else set()
    assert {"id", "batch_id", *group, *columns_of(kind).values()} == told


def test_what_is_json_or_a_flag_is_told_from_text_and_numbers(db: Database) -> None:
    """As the tables' own checks have it."""
    for table in TABLES:
        (sql,) = db.execute("select sql from sqlite_master where name = ?", (table,)).fetchone()
        for column in columns_of_table(db, table):
            assert (f"json_valid({column.name})" in sql) == (column.form is Form.JSON)
            assert (f"check ({column.name} in (0, 1))" in sql) == (column.form is Form.FLAG)
            assert (column.name in JSON_COLUMNS | FLAGS) == (column.form in {Form.JSON, Form.FLAG})


@pytest.fixture
def older(tmp_path: Path) -> Path:
    """A folder as the first version left it, with two batches."""
    first = Migrations(MIGRATIONS.name)
    for step in MIGRATIONS.pending(Database(memory=True)):
        if step.name < "m01":
            first(name=step.name)(step.fn)
    db = connect(tmp_path / FILE_NAME)
    first.apply(db)
    with db.atomic():
        for number in (1, 2):
            db.execute(
                "insert into batch (number, name, started_ms) values (?, 'old', 1730469600000)",
                (number,),
            )
            db.execute(
                "insert into stick_group (batch_id, letter, finish, target_yield_pct, sticks)"
                " values (?, 'A', 'supple', 72.5, 12)",
                (number,),
            )
            db.execute(
                "insert into hang (group_id, room, from_ms) values (?, 'closet', 1730502000000)",
                (number,),
            )
            db.execute(
                "insert into stick (group_id, tag, green_weight_g) values (?, ?, 88.1)",
                (number, f"{number}A1"),
            )
            db.execute(
                "insert into weigh_in (key, stick_id, taken_ms, weight_g)"
                " values (?, ?, 1730588400000, 71.4)",
                (f"k{number}", number),
            )
    db.close()
    return tmp_path


def test_an_older_database_keeps_its_batches_and_gets_keys(older: Path) -> None:
    db = connect(prepare_database(older))
    found = batches(db)
    (look,) = found[0].groups[0].tagged[0].weigh_ins
    assert [one.name for one in found] == ["old", "old"]
    assert (look.weight_g, look.surface) == (71.4, None)
    assert found[0].groups[0].hung_at == datetime(2024, 11, 1, 23, tzinfo=UTC)
    for table in ("batch", "stick_group", "stick", "hang"):
        keys = [key for (key,) in db.execute(f"select key from {table}").fetchall()]  # noqa: S608
        assert len(set(keys)) == 2
        assert "" not in keys
    entered = db.execute("select entered_ms - taken_ms from weigh_in").fetchall()
    assert entered == [(0,), (0,)]
    db.close()
