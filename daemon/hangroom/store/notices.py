"""What is told away from the page: notices, and marks of what was looked at. Owned by `notices`.

How far each came on each channel stands in `hangroom.store.deliveries`.
"""

import json
from collections.abc import Iterable, Sequence
from typing import Any

from sqlite_utils import Database

from hangroom.product.notice import Channel, Kind, Notice, Stamp, Urgency
from hangroom.store.database import durably
from hangroom.store.moments import from_ms, to_ms

# What the page reads among the marks: why the channels' file cannot be used, and the last ping.
CHANNELS_FAULT, PINGED = "channels-fault", "pinged"


def keep_notices(
    db: Database,
    notices: Iterable[Notice],
    channels: Sequence[Channel],
    *,
    stamp: Stamp,
    marks: dict[str, Any] | None = None,
) -> int:
    """Store what is not stored yet, for every channel that wants it; return how many are new.

    In one transaction, on the disk, with the marks of what was looked at: a crash loses neither,
    and a notice whose key is there already changes nothing.
    """
    new = 0
    with durably(db):
        for notice in notices:
            row = db.execute(
                "insert into notice (key, kind, urgency, reaches, title, text, about, made_ms,"
                " made_uptime_ms, boot) values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
                " on conflict (key) do nothing returning id",
                (
                    notice.key,
                    notice.kind,
                    notice.urgency,
                    notice.reaches,
                    notice.title,
                    notice.text,
                    notice.about,
                    to_ms(notice.made_at),
                    round(stamp.uptime_s * 1000),
                    stamp.boot_id,
                ),
            ).fetchone()
            if row is None:
                continue
            new += 1
            for channel in channels:
                if channel.wants(notice):
                    db.execute(
                        "insert into delivery (notice_id, channel) values (?, ?)",
                        (row[0], channel.name),
                    )
        for what, body in (marks or {}).items():
            _keep_mark(db, what, body)
    return new


def mark(db: Database, what: str) -> Any:  # noqa: ANN401 - whatever was kept under that name
    """Return what was kept under a name with `keep_notices`, None for nothing."""
    row = db.execute("select body from notice_mark where what = ?", (what,)).fetchone()
    return None if row is None else json.loads(row[0])


def keep_mark(db: Database, what: str, body: object) -> None:
    """Keep something under a name for a later start or the page; the same again is no write."""
    if mark(db, what) == body:
        return
    with db.atomic():
        _keep_mark(db, what, body)


def _keep_mark(db: Database, what: str, body: object) -> None:
    db.execute(
        "insert into notice_mark (what, body) values (?, ?)"
        " on conflict (what) do update set body = excluded.body",
        (what, json.dumps(body)),
    )


def any_new(db: Database, notices: Iterable[Notice]) -> bool:
    """Return whether any of some notices is not stored yet."""
    return any(
        db.execute("select 1 from notice where key = ?", (notice.key,)).fetchone() is None
        for notice in notices
    )


def told_of(db: Database, about: str) -> Kind | None:
    """Return whether an alarm was last told of as on or as over, None where it never was."""
    row = db.execute(
        "select kind from notice where about = ? order by id desc limit 1", (about,)
    ).fetchone()
    return None if row is None else Kind(row[0])


def newest_notices(db: Database, *, most: int) -> list[Notice]:
    """Return the newest notices, the newest first."""
    rows = db.execute(
        "select key, kind, urgency, reaches, title, text, about, made_ms from notice"
        " order by id desc limit ?",
        (most,),
    )
    return [notice_of(row) for row in rows]


def notice_of(row: tuple[str, str, str, str, str, str, str, int]) -> Notice:
    """Return the notice that stands in a row of these columns, in the order of its table."""
    key, kind, urgency, reaches, title, text, about, made_ms = row
    return Notice(
        key=key,
        kind=Kind(kind),
        urgency=Urgency(urgency),
        reaches=Urgency(reaches),
        title=title,
        text=text,
        about=about,
        made_at=from_ms(made_ms),
    )


def channels(db: Database) -> list[Channel]:
    """Return the channels as last read from their file, by name."""
    rows = db.execute("select name, scheme, least, fault from notice_channel order by name")
    return [
        Channel(name=name, scheme=scheme, least=Urgency(least), fault=fault)
        for name, scheme, least, fault in rows
    ]


def keep_channels(db: Database, now_there: Sequence[Channel]) -> None:
    """Store which channels there are; what waits for one that is no more is dropped."""
    with durably(db):
        gone = {channel.name for channel in channels(db)} - {one.name for one in now_there}
        for name in gone:
            db.execute("delete from notice_channel where name = ?", (name,))
            db.execute(
                "update delivery set dropped = 1 where channel = ? and message_id is null", (name,)
            )
            db.execute(
                "update notice_message set state = 'given-up', why = ? where channel = ?"
                " and state in ('sending', 'waiting')",
                ("The channel was taken out of the channels' file.", name),
            )
        for one in now_there:
            db.execute(
                "insert into notice_channel (name, scheme, least, fault) values (?, ?, ?, ?)"
                " on conflict (name) do update set scheme = excluded.scheme,"
                " least = excluded.least, fault = excluded.fault",
                (one.name, one.scheme, one.least, one.fault),
            )
