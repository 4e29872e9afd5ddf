"""How much the alarms ask of a person: figures over the alarm log.

ISA-18.2 and IEC 62682 measure a control room manned day and night by annunciations per 10 min.
What is meant to be reached here is for one person with a phone: one a day, none that chatters, none
stale. Only annunciations count; telling the same occurrence again does not. The log of several
programs is judged as one, so the record's own times serve.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from hangroom.alarm_table.log import AlarmEvent
from hangroom.alarm_table.row import AlarmId
from hangroom.alarm_table.words import Event, Suppression, Tell

# The figures below are the usual ones of ISA-18.2 and EEMUA 191, from memory, not re-read.
CHATTERS_WITH = 3
CHATTERS_WITHIN = timedelta(minutes=1)
FLOOD_WITHIN = timedelta(minutes=10)
FLOOD_BEGINS_ABOVE = 10
FLOOD_ENDS_BELOW = 5
STALE_AFTER = timedelta(hours=24)


@dataclass(frozen=True, slots=True, kw_only=True)
class Flood:
    """A time with more annunciations than anybody can answer; `ended_at` is None while it lasts."""

    began_at: datetime
    ended_at: datetime | None


def annunciations(events: Sequence[AlarmEvent]) -> list[AlarmEvent]:
    """Return the events of which a person was told for the first time."""
    return [event for event in events if event.tell is Tell.ANNUNCIATE]


def annunciations_per_day(
    events: Sequence[AlarmEvent], *, since: datetime, until: datetime
) -> float:
    """Return the mean number of annunciations a day from `since` up to, not including, `until`."""
    told = sum(since <= event.at < until for event in annunciations(events))
    return told / ((until - since) / timedelta(days=1))


def chattering(events: Sequence[AlarmEvent]) -> frozenset[AlarmId]:
    """Return the alarms annunciated 3 times or more within 1 min."""
    told: dict[AlarmId, list[datetime]] = {}
    for event in annunciations(events):
        told.setdefault(event.alarm, []).append(event.at)
    return frozenset(
        alarm
        for alarm, at in told.items()
        if any(
            last - first <= CHATTERS_WITHIN
            for first, last in zip(at, at[CHATTERS_WITH - 1 :], strict=False)
        )
    )


def floods(events: Sequence[AlarmEvent], *, until: datetime) -> list[Flood]:
    """Return the floods up to `until`: from more than 10 in 10 min, to fewer than 5 in 10 min."""
    found: list[Flood] = []
    recent: list[datetime] = []
    began_at: datetime | None = None
    for at in [event.at for event in annunciations(events) if event.at <= until]:
        if began_at is not None and _thins_out_at(recent) <= at:
            found.append(Flood(began_at=began_at, ended_at=_thins_out_at(recent)))
            began_at = None
        recent = [*(earlier for earlier in recent if at - earlier < FLOOD_WITHIN), at]
        if began_at is None and len(recent) > FLOOD_BEGINS_ABOVE:
            began_at = at
    if began_at is not None:
        over_at = _thins_out_at(recent)
        found.append(Flood(began_at=began_at, ended_at=over_at if over_at <= until else None))
    return found


def _thins_out_at(recent: Sequence[datetime]) -> datetime:
    """Return when fewer than 5 are left in the window if no further one comes."""
    return recent[-FLOOD_ENDS_BELOW] + FLOOD_WITHIN


def stale(events: Sequence[AlarmEvent], *, at: datetime) -> frozenset[AlarmId]:
    """Return the alarms active for more than 24 h at a moment, and not suppressed then."""
    active_since: dict[AlarmId, datetime] = {}
    suppressed: dict[AlarmId, bool] = {}
    for event in events:
        if event.at > at:
            break
        suppressed[event.alarm] = event.suppression is not Suppression.NONE
        if event.event is Event.ACTIVATED:
            active_since[event.alarm] = event.at
        elif event.event is Event.RETURNED_TO_NORMAL:
            active_since.pop(event.alarm, None)
    return frozenset(
        alarm
        for alarm, since in active_since.items()
        if at - since > STALE_AFTER and not suppressed[alarm]
    )
