"""What is told away from the page: notices, how far they came on each channel, and asked tests."""

from sqlite_utils import Database

from hangroom.store.migrations.steps import MIGRATIONS, run


@MIGRATIONS()
def m140_notices(db: Database) -> None:
    """Create the tables of the notices process; `notice_ask` is the page's, answered in place.

    No address is kept: a channel's name and the kind of its service are all that is known here.
    `boot` names the run of the machine that `_uptime_ms` counts in.
    """
    run(
        db,
        # One fact is one notice: the key decides, so that a look may be repeated without harm.
        """create table notice (
            id integer primary key,
            key text not null unique,
            kind text not null,
            urgency text not null check (urgency in ('high', 'medium', 'low')),
            reaches text not null check (reaches in ('high', 'medium', 'low')),
            title text not null,
            text text not null,
            about text not null,
            made_ms integer not null,
            made_uptime_ms integer not null,
            boot text not null
        ) strict""",
        "create index notice_by_about on notice (about, id) where about <> ''",
        # One message carries one or several notices on one channel; once it was tried its token
        # and its notices stay, so that a receiver can tell a message that comes again.
        """create table notice_message (
            id integer primary key,
            token text not null unique,
            channel text not null,
            high integer not null check (high in (0, 1)),
            state text not null check (state in ('sending', 'waiting', 'delivered', 'given-up')),
            tries integer not null,
            made_ms integer not null,
            tried_ms integer not null,
            tried_uptime_ms integer not null,
            boot text not null,
            why text not null default ''
        ) strict""",
        "create index notice_message_open on notice_message (channel, id)"
        " where state in ('sending', 'waiting')",
        # Without a message it waits for its first; `dropped`: its channel is no more.
        """create table delivery (
            notice_id integer not null references notice(id),
            channel text not null,
            message_id integer references notice_message(id),
            dropped integer not null default 0 check (dropped in (0, 1)),
            primary key (notice_id, channel)
        ) strict, without rowid""",
        "create index delivery_open on delivery (channel, notice_id)"
        " where message_id is null and dropped = 0",
        "create index delivery_by_message on delivery (message_id) where message_id is not null",
        """create table notice_channel (
            name text not null primary key,
            scheme text not null,
            least text not null check (least in ('high', 'medium', 'low')),
            fault text not null default ''
        ) strict, without rowid""",
        """create table notice_mark (
            what text not null primary key,
            body text not null check (json_valid(body))
        ) strict, without rowid""",
        """create table notice_ask (
            id integer primary key,
            key text not null unique,
            asked_ms integer not null,
            asked_by text not null,
            answered_ms integer,
            answer text not null default '',
            check ((answered_ms is null) = (answer = ''))
        ) strict""",
        "create index notice_ask_open on notice_ask (id) where answered_ms is null",
    )
