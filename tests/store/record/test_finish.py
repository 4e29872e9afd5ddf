"""What a tasted group was like: its last weights, its hours, and the air of the rooms it hung in."""

from datetime import timedelta

import pytest
from sqlite_utils import Database
from store.record.full_batch import ANN, HUNG, NOW, FullBatch, weigh_in
from store.record.test_whole import record_of

from hangroom.errors import InputError
from hangroom.store.batch_facts import GroupName
from hangroom.store.hanging import move_group
from hangroom.store.moments import to_ms
from hangroom.store.record.entries import add_entry
from hangroom.store.record.finish import FinishProfile, finish_profile, hung_air, tasted_groups
from hangroom.store.weigh_ins import add_weigh_in

A, B = GroupName(batch=1, letter="A"), GroupName(batch=1, letter="B")


def test_the_profile_is_that_of_the_last_weights_and_of_the_air_while_it_hung(
    full: FullBatch,
) -> None:
    """By hand: 68.3 of 89.1 g and 72.6 of 90.1 g; a day at 12 degC and one at 14 degC."""
    (profile,) = record_of(full).profiles
    assert profile.yield_pct == pytest.approx((100 * 68.3 / 89.1 + 100 * 72.6 / 90.1) / 2)
    assert profile.squeeze == 3
    assert profile.hung_h == pytest.approx(49.0)
    assert profile.air_known_h == pytest.approx(48.0)
    assert profile.air_temperature_c == pytest.approx(13.0)
    assert profile.air_humidity_pct == pytest.approx(80.0)


def test_a_sensor_that_is_read_more_often_counts_no_more(full: FullBatch) -> None:
    """A burst of 500 readings within a minute at 40 degC moves its ten minutes, not the mean."""
    db = full.db
    with db.atomic():
        for count in range(500):
            db.execute(
                "insert into reading (sensor_id, taken_ms, uptime_ms, temperature_c, humidity_pct)"
                " values (1, ?, 0, 40.0, 80.0)",
                (to_ms(HUNG + timedelta(minutes=1)) + count,),
            )
    air = hung_air(db, A, until=NOW)
    # One of 288 stretches rises by less than 28 degC.
    assert air.temperature_c == pytest.approx(13.0, abs=28 / 288)


def test_only_the_rooms_it_hung_in_count_and_only_while_it_hung_there(full: FullBatch) -> None:
    """Group B was in the closet for two days, then in the fridge, which has no reading."""
    with full.db.atomic():
        full.db.execute("insert into room (id, name) values (2, 'attic')")
        full.db.execute("insert into sensor (id, room_id, name) values (2, 2, 'beam')")
        full.db.execute(
            "insert into reading (sensor_id, taken_ms, uptime_ms, temperature_c, humidity_pct)"
            " select 2, taken_ms, 0, 31.0, 40.0 from reading"
        )
    air = hung_air(full.db, B, until=HUNG + timedelta(days=3))
    assert (air.hung_h, air.known_h) == (72.0, 48.0)
    move_group(
        *(full.db, 2), room="closet", at=HUNG + timedelta(days=4), key="back", by=ANN, now=NOW
    )
    first = hung_air(full.db, B, until=HUNG + timedelta(days=1))
    assert first.hung_h == 24.0
    assert first.temperature_c == pytest.approx(12.0)


def test_a_group_that_never_hung_has_no_air_and_one_that_is_not_there_no_profile(
    full: FullBatch,
) -> None:
    full.db.execute("delete from reading")
    air = hung_air(full.db, A, until=NOW)
    assert (air.known_h, air.temperature_c, air.humidity_pct) == (0.0, None, None)
    with pytest.raises(InputError, match="no group C"):
        hung_air(full.db, GroupName(batch=1, letter="C"), until=NOW)


def profile_of(db: Database, name: GroupName, key: str, hours: float) -> FinishProfile:
    tasted_at = HUNG + timedelta(days=3, hours=hours)
    return finish_profile(db, name, key=key, tasted_at=tasted_at, by=ANN, now=NOW, rating=5)


def test_what_was_weighed_after_the_tasting_does_not_count(full: FullBatch) -> None:
    tasted = profile_of(full.db, B, "b1", hours=1)
    add_weigh_in(full.db, weigh_in("1B1", 5, 50.0))
    assert profile_of(full.db, B, "b1", hours=1) == tasted


def test_tasted_groups_come_newest_first_each_with_its_newest_profile(full: FullBatch) -> None:
    for name, key, hours in ((B, "b1", 1), (A, "a2", 2), (B, "b2", 3)):
        add_entry(full.db, 1, profile_of(full.db, name, key, hours))
    tasted = tasted_groups(full.db)
    assert [(one.name, one.profile.key) for one in tasted] == [(B, "b2"), (A, "a2")]
    assert [one.finish for one in tasted] == ["dry, snaps", "supple"]
    assert tasted[0].profile.yield_pct == pytest.approx(100 * 61.7 / 89.1)
