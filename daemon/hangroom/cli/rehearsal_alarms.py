"""The alarms of a rehearsal, each from when it was told to when its condition had passed."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from hangroom.alarm_table.log import AlarmEvent, kind_of
from hangroom.alarm_table.row import AlarmId, Priority, Scope
from hangroom.alarm_table.table import TABLE
from hangroom.alarm_table.words import Event, Tell


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmSpan:
    """One alarm: when it was raised and cleared, in seconds since the start; None while raised.

    Raised is when a person was told: what was suppressed by design is none. `room` is empty for an
    alarm of the service. The names are those of the JSON.
    """

    id: AlarmId
    room: str
    priority: Priority
    raised_s: float
    cleared_s: float | None = None


def spans(log: Iterable[tuple[str, AlarmEvent]]) -> tuple[AlarmSpan, ...]:
    """Return the alarms in an alarm log of a clock that began at 0, in the order they were told."""
    found: list[AlarmSpan] = []
    raised: dict[tuple[str, AlarmId], int] = {}
    for scope, event in log:
        of = (scope, event.alarm)
        if event.tell is Tell.ANNUNCIATE and of not in raised:
            raised[of] = len(found)
            found.append(
                AlarmSpan(
                    id=event.alarm,
                    room=scope.partition(" ")[2] if kind_of(scope) is Scope.ROOM else "",
                    priority=TABLE[event.alarm].priority,
                    raised_s=event.uptime_s,
                )
            )
        elif event.event is Event.RETURNED_TO_NORMAL and of in raised:
            number = raised.pop(of)
            found[number] = replace(found[number], cleared_s=event.uptime_s)
    return tuple(found)
