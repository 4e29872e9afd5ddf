"""Reading the alarm log back; the daemon writes it through its journal."""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from sqlite_utils import Database

from hangroom.alarm_table.log import AlarmEvent
from hangroom.alarm_table.row import AlarmId
from hangroom.alarm_table.words import Event, Suppression, Tell
from hangroom.store.moments import from_ms, to_ms


@dataclass(frozen=True, slots=True, kw_only=True)
class Logged:
    """A line of the alarm log, and what it is about, as `hangroom.alarm_table.log` calls it."""

    scope: str
    event: AlarmEvent


def newest_events(db: Database, scope: str, *, most: int) -> list[Logged]:
    """Return the newest events of a room, the service, a batch or a group, the newest first."""
    return list(_logged(db, "where scope = ? order by id desc limit ?", scope, most))


def events_since(db: Database, since: datetime) -> list[Logged]:
    """Return all that happened from a moment of the record on, in the order it happened."""
    return list(_logged(db, "where at_ms >= ? order by id", to_ms(since)))


def events_between(db: Database, scope: str, since: datetime, until: datetime) -> list[Logged]:
    """Return what happened to the alarms of a room, batch or group in a time, in that order."""
    tail = "where scope = ? and at_ms >= ? and at_ms < ? order by id"
    return list(_logged(db, tail, scope, to_ms(since), to_ms(until)))


def newest_line(db: Database) -> int:
    """Return the number of the log's newest line; 0 without one. Lines are numbered as written."""
    return int(db.execute("select coalesce(max(id), 0) from alarm_event").fetchone()[0])


def lines_after(db: Database, line: int, *, most: int) -> tuple[list[Logged], int]:
    """Return what was written after a line, in that order, and the number of the last one."""
    tail = "id > ? order by id limit ?"
    sql = f"select max(id) from (select id from alarm_event where {tail})"  # noqa: S608 - this file's own text
    (last,) = db.execute(sql, (line, most)).fetchone()
    return list(_logged(db, f"where {tail}", line, most)), line if last is None else int(last)


def newest_sequence(db: Database) -> int:
    """Return the number of the newest event in the log, which is the highest; 0 without one."""
    row = db.execute("select sequence from alarm_event order by id desc limit 1").fetchone()
    return int(row[0]) if row else 0


_COLUMNS = (
    "scope, sequence, at_ms, uptime_ms, alarm, event, tell, suppression, occurrences, by, reason,"
    " figures"
)


def _logged(db: Database, tail: str, *values: object) -> Iterator[Logged]:
    known = frozenset(AlarmId)
    sql = f"select {_COLUMNS} from alarm_event {tail}"  # noqa: S608 - both are this file's own text
    for row in db.execute(sql, values):
        scope, sequence, at_ms, uptime_ms, alarm, event, tell, suppression, *rest = row
        if alarm not in known:
            continue  # an alarm of an older program that is no more
        occurrences, by, reason, figures = rest
        yield Logged(
            scope=scope,
            event=AlarmEvent(
                sequence=sequence,
                at=from_ms(at_ms),
                uptime_s=uptime_ms / 1000,
                alarm=AlarmId(alarm),
                event=Event(event),
                tell=Tell(tell),
                suppression=Suppression(suppression),
                occurrences=occurrences,
                by=by,
                reason=reason,
                # JSON has no word for infinity: what was no finite number was kept as none.
                figures={k: v for k, v in json.loads(figures).items() if v is not None},
            ),
        )
