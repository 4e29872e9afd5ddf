"""Every alarm of one room, of the service or of the batches, evaluated together, once a tick.

Read this file after `states`. Nothing here owns a clock or a store: `uptime_s` (monotonic) decides,
`now` (aware) only dates the record, and the caller numbers the events on from `sequence`.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime

from hangroom.alarm_table.row import AlarmId, Row
from hangroom.alarm_table.words import Condition, Event, Suppression, Tell
from hangroom.control.alarms.delays import Delayed, Raw, delayed, whether
from hangroom.control.alarms.first_out import (
    NO_TRUSTED_AIR_DELAY_S,
    STARTING_S,
    Circumstance,
    suppressed,
)
from hangroom.control.alarms.states import AlarmState, Hold, step


@dataclass(frozen=True, slots=True, kw_only=True)
class Alarm:
    """One alarm of a bank: its row, its state, its delays."""

    row: Row
    state: AlarmState = field(default_factory=AlarmState)
    delay: Delayed = field(default_factory=Delayed)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bank:
    """A set of alarms and what they have in common; replaced, never changed.

    `blind`: whether the air has been unknown for long. `inspection_ends_uptime_s`: until when a
    person has the door open, or None.
    """

    alarms: Mapping[AlarmId, Alarm]
    started_uptime_s: float
    blind: Delayed = field(default_factory=Delayed)
    inspection_ends_uptime_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """What one tick says: raw conditions, and whether there is no air to be trusted.

    An alarm that is not named was not looked at and keeps its state.
    """

    raw: Mapping[AlarmId, Raw]
    blind: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmEvent:
    """One line of the alarm log; `tell` says what to annunciate.

    `at` is for the record, `uptime_s` monotonic. `suppression`, `occurrences`: after the event.
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
        figures: Mapping[str, float] | None = None,
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
                reason=hold.reason if hold else "",
                figures=figures or {},
            )
        )
        return replace(alarm, state=state)


def evaluate(
    bank: Bank, conditions: Conditions, *, uptime_s: float, now: datetime, sequence: int
) -> tuple[Bank, tuple[AlarmEvent, ...]]:
    """Return the bank after one tick and what happened, numbered on from `sequence`."""
    inspection_ends_s = bank.inspection_ends_uptime_s
    if inspection_ends_s is not None and uptime_s >= inspection_ends_s:
        inspection_ends_s = None
    bank = replace(
        bank,
        blind=delayed(
            bank.blind,
            whether(holds=conditions.blind),
            on_delay_s=NO_TRUSTED_AIR_DELAY_S,
            off_delay_s=NO_TRUSTED_AIR_DELAY_S,
            uptime_s=uptime_s,
        ),
        inspection_ends_uptime_s=inspection_ends_s,
    )
    by_design = suppressed(_circumstances(bank, uptime_s))
    log = Log(uptime_s=uptime_s, now=now, sequence=sequence)
    alarms = {
        id_: _evaluated(alarm, conditions.raw.get(id_), by_design.get(id_), log)
        for id_, alarm in bank.alarms.items()
    }
    return replace(bank, alarms=alarms), tuple(log.events)


def _circumstances(bank: Bank, uptime_s: float) -> set[Circumstance]:
    holds = {
        Circumstance.NO_TRUSTED_AIR: bank.blind.active,
        Circumstance.STARTING: uptime_s - bank.started_uptime_s < STARTING_S,
        Circumstance.INSPECTION: bank.inspection_ends_uptime_s is not None,
    }
    return {circumstance for circumstance, there in holds.items() if there}


def _evaluated(alarm: Alarm, raw: Raw | None, circumstance: Circumstance | None, log: Log) -> Alarm:
    """Return one alarm after one tick.

    A suppression that begins comes before the condition and one that ends comes after it, so that
    nothing is told that was already expected, or is already over.
    """
    alarm = _suppressed(alarm, circumstance, log)
    if raw is not None:
        alarm = _looked_at(alarm, raw, log)
    alarm = _unsuppressed(alarm, circumstance, log)
    if _re_alarm_is_due(alarm, log.uptime_s):
        alarm = log.take(alarm, Event.RE_ALARMED)
    return alarm


def _suppressed(alarm: Alarm, circumstance: Circumstance | None, log: Log) -> Alarm:
    held = alarm.state.holds.get(Suppression.BY_DESIGN)
    if circumstance is None or (held is not None and held.reason == circumstance):
        return alarm
    hold = Hold(since=log.now, by="", reason=circumstance)
    return log.take(alarm, Event.SUPPRESSED, hold=hold)


def _looked_at(alarm: Alarm, raw: Raw, log: Log) -> Alarm:
    delay = delayed(
        alarm.delay,
        raw.side,
        on_delay_s=alarm.row.on_delay_s,
        off_delay_s=alarm.row.off_delay_s,
        uptime_s=log.uptime_s,
    )
    if delay is alarm.delay:
        return alarm
    turned = delay.active != alarm.delay.active
    alarm = replace(alarm, delay=delay)
    if not turned:
        return alarm
    event = Event.ACTIVATED if delay.active else Event.RETURNED_TO_NORMAL
    return log.take(alarm, event, figures=raw.figures)


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
        after_s is not None
        and state.condition is Condition.ACTIVE
        and not state.holds
        and state.quiet_since_uptime_s is not None
        and uptime_s - state.quiet_since_uptime_s >= after_s
    )
