"""What is left to do in a new house, derived from what the record holds; nothing is ticked by hand.

The list leaves by itself once everything on it is done.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from enum import StrEnum

from hangroom.settings import RoomTable
from hangroom.store.live import LiveBoard
from hangroom.terms import RelayKind
from hangroom_web.words import _


class Doing(StrEnum):
    """What there is to do in a new house; each is done in one place."""

    SENSORS = "sensors"
    RELAYS = "relays"
    MESSAGE = "message"
    BATCH = "batch"


WORDS = {
    Doing.SENSORS: (_("Every sensor was read"), _("Wire the sensors and see what they read")),
    Doing.RELAYS: (_("Every relay was tried"), _("Try the relays, one by one")),
    Doing.MESSAGE: (_("A message has arrived"), _("Let a test message come to you")),
    Doing.BATCH: (_("The first batch is begun"), _("Start your first batch")),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One line of the list; `left`: what there is to add to it, '' for nothing."""

    doing: Doing
    done: bool
    said: str
    left: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What the record tells of a house.

    `read`, `proved`: the sensors that were ever read and the relays that are proved, each with its
    room. `begun`: whether there is a batch. `channels`, `delivered`: whether a message has
    anywhere to go, and whether one has arrived.
    """

    read: Collection[tuple[str, str]] = ()
    proved: Collection[tuple[str, RelayKind]] = ()
    begun: bool = False
    channels: bool = False
    delivered: bool = False


def steps(tables: Mapping[str, RoomTable], board: LiveBoard | None, known: Known) -> list[Step]:
    """Return the list; empty once everything is done."""
    unread = [
        f"{table.title}, {sensor}"
        for room, table in tables.items()
        for sensor in table.sensor
        if (room, sensor) not in known.read and not _reads_now(board, room, sensor)
    ]
    untried = [
        relay
        for room, table in tables.items()
        for relay in table.wirings()
        if not _is_proved(board, room, relay, known)
    ]
    done = {
        Doing.SENSORS: not unread,
        Doing.RELAYS: not untried,
        Doing.MESSAGE: known.delivered,
        Doing.BATCH: known.begun,
    }
    if all(done.values()):
        return []
    left = {
        Doing.SENSORS: _("still silent: {sensors}").format(sensors="; ".join(unread)),
        Doing.RELAYS: _("1 to go") if len(untried) == 1 else _("{} to go").format(len(untried)),
        Doing.MESSAGE: "" if known.channels else _("no message channel yet"),
    }
    return [
        Step(
            doing=doing,
            done=done[doing],
            said=WORDS[doing][0 if done[doing] else 1],
            left="" if done[doing] else left.get(doing, ""),
        )
        for doing in Doing
    ]


def _reads_now(board: LiveBoard | None, room: str, sensor: str) -> bool:
    live = board.rooms.get(room) if board else None
    told = live.sensors.get(sensor) if live else None
    return told is not None and told.reading is not None


def _is_proved(board: LiveBoard | None, room: str, relay: RelayKind, known: Known) -> bool:
    """Return whether a relay is proved: as the daemon said last, else as the record holds it.

    Simulated relays need no proof, which only the daemon knows.
    """
    live = board.rooms.get(room) if board else None
    told = live.relays.get(relay) if live else None
    return (room, relay) in known.proved if told is None else not told.watched
