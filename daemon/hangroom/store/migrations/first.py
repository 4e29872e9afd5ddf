"""The first shape: rooms, readings, commands; requests; batches and their weigh-ins; reminders."""

from sqlite_utils import Database

from hangroom.store.migrations.steps import MIGRATIONS, run


@MIGRATIONS()
def m001_rooms_readings_commands(db: Database) -> None:
    """Create what the daemon writes: rooms and sensors, readings, commands, its own life."""
    run(
        db,
        "create table room (id integer primary key, name text not null unique) strict",
        """create table sensor (
            id integer primary key,
            room_id integer not null references room(id),
            name text not null,
            unique (room_id, name)
        ) strict""",
        # One row per measurement, never per tick. Two of one sensor in one millisecond are one.
        """create table reading (
            sensor_id integer not null references sensor(id),
            taken_ms integer not null,
            uptime_ms integer not null,
            temperature_c real not null,
            humidity_pct real not null,
            primary key (sensor_id, taken_ms)
        ) strict, without rowid""",
        """create table sensor_fault (
            sensor_id integer not null references sensor(id),
            minute_ms integer not null,
            reason text not null,
            times integer not null check (times > 0),
            primary key (sensor_id, minute_ms, reason)
        ) strict, without rowid""",
        """create table command (
            id integer primary key,
            room_id integer not null references room(id),
            given_ms integer not null,
            uptime_ms integer not null,
            relay text not null,
            closed integer not null check (closed in (0, 1)),
            code text not null,
            figures text not null check (json_valid(figures))
        ) strict""",
        "create index command_by_room on command (room_id, given_ms)",
        # One row per run of the daemon: between last_ms and the next started_ms it was off.
        """create table run (
            id integer primary key,
            boot_id text not null,
            version text not null,
            started_ms integer not null,
            last_ms integer not null,
            ended text
        ) strict""",
        """create table event (
            id integer primary key,
            at_ms integer not null,
            kind text not null,
            room_id integer references room(id),
            figures text not null check (json_valid(figures))
        ) strict""",
        "create index event_by_time on event (at_ms)",
    )


@MIGRATIONS()
def m002_requests_and_setpoints(db: Database) -> None:
    """Create the page's wishes and what the daemon made of them."""
    run(
        db,
        """create table request (
            id integer primary key,
            key text not null unique,
            asked_ms integer not null,
            expires_ms integer not null,
            asked_by text not null,
            kind text not null,
            room text not null,
            body text not null check (json_valid(body)),
            answered_ms integer,
            outcome text check (outcome in ('applied', 'refused')),
            answer text
        ) strict""",
        "create index request_open on request (id) where answered_ms is null",
        # The daemon's: what was asked for on the page, kept apart from the history it made.
        """create table setpoint (
            room text not null,
            what text not null,
            value real not null,
            since_ms integer not null,
            set_by text not null,
            primary key (room, what)
        ) strict, without rowid""",
    )


@MIGRATIONS()
def m003_batches(db: Database) -> None:
    """Create what the page writes: batches, groups, where they hang, sticks, weigh-ins."""
    run(
        db,
        """create table batch (
            id integer primary key,
            number integer not null unique,
            name text not null,
            started_ms integer not null,
            note text not null default '',
            sample integer not null default 0 check (sample in (0, 1))
        ) strict""",
        """create table stick_group (
            id integer primary key,
            batch_id integer not null references batch(id),
            letter text not null,
            finish text not null,
            target_yield_pct real not null check (target_yield_pct between 20 and 100),
            sticks integer not null check (sticks > 0),
            unique (batch_id, letter)
        ) strict""",
        """create table hang (
            id integer primary key,
            group_id integer not null references stick_group(id),
            room text not null,
            from_ms integer not null,
            to_ms integer check (to_ms is null or to_ms >= from_ms)
        ) strict""",
        """create table stick (
            id integer primary key,
            group_id integer not null references stick_group(id),
            tag text not null unique,
            green_weight_g real not null check (green_weight_g > 0),
            hang_weight_g real check (hang_weight_g > 0),
            hang_diameter_mm real check (hang_diameter_mm > 0),
            length_mm real check (length_mm > 0)
        ) strict""",
        # `key` is made where the entry is typed: sent twice over a bad link, it is one entry.
        """create table weigh_in (
            id integer primary key,
            key text not null unique,
            stick_id integer not null references stick(id),
            taken_ms integer not null,
            weight_g real not null check (weight_g > 0),
            squeeze integer check (squeeze between 1 and 5),
            wrinkle_mm real check (wrinkle_mm >= 0),
            diameter_mm real check (diameter_mm > 0),
            note text not null default ''
        ) strict""",
        "create index weigh_in_by_stick on weigh_in (stick_id, taken_ms)",
    )


@MIGRATIONS()
def m004_reminders(db: Database) -> None:
    """Create the daemon's reminders: one per batch and local day, however often it looks."""
    run(
        db,
        """create table reminder (
            id integer primary key,
            batch_id integer not null references batch(id),
            due_date text not null,
            due_ms integer not null,
            made_ms integer not null,
            unique (batch_id, due_date)
        ) strict""",
    )
