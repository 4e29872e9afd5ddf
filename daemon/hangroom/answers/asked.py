"""What a wish is judged by, and what becomes of one that holds."""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field

from sqlite_utils import Database

from hangroom.errors import InputError
from hangroom.store.began import Instant
from hangroom.store.requests import Request
from hangroom.terms import Command, RelayKind, RoomPlan, Wiring
from hangroom.units import Units


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A wish that concerns one room: the request, the room's plan and sensors, and when.

    `units`: what the keeper reads. `db`: to look things up in, never to write. `wirings`: how the
    room's relays are wired, none of them where they are simulated. `foresee`: what its relays
    would be told by another plan.
    """

    request: Request
    plan: RoomPlan
    sensors: Collection[str]
    at: Instant
    units: Units
    db: Database
    wirings: Mapping[RelayKind, Wiring]
    foresee: Callable[[RoomPlan], Sequence[Command]]


def room_of(plans: Mapping[str, RoomPlan], room: str) -> RoomPlan:
    """Return a room's plan; InputError where there is no such room."""
    if room not in plans:
        raise InputError(f"There is no room {room!r} in the settings.")
    return plans[room]


@dataclass(frozen=True, slots=True, kw_only=True)
class Noted:
    """An event for the journal: its kind, its figures, and its words beside who asked."""

    kind: str
    figures: Mapping[str, float] = field(default_factory=dict)
    words: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Applied:
    """What becomes of a wish that holds: kept first, then the plan, then the journal.

    `keep` writes in the caller's transaction. `said`: the answer, a sentence for the page.
    """

    plan: RoomPlan
    keep: Callable[[Database], None]
    said: str
    noted: Noted
