"""Reading back what control went by and what it told, run by run, so that it can be done again."""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from hangroom.store.journal import PLAN_FORM
from hangroom.store.moments import from_ms
from hangroom.terms import AirReading, RelayKind, RoomPlan


@dataclass(frozen=True, slots=True, kw_only=True)
class NotedRun:
    """One run of the daemon whose ticks were noted; times are monotonic seconds.

    `rooms`: those that had a plan in it. `last_s`: the last tick anything was noted of.
    """

    number: int
    started_at: datetime
    version: str
    start_s: float
    tick_s: float
    last_s: float
    rooms: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SeenReading:
    """A measurement of one sensor and the tick that first saw it."""

    seen_s: float
    sensor: str
    reading: AirReading


@dataclass(frozen=True, slots=True)
class NotedCommand:
    """What a relay was told at a tick."""

    uptime_s: float
    given_at: datetime
    relay: RelayKind
    closed: bool
    code: str


def noted_runs(db: Database) -> list[NotedRun]:
    """Return the runs that can be decided again, oldest first."""
    found = []
    for number, started_ms, version, start_ms, tick_ms in db.execute(
        "select id, started_ms, version, start_uptime_ms, tick_ms from run"
        " where start_uptime_ms is not null order by id"
    ).fetchall():
        rooms = db.execute(
            "select distinct room.name from room_plan join room on room.id = room_id"
            " where run_id = ? order by room.name",
            (number,),
        )
        (last_ms,) = db.execute(
            "select max(coalesce((select max(seen_ms) from reading where run_id = :run), :start),"
            " coalesce((select max(uptime_ms) from command where run_id = :run), :start))",
            {"run": number, "start": start_ms},
        ).fetchone()
        found.append(
            NotedRun(
                number=number,
                started_at=from_ms(started_ms),
                version=version,
                start_s=start_ms / 1000,
                tick_s=tick_ms / 1000,
                last_s=last_ms / 1000,
                rooms=tuple(room for (room,) in rooms),
            )
        )
    return found


def ticks_of(db: Database, run: NotedRun) -> Iterator[float]:
    """Yield the moments of the ticks that were made in a run, in monotonic seconds."""
    missed = {
        after_ms / 1000: next_ms / 1000
        for after_ms, next_ms in db.execute(
            "select after_uptime_ms, next_uptime_ms from missed_ticks where run_id = ?",
            (run.number,),
        )
    }
    tick = 0
    while (moment_s := round(run.start_s + tick * run.tick_s, 3)) <= run.last_s:
        yield moment_s
        next_s = missed.get(moment_s)
        tick = tick + 1 if next_s is None else round((next_s - run.start_s) / run.tick_s)


def start_of(db: Database, run: NotedRun, room: str) -> tuple[Any, float] | None:
    """Return the memory a room was started with and its age in seconds; None: with nothing."""
    row = db.execute(
        "select memory, gap_ms from room_start join room on room.id = room_id"
        " where run_id = ? and room.name = ?",
        (run.number, room),
    ).fetchone()
    return (json.loads(row[0]), row[1] / 1000) if row else None


def plans_of(db: Database, run: NotedRun, room: str) -> list[tuple[float, RoomPlan]]:
    """Return the room's plans in a run, each with the tick it holds from."""
    rows = db.execute(
        "select uptime_ms, plan from room_plan join room on room.id = room_id"
        " where run_id = ? and room.name = ? order by room_plan.id",
        (run.number, room),
    )
    return [(uptime_ms / 1000, PLAN_FORM.validate_json(plan)) for uptime_ms, plan in rows]


def readings_of(db: Database, run: NotedRun, room: str) -> list[SeenReading]:
    """Return the room's measurements in a run, in the order in which ticks saw them."""
    rows = db.execute(
        "select seen_ms, sensor.name, taken_ms, uptime_ms, temperature_c, humidity_pct"
        " from reading join sensor on sensor.id = sensor_id join room on room.id = room_id"
        " where run_id = ? and room.name = ? order by seen_ms, taken_ms",
        (run.number, room),
    )
    return [
        SeenReading(
            seen_ms / 1000,
            sensor,
            AirReading(
                taken_at=from_ms(taken_ms),
                taken_uptime_s=uptime_ms / 1000,
                temperature_c=temperature_c,
                humidity_pct=humidity_pct,
            ),
        )
        for seen_ms, sensor, taken_ms, uptime_ms, temperature_c, humidity_pct in rows
    ]


def sensors_of(db: Database, room: str) -> list[str]:
    """Return the names of the room's sensors, whether they have measured or not."""
    rows = db.execute(
        "select sensor.name from sensor join room on room.id = room_id where room.name = ?"
        " order by sensor.id",
        (room,),
    )
    return [name for (name,) in rows]


def commands_of(db: Database, run: NotedRun, room: str) -> list[NotedCommand]:
    """Return what the room's relays were told in a run, in order."""
    rows = db.execute(
        "select uptime_ms, given_ms, relay, closed, code from command"
        " join room on room.id = room_id where run_id = ? and room.name = ? order by command.id",
        (run.number, room),
    )
    return [
        NotedCommand(uptime_ms / 1000, from_ms(given_ms), RelayKind(relay), bool(closed), code)
        for uptime_ms, given_ms, relay, closed, code in rows
    ]
