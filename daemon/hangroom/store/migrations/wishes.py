"""What a person asks of the rooms: stages, overrides, setpoints per stage, salt checks, and who."""

from sqlite_utils import Database

from hangroom.store.migrations.steps import MIGRATIONS, run

# When it began, on both clocks; `lasts_ms` null: no end. `boot_id`: whose uptime that is.
_BEGAN = """
    boot_id text not null,
    since_uptime_ms integer not null,
    since_ms integer not null,
"""


@MIGRATIONS()
def m070_what_a_person_asks(db: Database) -> None:
    """Create the daemon's tables of what was asked for on the page and outlasts a restart."""
    run(
        db,
        # Who and why, and other words that belong to an event.
        "alter table event add column words text not null default '{}' check (json_valid(words))",
        # A setpoint belongs to the stage it was asked for in; so far there was only one.
        "alter table setpoint rename to setpoint_of_a_room",
        """create table setpoint (
            room text not null,
            stage text not null,
            what text not null,
            value real not null,
            since_ms integer not null,
            set_by text not null,
            primary key (room, stage, what)
        ) strict, without rowid""",
        "insert into setpoint select room, 'hang', what, value, since_ms, set_by"
        " from setpoint_of_a_room",
        "drop table setpoint_of_a_room",
        f"""create table stage_run (
            room text not null primary key,
            stage text not null,
            {_BEGAN}
            lasts_ms integer check (lasts_ms > 0),
            then_stage text,
            begun_by text not null,
            batch integer
        ) strict, without rowid""",
        f"""create table override (
            room text not null,
            relay text not null,
            {_BEGAN}
            lasts_ms integer not null check (lasts_ms > 0),
            closed integer not null check (closed in (0, 1)),
            asked_by text not null,
            why text not null,
            primary key (room, relay)
        ) strict, without rowid""",
        # Every check is kept; a forgotten one no longer counts.
        """create table salt_check (
            id integer primary key,
            room text not null,
            sensor text not null,
            salt text not null,
            read_pct real not null,
            temperature_c real not null,
            checked_ms integer not null,
            checked_by text not null,
            forgotten_ms integer
        ) strict""",
        "create index salt_check_by_sensor on salt_check (room, sensor)",
    )
