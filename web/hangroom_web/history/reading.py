"""What the History page and its JSON read from the database; the one file here that does."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlite_utils import Database

from hangroom.errors import InputError
from hangroom.store.air_cells import Cell, SensorOf, air_cells, sensors_of, unread_between
from hangroom.store.live import LiveBoard
from hangroom.store.moments import from_ms, to_ms
from hangroom.store.relay_times import first_run_at, runs_between
from hangroom.store.room_past import (
    HungBatch,
    batches_hung_in,
    marks_between,
    relay_history,
    wanted_between,
)
from hangroom_web.freshness import is_alive
from hangroom_web.history.past import Past
from hangroom_web.history.window import window_of
from hangroom_web.site import Site
from hangroom_web.words import _

# What the journal calls the air that exhaust fans draw in.
OUTSIDE = "outside"

# Of a sensor that the settings do not name any more.
SLOWEST_READ_S = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """A sensor that can be looked at: its word in the address, and what it is called."""

    word: str
    name: str
    sensor: SensorOf


def choices_of(db: Database, room: str, *, site: Site, board: LiveBoard | None) -> list[Choice]:
    """Return the sensors to choose from: first those that control goes by, outside last."""
    live = board.rooms[room].sensors if board and room in board.rooms else {}

    def order(sensor: SensorOf) -> tuple[int, str]:
        here = live.get(sensor.name)
        if here is None or here.reading is None:
            return (2 if sensor.name not in site.settings.room[room].sensor else 1), sensor.name
        return (0 if here.distrusted is None else 1), sensor.name

    inside = sorted(sensors_of(db, room), key=order)
    return [
        *(Choice(word=one.name, name=one.name, sensor=one) for one in inside),
        *(
            Choice(
                word=f"{OUTSIDE}.{one.name}",
                name=_("{name}, outside").format(name=one.name),
                sensor=one,
            )
            for one in sensors_of(db, OUTSIDE)
        ),
    ]


def past_of(
    db: Database,
    room: str,
    asked: Mapping[str, str],
    *,
    site: Site,
    board: LiveBoard | None,
    most: int,
    hung: Sequence[HungBatch] | None = None,
) -> Past:
    """Return a room's past as it is asked for; InputError says what is wrong with the asking."""
    now = site.now()
    table = site.settings.room[room]
    choice = _chosen(choices_of(db, room, site=site, board=board), asked.get("sensor"))
    window = window_of(
        asked,
        now=now,
        hung=batches_hung_in(db, room) if hung is None else hung,
        most=most,
        read_every_s=_read_every_s(site, choice),
    )
    alive = is_alive(board, boot_id=site.boot_id, uptime_s=site.clock.uptime_s())
    alive_until = now if alive else None
    relays = [relay.switches() for relay in table.relay.values()]
    times = relay_history(
        *(db, room, relays),
        since=window.since,
        stretches=window.stretches,
        stretch_s=window.stretch_s,
        alive_until=_at_most(alive_until, window.until),
    )
    cells: list[Cell | None] = [None] * window.stretches
    if choice is not None:
        cells = air_cells(
            *(db, choice.sensor),
            since=window.since,
            stretches=window.stretches,
            stretch_s=window.stretch_s,
        )
    return Past(
        room=room,
        title=table.title,
        sensor=choice.sensor if choice else None,
        belongs=choice is not None and choice.sensor.room == room,
        window=window,
        cells=cells,
        unread=[(window.since, window.until)]
        if choice is None
        else unread_between(
            *(db, choice.sensor, cells), since=window.since, stretch_s=window.stretch_s
        ),
        wanted=wanted_between(
            db, room, since=window.since, until=window.until, alive_until=alive_until
        ),
        relays={relay: times[relay] for relay in relays},
        marks=marks_between(db, room, since=window.since, until=window.until),
        runs=[
            (from_ms(start_ms), from_ms(end_ms))
            for start_ms, end_ms in runs_between(
                db, to_ms(window.since), to_ms(window.until), alive_until=alive_until
            )
        ],
        begins=first_run_at(db),
        units=site.units,
    )


def _at_most(alive_until: datetime | None, until: datetime) -> datetime | None:
    return None if alive_until is None else min(alive_until, until)


def _chosen(choices: Sequence[Choice], word: str | None) -> Choice | None:
    if not word:
        return choices[0] if choices else None
    found = next((one for one in choices if one.word == word), None)
    if found is None:
        known = ", ".join(one.word for one in choices)
        raise InputError(
            _("There is no such sensor here. These are known: {known}.").format(known=known)
        )
    return found


def _read_every_s(site: Site, choice: Choice | None) -> float:
    if choice is None:
        return SLOWEST_READ_S
    outside = site.settings.outside
    if choice.sensor.room == OUTSIDE:
        table = outside.sensor.get(choice.sensor.name) if outside else None
    else:
        table = site.settings.room[choice.sensor.room].sensor.get(choice.sensor.name)
    return table.read_every_s if table else SLOWEST_READ_S
