"""Tests asked for on the page: the page's table, answered by `notices` in the same row."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlite_utils import Database

from hangroom.store.database import durably
from hangroom.store.moments import from_ms, to_ms

# Later than this nobody waits for a test any more, and it would only puzzle who gets it.
EXPIRES_AFTER = timedelta(minutes=3)


@dataclass(frozen=True, slots=True, kw_only=True)
class NoticeAsk:
    """That somebody wants a test on every channel; `answer`: what came of it, '' while it waits."""

    number: int
    asked_at: datetime
    asked_by: str
    answer: str

    def expired(self, now: datetime) -> bool:
        """Whether it was asked too long ago to be sent, or by a clock that was moved since."""
        return not timedelta(0) <= now - self.asked_at <= EXPIRES_AFTER


def ask_for_test(db: Database, *, key: str, asked_by: str, now: datetime) -> int:
    """Store the ask and return its number; the same key twice is one."""
    with durably(db):
        db.execute(
            "insert or ignore into notice_ask (key, asked_ms, asked_by) values (?, ?, ?)",
            (key, to_ms(now), asked_by),
        )
    return int(db.execute("select id from notice_ask where key = ?", (key,)).fetchone()[0])


def open_asks(db: Database) -> list[NoticeAsk]:
    """Return what waits for an answer, oldest first."""
    return _asks(db, "where answered_ms is null order by id")


def ask_by_number(db: Database, number: int) -> NoticeAsk | None:
    """Return one ask, answered or not."""
    found = _asks(db, "where id = ?", number)
    return found[0] if found else None


def answer_ask(db: Database, number: int, answer: str, *, now: datetime) -> None:
    """Store what came of it."""
    with db.atomic():
        db.execute(
            "update notice_ask set answered_ms = ?, answer = ? where id = ?",
            (to_ms(now), answer, number),
        )


def _asks(db: Database, tail: str, *values: object) -> list[NoticeAsk]:
    rows = db.execute(f"select id, asked_ms, asked_by, answer from notice_ask {tail}", values)  # noqa: S608 - both are this file's own text
    return [
        NoticeAsk(number=number, asked_at=from_ms(asked_ms), asked_by=by, answer=answer)
        for number, asked_ms, by, answer in rows
    ]
