"""Reminders that are asked again, snoozed and done; and one summary of every morning."""

from sqlite_utils import Database

from hangroom.store.migrations.steps import MIGRATIONS, run


@MIGRATIONS()
def m130_reminders_by_room_and_time(db: Database) -> None:
    """Keep the daemon's reminders by batch, room, local day and time; older ones are over."""
    run(
        db,
        # `since_ms`: when the first look that nobody made came due, of those in a row. `snoozed_ms`
        # until when nobody is asked. `title`, `text`: as asked last.
        """create table reminder_by_room (
            id integer primary key,
            batch_id integer not null references batch(id),
            room text not null,
            due_date text not null,
            due_clock text not null,
            due_ms integer not null,
            since_ms integer not null,
            made_ms integer not null,
            asked_ms integer not null,
            times_asked integer not null check (times_asked >= 1),
            snoozed_ms integer,
            snoozed_by text not null default '',
            ended_ms integer,
            ended_why text check (ended_why in ('done', 'missed', 'gone')),
            title text not null,
            text text not null,
            unique (batch_id, room, due_date, due_clock),
            check ((ended_ms is null) = (ended_why is null))
        ) strict""",
        """insert into reminder_by_room (batch_id, room, due_date, due_clock, due_ms, since_ms,
            made_ms, asked_ms, times_asked, ended_ms, ended_why, title, text)
            select batch_id, '', due_date, '', due_ms, due_ms, made_ms, made_ms, 1, made_ms, 'gone',
            '', '' from reminder""",
        "drop table reminder",
        "alter table reminder_by_room rename to reminder",
        "create index open_reminder on reminder (batch_id, room) where ended_ms is null",
    )


@MIGRATIONS()
def m131_morning_summaries(db: Database) -> None:
    """Create the daemon's summaries: one per local day, however often it is made."""
    run(
        db,
        """create table morning_summary (
            day text not null primary key,
            made_ms integer not null,
            title text not null,
            text text not null
        ) strict, without rowid""",
    )
