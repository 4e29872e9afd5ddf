"""One line of the alarm log, and what it calls the room, batch or group an alarm is about."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from hangroom.alarm_table.row import AlarmId, Scope
from hangroom.alarm_table.words import Event, Suppression, Tell

SERVICE = str(Scope.SERVICE)


def of_room(name: str) -> str:
    """Return what the log calls a room, for example 'room closet'."""
    return f"{Scope.ROOM} {name}"


def of_batch(number: int) -> str:
    """Return what the log calls a batch, for example 'batch 3'."""
    return f"{Scope.BATCH} {number}"


def of_group(number: int, letter: str) -> str:
    """Return what the log calls a group of a batch, for example 'group 3 A'."""
    return f"{Scope.GROUP} {number} {letter}"


def kind_of(scope: str) -> Scope:
    """Return what is called so in the log; ValueError for what it calls nothing."""
    return Scope(scope.partition(" ")[0])


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmEvent:
    """One line of the alarm log; `tell` says what to annunciate.

    `at` is for the record, `uptime_s` monotonic. `suppression`, `occurrences`: after the event.
    `by`, `reason`: who acted and why; of a condition that came on, the code of what brought it.
    """

    sequence: int
    at: datetime
    uptime_s: float
    alarm: AlarmId
    event: Event
    tell: Tell
    suppression: Suppression
    occurrences: int
    by: str = ""
    reason: str = ""
    figures: Mapping[str, float] = field(default_factory=dict)
