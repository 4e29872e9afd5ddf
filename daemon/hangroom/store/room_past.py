"""What a room's relays, plans and people did in a time, as a picture of that time shows it."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from enum import StrEnum
from itertools import zip_longest

from sqlite_utils import Database

from hangroom.alarm_table.log import of_room
from hangroom.alarm_table.words import Event
from hangroom.stage_table import FOLLOWS_HUMIDITY, FOLLOWS_TEMPERATURE
from hangroom.store.alarms import events_between
from hangroom.store.moments import from_ms, to_ms
from hangroom.store.relay_times import RelayTime, relay_times, runs_between
from hangroom.store.rollups import QUARTER_MS
from hangroom.terms import Stage

# Weights taken within this time belong to one look.
ONE_LOOK = timedelta(hours=1)


class MarkKind(StrEnum):
    """What a mark in the picture stands for."""

    ALARM = "alarm"
    DOOR = "door"
    INSPECTION = "inspection"
    SETPOINT = "setpoint"
    STAGE = "stage"


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """Something that happened in a room: `what` as its table calls it, with figures and words.

    `until`: when an alarm was over, None while it lasts and for all that has no length.
    """

    at: datetime
    kind: MarkKind
    what: str
    figures: Mapping[str, float] = field(default_factory=dict)
    words: Mapping[str, str] = field(default_factory=dict)
    until: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What a room followed for a time: setpoint and half band, None where it follows none.

    `corrections`: by sensor, gain and offset of its humidity.
    """

    from_at: datetime
    to_at: datetime
    stage: Stage
    temperature: tuple[float, float] | None
    humidity: tuple[float, float] | None
    corrections: Mapping[str, tuple[float, float]] = field(default_factory=dict)


def relay_history(
    db: Database,
    room: str,
    relays: Sequence[str],
    *,
    since: datetime,
    stretches: int,
    stretch_s: int,
    alive_until: datetime | None,
) -> dict[str, list[RelayTime]]:
    """Return each relay's times of each stretch; long stretches come from the roll-ups."""
    (room_id,) = db.execute("select id from room where name = ?", (room,)).fetchone() or (-1,)
    since_ms, long_ms = to_ms(since), stretch_s * 1000
    until_ms = since_ms + stretches * long_ms
    rolled_ms = since_ms
    found = {relay: [RelayTime(on_ms=0, known_ms=0)] * stretches for relay in relays}
    if long_ms % QUARTER_MS == 0:
        marks = ", ".join("?" * len(relays))
        rows = db.execute(
            "select relay, (starts_ms - ?) / ?, sum(on_ms), sum(known_ms), max(starts_ms)"  # noqa: S608 - marks only
            f" from relay_rollup where room_id = ? and relay in ({marks})"
            " and starts_ms >= ? and starts_ms < ? group by 1, 2",
            (since_ms, long_ms, room_id, *relays, since_ms, until_ms),
        )
        for relay, place, on_ms, known_ms, newest_ms in rows:
            rolled_ms = max(rolled_ms, newest_ms + QUARTER_MS)
            found[relay][place] = RelayTime(on_ms=on_ms, known_ms=known_ms)
    # The rest, in quarters too, so that a stretch that is rolled in part is put together.
    unit_ms = QUARTER_MS if rolled_ms > since_ms else long_ms
    fresh = relay_times(
        *(db, room_id, relays),
        since_ms=rolled_ms,
        stretches=(until_ms - rolled_ms) // unit_ms,
        stretch_ms=unit_ms,
        runs=runs_between(db, rolled_ms, until_ms, alive_until=alive_until),
    )
    if rolled_ms == since_ms:
        return fresh
    for relay, times in fresh.items():
        for number, time in enumerate(times):
            place = (rolled_ms + number * unit_ms - since_ms) // long_ms
            before = found[relay][place]
            found[relay][place] = RelayTime(
                on_ms=before.on_ms + time.on_ms, known_ms=before.known_ms + time.known_ms
            )
    return found


_PLANS = """
    select started_ms - start_uptime_ms + uptime_ms, run.id, started_ms, last_ms,
        run.id = (select max(id) from run),
        json_extract(plan, '$.stage'), json_extract(plan, '$.temperature.setpoint_c'),
        json_extract(plan, '$.temperature.band_c'), json_extract(plan, '$.humidity.setpoint_pct'),
        json_extract(plan, '$.humidity.band_pct'), json_extract(plan, '$.calibrations')
    from room_plan join run on run.id = run_id join room on room.id = room_id
    where room.name = ? and last_ms >= ? and started_ms < ? and start_uptime_ms is not null
    order by room_plan.id
"""


def wanted_between(
    db: Database, room: str, *, since: datetime, until: datetime, alive_until: datetime | None
) -> list[Wanted]:
    """Return what a room followed, oldest first; nothing while the daemon did not run."""
    found: list[Wanted] = []
    rows = db.execute(_PLANS, (room, to_ms(since), to_ms(until))).fetchall()
    for row, following in zip_longest(rows, rows[1:]):
        at_ms, run, _started_ms, last_ms, newest, stage, *figures = row
        ends = from_ms(last_ms)
        if newest and alive_until:
            ends = max(ends, alive_until)
        if following is not None and following[1] == run:
            ends = min(ends, from_ms(following[0]))
        from_at, to_at = max(from_ms(at_ms), since), min(ends, until)
        if to_at <= from_at:
            continue
        one = _wanted(from_at, to_at, stage, figures)
        if found and _same(found[-1], one):
            found[-1] = _wanted(found[-1].from_at, to_at, stage, figures)
        else:
            found.append(one)
    return found


def marks_between(db: Database, room: str, *, since: datetime, until: datetime) -> list[Mark]:
    """Return what happened in a room, oldest first."""
    return sorted(
        [
            *_noted(db, room, since, until),
            *_alarms(db, room, since, until),
            *_looks(db, room, since, until),
        ],
        key=lambda mark: mark.at,
    )


_EVENTS = {
    "inspection-begun": MarkKind.DOOR,
    "humidity-setpoint": MarkKind.SETPOINT,
    "temperature-setpoint": MarkKind.SETPOINT,
    "stage-begun": MarkKind.STAGE,
    "stage-ended": MarkKind.STAGE,
}


def _noted(db: Database, room: str, since: datetime, until: datetime) -> list[Mark]:
    rows = db.execute(
        "select at_ms, kind, figures, words from event join room on room.id = room_id"
        " where room.name = ? and at_ms >= ? and at_ms < ? order by at_ms, event.id",
        (room, to_ms(since), to_ms(until)),
    )
    return [
        Mark(
            at=from_ms(at_ms),
            kind=_EVENTS[kind],
            what=kind,
            figures={k: v for k, v in json.loads(figures).items() if v is not None},
            words=json.loads(words or "{}"),
        )
        for at_ms, kind, figures, words in rows
        if kind in _EVENTS
    ]


def _alarms(db: Database, room: str, since: datetime, until: datetime) -> list[Mark]:
    marks: list[Mark] = []
    active: dict[str, int] = {}
    for logged in events_between(db, of_room(room), since, until):
        event = logged.event
        if event.event is Event.ACTIVATED:
            active[event.alarm] = len(marks)
            marks.append(Mark(at=event.at, kind=MarkKind.ALARM, what=event.alarm))
        elif event.event is Event.RETURNED_TO_NORMAL and event.alarm in active:
            place = active.pop(event.alarm)
            marks[place] = Mark(
                at=marks[place].at, kind=MarkKind.ALARM, what=event.alarm, until=event.at
            )
    return marks


def _looks(db: Database, room: str, since: datetime, until: datetime) -> list[Mark]:
    rows = db.execute(
        "select taken_ms, batch.number, tag from hang"
        " join stick_group on stick_group.id = hang.group_id join batch on batch.id = batch_id"
        " join stick on stick.group_id = stick_group.id join weigh_in on stick_id = stick.id"
        " where hang.room = ? and hang.struck_ms is null and weigh_in.struck_ms is null"
        " and taken_ms >= max(hang.from_ms, ?) and taken_ms < min(coalesce(hang.to_ms, ?), ?)"
        " order by taken_ms",
        (room, to_ms(since), to_ms(until), to_ms(until)),
    )
    marks: list[Mark] = []
    for taken_ms, batch, tag in rows:
        at = from_ms(taken_ms)
        last = marks[-1] if marks else None
        if last and at - last.at < ONE_LOOK and last.figures["batch"] == batch:
            tags = f"{last.words['tags']} {tag}"
            marks[-1] = Mark(
                at=last.at,
                kind=MarkKind.INSPECTION,
                what="weighed",
                figures={"batch": batch, "sticks": len(set(tags.split(" ")))},
                words={"tags": tags},
            )
        else:
            marks.append(
                Mark(
                    at=at,
                    kind=MarkKind.INSPECTION,
                    what="weighed",
                    figures={"batch": batch, "sticks": 1},
                    words={"tags": tag},
                )
            )
    return marks


def _wanted(from_at: datetime, to_at: datetime, stage: str, figures: Sequence[object]) -> Wanted:
    setpoint_c, band_c, setpoint_pct, band_pct, calibrations = figures
    here = Stage(stage)
    return Wanted(
        from_at=from_at,
        to_at=to_at,
        stage=here,
        temperature=_pair(setpoint_c, band_c) if here in FOLLOWS_TEMPERATURE else None,
        humidity=_pair(setpoint_pct, band_pct) if here in FOLLOWS_HUMIDITY else None,
        corrections={
            sensor: (one["gain_ratio"], one["offset_pct"])
            for sensor, one in json.loads(str(calibrations or "{}")).items()
        },
    )


def _pair(setpoint: object, band: object) -> tuple[float, float] | None:
    if isinstance(setpoint, int | float) and isinstance(band, int | float):
        return float(setpoint), float(band)
    return None


def _same(one: Wanted, other: Wanted) -> bool:
    return one.to_at == other.from_at and (
        (one.stage, one.temperature, one.humidity, one.corrections)
        == (other.stage, other.temperature, other.humidity, other.corrections)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class HungBatch:
    """A batch that hung in a room: from the first of its groups to the last, None while it does."""

    number: int
    name: str
    from_at: datetime
    to_at: datetime | None


def batches_hung_in(db: Database, room: str) -> list[HungBatch]:
    """Return the batches that hung in a room, the newest first."""
    rows = db.execute(
        "select batch.number, batch.name, min(from_ms), max(to_ms), count(*) - count(to_ms)"
        " from hang join stick_group on stick_group.id = group_id join batch on batch.id = batch_id"
        " where room = ? and struck_ms is null group by batch.id order by 3 desc, 1 desc",
        (room,),
    )
    return [
        HungBatch(
            number=number,
            name=name,
            from_at=from_ms(from_ms_),
            to_at=None if still or to_ms_ is None else from_ms(to_ms_),
        )
        for number, name, from_ms_, to_ms_, still in rows
    ]
