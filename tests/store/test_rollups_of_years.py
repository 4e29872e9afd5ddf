"""What a night's roll-up costs: in proportion to the record, however many years it holds.

Counted in steps of SQLite's virtual machine, not in seconds: the same on every machine. A walk that
went through all that was rolled before for each quarter of a day would take the square of it, and
after some years the whole night on a small Pi.
"""

from datetime import UTC, datetime, timedelta

from sqlite_utils import Database

from hangroom.store.migrations import MIGRATIONS
from hangroom.store.moments import to_ms
from hangroom.store.rollups import QUARTER_MS, roll_up

START = datetime(2026, 1, 1, tzinfo=UTC)
RELAYS = ("cooling", "circulation-fan", "exhaust-fan", "humidifier")
STEPS_AT_A_TIME = 100


def house(days: int) -> Database:
    """A room that was read, and whose relays were switched, once in each quarter of an hour."""
    db = Database(memory=True)
    MIGRATIONS.apply(db)
    start_ms, end_ms = to_ms(START), to_ms(START + timedelta(days=days))
    db.execute("insert into room (id, name) values (1, 'closet')")
    db.execute("insert into sensor (id, room_id, name) values (1, 1, 'rail')")
    db.execute(
        "insert into run (boot_id, version, started_ms, last_ms) values ('b', '0', ?, ?)",
        (start_ms, end_ms),
    )
    for at_ms in range(start_ms, end_ms, QUARTER_MS):
        db.execute(
            "insert into reading (sensor_id, taken_ms, uptime_ms, temperature_c, humidity_pct)"
            " values (1, ?, 0, 13, 76)",
            (at_ms,),
        )
        for relay in RELAYS:
            db.execute(
                "insert into command (room_id, given_ms, uptime_ms, relay, closed, code, figures)"
                " values (1, ?, 0, ?, ?, 'too-dry', '{}')",
                (at_ms, relay, at_ms // QUARTER_MS % 2),
            )
    db.conn.commit()
    return db


def steps_of_a_night(days: int) -> int:
    """How many steps it takes to find that nothing of a record of so many days is left to do."""
    db, now = house(days), START + timedelta(days=days, hours=1)
    assert roll_up(db, now=now, everything=True) == days * 96
    assert db.execute("select count(*) from relay_rollup").fetchone() == (days * 96 * len(RELAYS),)
    steps = 0

    def count() -> int:
        nonlocal steps
        steps += STEPS_AT_A_TIME
        return 0

    db.conn.set_progress_handler(count, STEPS_AT_A_TIME)
    assert roll_up(db, now=now, everything=True) == 0
    db.conn.set_progress_handler(None, 0)
    db.close()
    return steps


def test_a_night_over_a_longer_record_takes_longer_only_in_proportion() -> None:
    """Four times the days, at most five times the steps; a square would make it sixteen."""
    assert steps_of_a_night(40) < 5 * steps_of_a_night(10)
