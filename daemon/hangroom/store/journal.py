"""What the daemon notes: readings, commands, faults, its own life. Its tables, its connection.

Rows are gathered in memory and written once a minute in one transaction, to spare the card;
what cannot be written (disk full, file gone) stays in memory up to a bound, oldest dropped
first, and is written later. Control never waits for this and never fails by it.
"""

import json
import sqlite3
from collections import Counter, deque
from collections.abc import Mapping
from datetime import datetime
from math import isfinite
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter
from sqlite_utils import Database

from hangroom.alarm_table.log import AlarmEvent
from hangroom.store.database import connect, explained
from hangroom.store.moments import from_ms, to_ms
from hangroom.terms import AirReading, Command, RoomPlan

# A day of one room at one reading every 6 s is 14,400 rows; this holds days of two rooms.
MOST_ROWS_IN_MEMORY = 100_000

_READING = "insert or ignore into reading values (?, ?, ?, ?, ?, ?, ?)"
_COMMAND = (
    "insert into command (room_id, given_ms, uptime_ms, relay, closed, code, figures, run_id)"
    " values (?, ?, ?, ?, ?, ?, ?, ?)"
)
_TICKS = "update run set start_uptime_ms = ?, tick_ms = ? where id = ?"
_MISSED = "insert into missed_ticks (run_id, after_uptime_ms, next_uptime_ms) values (?, ?, ?)"
_PLAN = "insert into room_plan (run_id, room_id, uptime_ms, plan) values (?, ?, ?, ?)"
_EVENT = "insert into event (at_ms, kind, room_id, figures, words) values (?, ?, ?, ?, ?)"
_ALARM = (
    "insert into alarm_event (sequence, at_ms, uptime_ms, scope, alarm, event, tell, suppression,"
    " occurrences, by, reason, figures) values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
)
_START = "insert into room_start (run_id, room_id, gap_ms, memory) values (?, ?, ?, ?)"
_KEEP = (
    "insert into control_memory (what, run_id, saved_ms, body) values (?, ?, ?, ?)"
    " on conflict (what) do update"
    " set run_id = excluded.run_id, saved_ms = excluded.saved_ms, body = excluded.body"
)
_FAULT = (
    "insert into sensor_fault values (?, ?, ?, ?)"
    " on conflict (sensor_id, minute_ms, reason) do update set times = times + excluded.times"
)


# A plan as JSON, which `hangroom.store.replay` reads back.
PLAN_FORM = TypeAdapter(RoomPlan)


class Journal:
    """The daemon's notebook. `start` once, then note, then `flush` about once a minute.

    `off_since`: until when the run before this one lived, None where there was none.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._db: Database | None = None
        self._run_id: int | None = None
        self.off_since: datetime | None = None
        self._rooms: dict[str, int] = {}
        self._sensors: dict[tuple[str, str], int] = {}
        self._rows: deque[tuple[str, tuple[object, ...]]] = deque(maxlen=MOST_ROWS_IN_MEMORY)
        self._fault_totals: Counter[tuple[int, str]] = Counter()
        self._unwritten_bodies: dict[str, str] = {}

    def start(
        self, rooms: Mapping[str, list[str]], *, boot_id: str, version: str, now: datetime
    ) -> None:
        """Register the rooms with their sensors' names and this run; StoreError if it cannot."""
        with explained(self._path):
            self._db = db = connect(self._path)
            with db.atomic():
                for room, sensors in rooms.items():
                    self._rooms[room] = _id_of(db, "room", {"name": room})
                    for sensor in sensors:
                        key = {"room_id": self._rooms[room], "name": sensor}
                        self._sensors[room, sensor] = _id_of(db, "sensor", key)
                before = db.execute("select last_ms from run order by id desc limit 1").fetchone()
                self.off_since = from_ms(before[0]) if before else None
                self._run_id = db.execute(
                    "insert into run (boot_id, version, started_ms, last_ms) values (?, ?, ?, ?)",
                    (boot_id, version, to_ms(now), to_ms(now)),
                ).lastrowid
            # From here on the loop writes: half a tick of patience with another writer, no more.
            db.execute("pragma busy_timeout = 1000")

    @property
    def unwritten_rows(self) -> int:
        """How many rows wait in memory; far more than a minute's worth means trouble."""
        return len(self._rows)

    def begin_ticks(self, *, start_uptime_s: float, tick_s: float) -> None:
        """Note that ticks come every `tick_s` from then on."""
        self._rows.append((_TICKS, (_ms(start_uptime_s), _ms(tick_s), self._run_id)))

    def note_missed_ticks(self, *, after_uptime_s: float, next_uptime_s: float) -> None:
        """Note that no tick was made between these two."""
        self._rows.append((_MISSED, (self._run_id, _ms(after_uptime_s), _ms(next_uptime_s))))

    def note_start(self, room: str, kept: object, *, gap_s: float) -> None:
        """Note the memory a room was started with, and how long ago it was kept."""
        row = (self._run_id, self._rooms[room], _ms(gap_s), json.dumps(kept))
        self._rows.append((_START, row))

    def note_plan(self, room: str, plan: RoomPlan, *, uptime_s: float) -> None:
        """Note the plan that holds from this tick on."""
        text = PLAN_FORM.dump_json(plan).decode()
        self._rows.append((_PLAN, (self._run_id, self._rooms[room], _ms(uptime_s), text)))

    def note_reading(
        self, room: str, sensor: str, reading: AirReading, *, seen_uptime_s: float
    ) -> None:
        """Note one measurement, and the tick that first saw it."""
        row = (
            self._sensors[room, sensor],
            to_ms(reading.taken_at),
            _ms(reading.taken_uptime_s),
            reading.temperature_c,
            reading.humidity_pct,
            self._run_id,
            _ms(seen_uptime_s),
        )
        self._rows.append((_READING, row))

    def note_faults(
        self, room: str, sensor: str, totals: Mapping[str, int], *, now: datetime
    ) -> None:
        """Note how many measurements failed since the last call, from running totals by reason."""
        sensor_id = self._sensors[room, sensor]
        minute_ms = to_ms(now) // 60_000 * 60_000
        for reason, total in totals.items():
            more = total - self._fault_totals[sensor_id, reason]
            self._fault_totals[sensor_id, reason] = total
            if more > 0:
                self._rows.append((_FAULT, (sensor_id, minute_ms, reason, more)))

    def note_command(self, room: str, command: Command, *, now: datetime, uptime_s: float) -> None:
        """Note a command that has been carried out."""
        row = (
            self._rooms[room],
            to_ms(now),
            _ms(uptime_s),
            str(command.relay),
            int(command.closed),
            command.because.code,
            _figures(command.because.figures),
            self._run_id,
        )
        self._rows.append((_COMMAND, row))

    def note_event(
        self,
        kind: str,
        *,
        now: datetime,
        figures: Mapping[str, float],
        room: str = "",
        words: Mapping[str, str] | None = None,
    ) -> None:
        """Note something that happened to the program itself, or in a room what a person did."""
        row = (
            to_ms(now),
            kind,
            self._rooms.get(room),
            _figures(figures),
            json.dumps(dict(words or {})),
        )
        self._rows.append((_EVENT, row))

    def note_alarm(self, scope: str, event: AlarmEvent) -> None:
        """Note what happened to an alarm of a room, the service, a batch or a group."""
        row = (
            event.sequence,
            to_ms(event.at),
            _ms(event.uptime_s),
            scope,
            str(event.alarm),
            str(event.event),
            str(event.tell),
            str(event.suppression),
            event.occurrences,
            event.by,
            event.reason,
            _figures(event.figures),
        )
        self._rows.append((_ALARM, row))

    def keep(self, what: str, body: Mapping[str, Any]) -> None:
        """Have this under that name at the next start; the newest body is written with a flush."""
        self._unwritten_bodies[what] = json.dumps(body)

    def flush(self, *, now: datetime, ended: str | None = None) -> bool:
        """Write what waits, and that the daemon lives; return whether it could be written.

        `ended`: why this run ends, where it does.
        """
        db = self._db
        if db is None:
            return False
        try:
            with db.atomic():
                for sql, row in self._rows:
                    db.execute(sql, row)
                for what, body in self._unwritten_bodies.items():
                    db.execute(_KEEP, (what, self._run_id, to_ms(now), body))
                db.execute(
                    "update run set last_ms = ?, ended = ? where id = ?",
                    (to_ms(now), ended, self._run_id),
                )
        except sqlite3.Error:
            return False
        self._rows.clear()
        self._unwritten_bodies.clear()
        return True

    def close(self) -> None:
        """Let go of the file. Safe to call twice."""
        if self._db is not None:
            self._db.close()
            self._db = None


def _id_of(db: Database, table: str, key: Mapping[str, object]) -> int:
    names, values = ", ".join(key), tuple(key.values())
    places, where = ", ".join("?" * len(key)), " and ".join(f"{name} = ?" for name in key)
    # The names are this file's own, never input.
    db.execute(f"insert or ignore into {table} ({names}) values ({places})", values)  # noqa: S608
    row = db.execute(f"select id from {table} where {where}", values).fetchone()  # noqa: S608
    return int(row[0])


def _ms(uptime_s: float) -> int:
    return round(uptime_s * 1000)


def _figures(figures: Mapping[str, float]) -> str:
    # JSON has no word for infinity; the column would refuse it, and with it the whole minute.
    return json.dumps(
        {name: round(value, 3) if isfinite(value) else None for name, value in figures.items()}
    )
