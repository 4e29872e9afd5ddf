"""`hangroom replay`: what was decided, decided again from the journal, and where the two differ."""

import argparse
import json
import sys
from collections import Counter
from collections.abc import Iterator, Mapping
from pathlib import Path

from sqlite_utils import Database

from hangroom.control.memory import starting_state
from hangroom.control.outside import OUTSIDE
from hangroom.control.replay import Difference, Tick, Told, differences, told_again
from hangroom.control.snapshot import restored
from hangroom.errors import InputError
from hangroom.store.database import FILE_NAME, connect
from hangroom.store.replay import (
    NotedRun,
    commands_of,
    noted_runs,
    plans_of,
    readings_of,
    sensors_of,
    start_of,
    ticks_of,
)
from hangroom.terms import AirReading
from hangroom.units import say_duration

# More than this on one screen nobody reads.
MOST_LINES = 20


def run(given: argparse.Namespace) -> int:
    """Decide every noted run again and print where today's decisions differ."""
    db = _opened(given.db)
    try:
        runs = noted_runs(db)
        rooms = sorted({room for run in runs for room in run.rooms})
        if given.room is not None and given.room not in rooms:
            known = ", ".join(rooms) or "none"
            raise InputError(
                f"{given.db} has no decisions of a room {given.room!r}. Rooms in it: {known}."
            )
        results = [
            _replayed(db, run, room)
            for run in runs
            for room in run.rooms
            if given.room in (None, room)
        ]
    finally:
        db.close()
    if given.json:
        print(json.dumps([result.as_json() for result in results]))
        return 0
    if not results:
        print("There is nothing to decide again: the journal holds no run with its plans yet.")
    for result in results:
        print("\n".join(result.lines()))
    return 0


class _Replayed:
    """One room in one run."""

    def __init__(
        self, run: NotedRun, room: str, *, ticks: int, commands: int, found: list[Difference]
    ) -> None:
        self._run = run
        self._room = room
        self._ticks = ticks
        self._commands = commands
        self._found = found

    def as_json(self) -> dict[str, object]:
        return {
            "run": self._run.number,
            "version": self._run.version,
            "started_at": self._run.started_at.isoformat(),
            "room": self._room,
            "ticks": self._ticks,
            "commands": self._commands,
            "differences": [
                {
                    "relay": str(one.relay),
                    "from_s": round(one.from_uptime_s - self._run.start_s, 3),
                    "until_s": round(one.until_uptime_s - self._run.start_s, 3),
                    "switched": one.switched,
                    "noted": _said(one.noted),
                    "today": _said(one.today),
                }
                for one in self._found
            ],
        }

    def lines(self) -> Iterator[str]:
        started = self._run.started_at.strftime("%Y-%m-%d %H:%M UTC")
        yield (
            f"{self._room}, run {self._run.number} from {started} (hangroom {self._run.version}): "
            f"{self._ticks} ticks, {self._commands} commands"
        )
        if not self._found:
            yield "  decided again today: the same, every one"
            return
        otherwise_s: Counter[str] = Counter()
        for one in self._found:
            if one.switched:
                otherwise_s[one.relay] += round(one.until_uptime_s - one.from_uptime_s)
        yield f"  decided again today: {len(self._found)} stretches differ"
        for relay, lasts_s in sorted(otherwise_s.items()):
            yield f"  {relay}: in the other position for {say_duration(lasts_s)}"
        for one in self._found[:MOST_LINES]:
            after = say_duration(one.from_uptime_s - self._run.start_s)
            lasts = say_duration(one.until_uptime_s - one.from_uptime_s)
            yield (
                f"    after {after}, for {lasts}, {one.relay}: "
                f"noted {_said(one.noted)}, today {_said(one.today)}"
            )
        if len(self._found) > MOST_LINES:
            yield f"    and {len(self._found) - MOST_LINES} more (all with --json)"


def _said(told: Told | None) -> str:
    if told is None:
        return "nothing"
    return f"{'on' if told.closed else 'off'} ({told.code})"


def _opened(path: Path) -> Database:
    if path.is_dir():
        path /= FILE_NAME
    if not path.is_file():
        raise InputError(f"{path}: there is no such file. Name the database of a hangroom.")
    return connect(path)


def _replayed(db: Database, run: NotedRun, room: str) -> _Replayed:
    commands = commands_of(db, run, room)
    noted = [Told(one.uptime_s, one.relay, one.closed, one.code) for one in commands]
    ticks = list(_ticks(db, run, room))
    state = starting_state(ticks[0].plan, uptime_s=run.start_s)
    started = start_of(db, run, room)
    if started is not None:
        kept, gap_s = started
        state, _ = restored(kept, ticks[0].plan, gap_s=gap_s, uptime_s=run.start_s)
    today = list(told_again(state, _with_progress(ticks, room, run.number)))
    return _Replayed(
        run,
        room,
        ticks=len(ticks),
        commands=len(commands),
        found=differences(noted, today, until_uptime_s=run.last_s + run.tick_s),
    )


def _ticks(db: Database, run: NotedRun, room: str) -> Iterator[Tick]:
    plans = plans_of(db, run, room)
    inside, outside = _Newest(db, run, room), _Newest(db, run, OUTSIDE)
    _, plan = plans[0]
    plan_number = 0
    for uptime_s in ticks_of(db, run):
        while plan_number < len(plans) and plans[plan_number][0] <= uptime_s:
            plan = plans[plan_number][1]
            plan_number += 1
        yield Tick(
            uptime_s=uptime_s, plan=plan, readings=inside.at(uptime_s), outside=outside.at(uptime_s)
        )


class _Newest:
    """The newest reading of each sensor of a room, or outside, as time goes on."""

    def __init__(self, db: Database, run: NotedRun, place: str) -> None:
        self._to_come = readings_of(db, run, place)
        self._to_come.reverse()
        self._newest: dict[str, AirReading | None] = dict.fromkeys(sensors_of(db, place))

    def at(self, uptime_s: float) -> Mapping[str, AirReading | None]:
        seen = {}
        while self._to_come and self._to_come[-1].seen_s <= uptime_s:
            one = self._to_come.pop()
            seen[one.sensor] = one.reading
        if seen:
            self._newest = {**self._newest, **seen}
        return self._newest


def _with_progress(ticks: list[Tick], room: str, number: int) -> Iterator[Tick]:
    for done, tick in enumerate(ticks):
        if sys.stderr.isatty() and done % 20_000 == 0:
            done_pct = 100 * done // len(ticks)
            print(f"\r{room}, run {number}: {done_pct:3d} %", end="\r", file=sys.stderr, flush=True)
        yield tick
