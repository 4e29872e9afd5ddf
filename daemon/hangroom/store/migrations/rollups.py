"""Roll-ups, which the daemon's job writes: what a picture of weeks reads instead of every row."""

from sqlite_utils import Database

from hangroom.store.migrations.steps import MIGRATIONS, run


@MIGRATIONS()
def m160_rollups(db: Database) -> None:
    """Create the minutes and quarters of an hour of each sensor, the quarters of each relay."""
    run(
        db,
        # `long_s`: 60 or 900. A stretch without readings has no row.
        """create table air_rollup (
            sensor_id integer not null references sensor(id),
            long_s integer not null,
            starts_ms integer not null,
            readings integer not null check (readings > 0),
            lowest_c real not null,
            mean_c real not null,
            highest_c real not null,
            lowest_pct real not null,
            mean_pct real not null,
            highest_pct real not null,
            primary key (sensor_id, long_s, starts_ms)
        ) strict, without rowid""",
        # How long the relay was on, and for how much of the stretch the daemon ran.
        """create table relay_rollup (
            room_id integer not null references room(id),
            relay text not null,
            starts_ms integer not null,
            on_ms integer not null,
            known_ms integer not null,
            primary key (room_id, relay, starts_ms)
        ) strict, without rowid""",
    )
