"""How far each notice came on each channel. Owned by `notices`, as `hangroom.store.notices` is.

A message carries one or several notices on one channel. It is stored before it is tried, with a
token that stays the same however often it is tried, so that a receiver can tell it again.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from sqlite_utils import Database

from hangroom.product.notice import Notice, Stamp
from hangroom.store.database import durably
from hangroom.store.moments import from_ms, to_ms
from hangroom.store.notices import notice_of


class State(StrEnum):
    """Where a message is: under way, waiting for its next try, taken, or not tried any more."""

    SENDING = "sending"
    WAITING = "waiting"
    DELIVERED = "delivered"
    GIVEN_UP = "given-up"


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """A notice that is in no message of a channel yet."""

    number: int
    notice: Notice
    made: Stamp


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """Notices on their way on one channel. `tried`: when last; `why`: what came of it."""

    number: int
    token: str
    channel: str
    high: bool
    state: State
    tries: int
    tried: Stamp
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Undelivered:
    """An alarm's notice that has not arrived on a channel though it was tried."""

    channel: str
    tries: int
    why: str
    given_up: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Carried:
    """What a channel has done: when it last delivered, how many notices wait and were given up."""

    last_delivered_at: datetime | None
    waiting: int
    given_up: int
    why: str


_NOTICE = "key, kind, urgency, reaches, title, text, about, notice.made_ms"
_MESSAGE = "id, token, channel, high, state, tries, tried_uptime_ms, tried_ms, boot, why"


def waiting_on(db: Database, channel: str) -> list[Waiting]:
    """Return what waits for a first message on a channel, oldest first."""
    rows = db.execute(
        f"select notice.id, made_uptime_ms, boot, {_NOTICE} from delivery"  # noqa: S608 - this file's own text
        " join notice on notice.id = notice_id where channel = ? and message_id is null"
        " and dropped = 0 order by notice.id",
        (channel,),
    )
    return [
        Waiting(number=number, notice=notice_of(tuple(row)), made=_stamp(boot, uptime_ms, row[-1]))
        for number, uptime_ms, boot, *row in rows
    ]


def open_messages(db: Database, channel: str) -> list[Message]:
    """Return the messages of a channel that have not arrived yet, oldest first."""
    return _messages(db, "where channel = ? and state in ('sending', 'waiting')", channel)


def newest_messages(db: Database, channel: str, *, most: int) -> list[Message]:
    """Return the messages last begun on a channel that nobody need act on at once, oldest first."""
    found = _messages(db, "where channel = ? and high = 0 order by id desc limit ?", channel, most)
    return found[::-1]


def notices_in(db: Database, message: int) -> list[Notice]:
    """Return what a message carries, oldest first."""
    rows = db.execute(
        f"select {_NOTICE} from delivery join notice on notice.id = notice_id"  # noqa: S608 - this file's own text
        " where message_id = ? order by notice.id",
        (message,),
    )
    return [notice_of(row) for row in rows]


def begin(
    db: Database, channel: str, numbers: Sequence[int], *, token: str, high: bool, stamp: Stamp
) -> Message:
    """Store a new message that is about to be tried, and return it."""
    with durably(db):
        (number,) = db.execute(
            "insert into notice_message (token, channel, high, state, tries, made_ms, tried_ms,"
            " tried_uptime_ms, boot) values (?, ?, ?, ?, 1, ?, ?, ?, ?) returning id",
            (token, channel, int(high), State.SENDING, to_ms(stamp.at), *_columns(stamp)),
        ).fetchone()
        for one in numbers:
            db.execute(
                "update delivery set message_id = ? where notice_id = ? and channel = ?",
                (number, one, channel),
            )
    return _message(db, number)


def begin_again(db: Database, number: int, *, stamp: Stamp) -> Message:
    """Store that a message is about to be tried once more, and return it."""
    with durably(db):
        db.execute(
            "update notice_message set state = ?, tries = tries + 1, tried_ms = ?,"
            " tried_uptime_ms = ?, boot = ? where id = ?",
            (State.SENDING, *_columns(stamp), number),
        )
    return _message(db, number)


def end_try(db: Database, number: int, state: State, why: str, *, stamp: Stamp) -> None:
    """Store what came of a try; the next one counts from then."""
    with durably(db):
        db.execute(
            "update notice_message set state = ?, why = ?, tried_ms = ?, tried_uptime_ms = ?,"
            " boot = ? where id = ?",
            (state, why, *_columns(stamp), number),
        )


def undelivered_of(db: Database, about: str) -> list[Undelivered]:
    """Return on which channels the newest notice of an alarm has not arrived though tried."""
    rows = db.execute(
        "select delivery.channel, tries, why, state from delivery"
        " join notice_message on notice_message.id = message_id where state <> 'delivered'"
        " and why <> '' and notice_id = (select id from notice where about = ?"
        " order by id desc limit 1) order by delivery.channel",
        (about,),
    )
    return [
        Undelivered(channel=channel, tries=tries, why=why, given_up=state == State.GIVEN_UP)
        for channel, tries, why, state in rows
    ]


def carried_on(db: Database, channel: str) -> Carried:
    """Return what a channel has done so far."""
    (last_ms,) = db.execute(
        "select max(tried_ms) from notice_message where channel = ? and state = 'delivered'",
        (channel,),
    ).fetchone()
    waiting, given_up = db.execute(
        "select count(*) filter (where dropped = 0 and (state is null or state in"
        " ('sending', 'waiting'))), count(*) filter (where state = 'given-up') from delivery"
        " left join notice_message on notice_message.id = message_id where delivery.channel = ?",
        (channel,),
    ).fetchone()
    row = db.execute(
        "select why from notice_message where channel = ? and state in ('waiting', 'sending')"
        " and why <> '' order by tried_ms desc limit 1",
        (channel,),
    ).fetchone()
    return Carried(
        last_delivered_at=None if last_ms is None else from_ms(last_ms),
        waiting=int(waiting),
        given_up=int(given_up),
        why="" if row is None else str(row[0]),
    )


def _columns(stamp: Stamp) -> tuple[int, int, str]:
    return to_ms(stamp.at), round(stamp.uptime_s * 1000), stamp.boot_id


def _stamp(boot: str, uptime_ms: int, at_ms: int) -> Stamp:
    return Stamp(boot_id=boot, uptime_s=uptime_ms / 1000, at=from_ms(at_ms))


def _message(db: Database, number: int) -> Message:
    return _messages(db, "where id = ?", number)[0]


def _messages(db: Database, tail: str, *values: object) -> list[Message]:
    sql = f"select {_MESSAGE} from notice_message {tail}"  # noqa: S608 - both are this file's own text
    return [
        Message(
            number=number,
            token=token,
            channel=channel,
            high=bool(high),
            state=State(state),
            tries=tries,
            tried=_stamp(boot, uptime_ms, tried_ms),
            why=why,
        )
        for number, token, channel, high, state, tries, uptime_ms, tried_ms, boot, why in (
            db.execute(sql, values)
        )
    ]
