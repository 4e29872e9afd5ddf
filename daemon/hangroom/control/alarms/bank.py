"""Every alarm of one room, of the service or of a batch, evaluated together at one look.

Read this file after `states`. Nothing here owns a clock or a store: `uptime_s` (monotonic) decides,
`now` (aware) only dates the record, and the caller numbers the events on from `sequence`.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime

from hangroom.alarm_table.log import AlarmEvent
from hangroom.alarm_table.row import AlarmId, Row
from hangroom.alarm_table.words import Condition, Event, Suppression
from hangroom.control.alarms.delays import Delayed, Raw, Side, delayed, whether
from hangroom.control.alarms.first_out import (
    AFTER_A_DOOR_S,
    NO_TRUSTED_AIR_DELAY_S,
    SETTLING_IN_S,
    STARTING_S,
    Circumstance,
    suppressed,
)
from hangroom.control.alarms.states import AlarmState, Hold, step

NOTHING_YET = Raw(Side.UNKNOWN)


@dataclass(frozen=True, slots=True, kw_only=True)
class Alarm:
    """One alarm of a bank: its row, its state, its delays.

    `turned_at` (aware): when its condition last turned. `came_on`: what brought it on last.
    """

    row: Row
    state: AlarmState = field(default_factory=AlarmState)
    delay: Delayed = field(default_factory=Delayed)
    turned_at: datetime | None = None
    came_on: Raw = NOTHING_YET


@dataclass(frozen=True, slots=True, kw_only=True)
class Bank:
    """A set of alarms and what they have in common; replaced, never changed.

    `blind`: whether the air has been unknown for long. `inspection_ends_uptime_s`: until when a
    person has announced an open door, or None. `opened_uptime_s`: when a door that seems to stand
    open was first seen so, or None. `settled_uptime_s`: from when on the room has had time to come
    to its newest setpoint and stage, or None.
    """

    alarms: Mapping[AlarmId, Alarm]
    started_uptime_s: float
    blind: Delayed = field(default_factory=Delayed)
    inspection_ends_uptime_s: float | None = None
    opened_uptime_s: float | None = None
    settled_uptime_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """What one look says: raw conditions, whether no air is to be trusted, or a door seems open.

    An alarm that is not named was not looked at and keeps its state.
    """

    raw: Mapping[AlarmId, Raw]
    blind: bool = False
    door_open: bool = False


def new_bank(rows: Mapping[AlarmId, Row], *, uptime_s: float) -> Bank:
    """Return a bank with every alarm normal, of a program that has just started."""
    return Bank(
        alarms={id_: Alarm(row=row) for id_, row in rows.items()}, started_uptime_s=uptime_s
    )


class Log:
    """Takes alarms through events and numbers what comes of it, within one call."""

    def __init__(self, *, uptime_s: float, now: datetime, sequence: int) -> None:
        self.uptime_s = uptime_s
        self.now = now
        self.sequence = sequence
        self.events: list[AlarmEvent] = []

    def take(
        self,
        alarm: Alarm,
        event: Event,
        *,
        hold: Hold | None = None,
        by: str = "",
        raw: Raw | None = None,
    ) -> Alarm:
        """Return the alarm after an event, which is written down."""
        state, tell = step(
            alarm.state, event, latching=alarm.row.latching, uptime_s=self.uptime_s, hold=hold
        )
        self.sequence += 1
        self.events.append(
            AlarmEvent(
                sequence=self.sequence,
                at=self.now,
                uptime_s=self.uptime_s,
                alarm=alarm.row.id,
                event=event,
                tell=tell,
                suppression=state.suppression,
                occurrences=state.occurrences,
                by=hold.by if hold else by,
                reason=hold.reason if hold else raw.why if raw else "",
                figures=raw.figures if raw else {},
            )
        )
        return replace(alarm, state=state)


def evaluate(
    bank: Bank, conditions: Conditions, *, uptime_s: float, now: datetime, sequence: int
) -> tuple[Bank, tuple[AlarmEvent, ...]]:
    """Return the bank after one look and what happened, numbered on from `sequence`.

    Where nothing moved, it is the very same bank.
    """
    blind = delayed(
        bank.blind,
        whether(holds=conditions.blind),
        on_delay_s=NO_TRUSTED_AIR_DELAY_S,
        off_delay_s=NO_TRUSTED_AIR_DELAY_S,
        uptime_s=uptime_s,
    )
    inspection_ends_s = _still_ahead_s(bank.inspection_ends_uptime_s, uptime_s)
    settled_s = _still_ahead_s(bank.settled_uptime_s, uptime_s)
    opened_s = _opened_s(bank.opened_uptime_s, uptime_s, door_open=conditions.door_open)
    circumstances = {
        Circumstance.NO_TRUSTED_AIR: blind.active,
        Circumstance.STARTING: uptime_s - bank.started_uptime_s < STARTING_S,
        Circumstance.INSPECTION: inspection_ends_s is not None,
        Circumstance.DOOR_OPENED: opened_s is not None and uptime_s - opened_s < AFTER_A_DOOR_S,
        Circumstance.SETTLING_IN: settled_s is not None,
    }
    by_design = suppressed({each for each, there in circumstances.items() if there})
    log = Log(uptime_s=uptime_s, now=now, sequence=sequence)
    moved = {}
    for id_, alarm in bank.alarms.items():
        after = _evaluated(alarm, conditions.raw.get(id_), by_design.get(id_), log)
        if after is not alarm:
            moved[id_] = after
    times_s = (inspection_ends_s, opened_s, settled_s)
    before_s = (bank.inspection_ends_uptime_s, bank.opened_uptime_s, bank.settled_uptime_s)
    if not moved and blind is bank.blind and times_s == before_s:
        return bank, ()
    return (
        replace(
            bank,
            alarms={**bank.alarms, **moved},
            blind=blind,
            inspection_ends_uptime_s=inspection_ends_s,
            opened_uptime_s=opened_s,
            settled_uptime_s=settled_s,
        ),
        tuple(log.events),
    )


def settling_in(bank: Bank, *, uptime_s: float) -> Bank:
    """Give a room time to come to a new setpoint or stage: deviations are logged, but not told."""
    return replace(bank, settled_uptime_s=uptime_s + SETTLING_IN_S)


def _still_ahead_s(ends_uptime_s: float | None, uptime_s: float) -> float | None:
    return None if ends_uptime_s is None or uptime_s >= ends_uptime_s else ends_uptime_s


def _opened_s(opened_uptime_s: float | None, uptime_s: float, *, door_open: bool) -> float | None:
    """Return when the newest opening of a door began, None once it is over and done with."""
    if opened_uptime_s is None:
        return uptime_s if door_open else None
    over = not door_open and uptime_s - opened_uptime_s >= AFTER_A_DOOR_S
    return None if over else opened_uptime_s


def _evaluated(alarm: Alarm, raw: Raw | None, circumstance: Circumstance | None, log: Log) -> Alarm:
    """Return one alarm after one look.

    A suppression that begins comes before the condition and one that ends comes after it, so that
    nothing is told that was already expected, or is already over. What stays normal has nothing to
    suppress, and the log is spared it.
    """
    delay = alarm.delay if raw is None else _delayed(alarm, raw, log.uptime_s)
    if circumstance is not None and (alarm.delay.active or delay.active):
        alarm = _suppressed(alarm, circumstance, log)
    if raw is not None and delay is not alarm.delay:
        alarm = _looked_at(alarm, raw, delay, log)
    if alarm.state.holds:
        alarm = _unsuppressed(alarm, circumstance, log)
    if _re_alarm_is_due(alarm, log.uptime_s):
        alarm = log.take(alarm, Event.RE_ALARMED)
    return alarm


def _delayed(alarm: Alarm, raw: Raw, uptime_s: float) -> Delayed:
    return delayed(
        alarm.delay,
        raw.side,
        on_delay_s=alarm.row.on_delay_s,
        off_delay_s=alarm.row.off_delay_s,
        uptime_s=uptime_s,
    )


def _suppressed(alarm: Alarm, circumstance: Circumstance, log: Log) -> Alarm:
    held = alarm.state.holds.get(Suppression.BY_DESIGN)
    if held is not None and held.reason == circumstance:
        return alarm
    hold = Hold(since=log.now, by="", reason=str(circumstance))
    return log.take(alarm, Event.SUPPRESSED, hold=hold)


def _looked_at(alarm: Alarm, raw: Raw, delay: Delayed, log: Log) -> Alarm:
    turned = delay.active != alarm.delay.active
    alarm = replace(alarm, delay=delay)
    if not turned:
        return alarm
    event = Event.ACTIVATED if delay.active else Event.RETURNED_TO_NORMAL
    alarm = log.take(alarm, event, raw=raw)
    return replace(alarm, turned_at=log.now, came_on=raw if delay.active else alarm.came_on)


def _unsuppressed(alarm: Alarm, circumstance: Circumstance | None, log: Log) -> Alarm:
    shelf = alarm.state.holds.get(Suppression.SHELVED)
    if shelf and shelf.ends_uptime_s is not None and log.uptime_s >= shelf.ends_uptime_s:
        alarm = log.take(alarm, Event.SHELF_ENDED)
    if circumstance is None and Suppression.BY_DESIGN in alarm.state.holds:
        alarm = log.take(alarm, Event.UNSUPPRESSED)
    return alarm


def _re_alarm_is_due(alarm: Alarm, uptime_s: float) -> bool:
    state, after_s = alarm.state, alarm.row.re_alarm_after_s
    return (
        state.condition is Condition.ACTIVE
        and after_s is not None
        and not state.holds
        and state.quiet_since_uptime_s is not None
        and uptime_s - state.quiet_since_uptime_s >= after_s
    )
