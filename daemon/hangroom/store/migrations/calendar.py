"""The calendar that phones subscribe to: its secret addresses, and what was last published."""

from sqlite_utils import Database

from hangroom.store.migrations.steps import MIGRATIONS, run


@MIGRATIONS()
def m150_calendar(db: Database) -> None:
    """Create the page's tables of the calendar.

    Of an address only the SHA-256 of its secret is kept. An event keeps its uid and sequence for
    good, so that one that comes back is moved in a phone and not doubled.
    """
    run(
        db,
        """create table calendar_identity (
            id integer primary key check (id = 1),
            domain text not null
        ) strict""",
        # What makes a uid this household's own among all others; a restored backup keeps it.
        "insert into calendar_identity (id, domain) values (1, lower(hex(randomblob(16))))",
        """create table calendar_address (
            id integer primary key,
            key text not null unique,
            secret_sha256 text not null unique,
            label text not null,
            made_ms integer not null,
            made_by text not null,
            used_ms integer,
            revoked_ms integer,
            revoked_by text not null default ''
        ) strict""",
        """create table calendar_event (
            uid text primary key,
            sequence integer not null,
            changed_ms integer not null,
            cancelled integer not null check (cancelled in (0, 1)),
            tentative integer not null check (tentative in (0, 1)),
            starts_ms integer not null,
            ends_ms integer not null,
            remind_ms integer,
            title text not null,
            text text not null,
            path text not null
        ) strict""",
    )
