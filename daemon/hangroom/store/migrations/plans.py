"""What humidity is planned for a room: wishes, proposals, and the proposal that is in use."""

from sqlite_utils import Database

from hangroom.store.migrations.steps import MIGRATIONS, run


@MIGRATIONS()
def m120_humidity_plans(db: Database) -> None:
    """Create the daemon's tables of humidity plans; a plan in use is one that has not ended."""
    run(
        db,
        # `wanted_ms` null: as soon as it can be while it dries gently.
        """create table plan_wish (
            group_id integer primary key references stick_group(id),
            room text not null,
            wanted_ms integer,
            asked_ms integer not null,
            asked_by text not null
        ) strict""",
        # A row holds one proposal as JSON, or why there is none. A number never comes again: a page
        # that was left open must not use another plan than the one it shows.
        """create table plan (
            id integer primary key autoincrement,
            room text not null,
            made_ms integer not null,
            cause text not null check (cause in ('asked', 'daily')),
            body text check (body is null or json_valid(body)),
            error text not null default '',
            check ((body is null) = (error <> ''))
        ) strict""",
        "create index plan_by_room on plan (room, id)",
        """create table plan_run (
            room text not null primary key,
            plan_id integer not null references plan(id),
            begun_ms integer not null,
            begun_by text not null,
            ended_ms integer,
            ended_by text not null default '',
            ended_why text not null default '',
            check ((ended_ms is null) = (ended_why = ''))
        ) strict, without rowid""",
    )
