"""What a person may do with an alarm: acknowledge, reset, shelve, take out of service, inspect.

Each act takes the bank through one event and returns it with what happened, or raises InputError
that says why it is refused and what to do instead; a refused act changes nothing.
"""

from dataclasses import dataclass, replace
from datetime import datetime
from math import isfinite

from hangroom.alarm_table.log import AlarmEvent
from hangroom.alarm_table.row import AlarmId
from hangroom.alarm_table.words import Condition, Event, Suppression
from hangroom.control.alarms.bank import Alarm, Bank, Log
from hangroom.control.alarms.states import Hold
from hangroom.errors import InputError
from hangroom.terms import LONGEST_INSPECTION_S
from hangroom.units import say_duration


@dataclass(frozen=True, slots=True, kw_only=True)
class Act:
    """Who acts on which alarm, when, and the number of the last event before it.

    `uptime_s` is monotonic; `now` (aware) is for the record.
    """

    alarm: AlarmId
    by: str
    uptime_s: float
    now: datetime
    sequence: int


Acted = tuple[Bank, tuple[AlarmEvent, ...]]


def acknowledge(bank: Bank, act: Act) -> Acted:
    """Note that a person has seen the alarm; acknowledging twice does no harm."""
    return _acted(bank, act, Event.ACKNOWLEDGED)


def reset(bank: Bank, act: Act) -> Acted:
    """Take the latch off an alarm that has returned to normal and was acknowledged."""
    state = _found(bank, act).state
    if state.condition is Condition.ACTIVE:
        raise InputError(f"{act.alarm} is still active. Mend its cause, then reset it.")
    if not state.acknowledged:
        raise InputError(f"{act.alarm} was not acknowledged yet. Acknowledge it, then reset it.")
    return _acted(bank, act, Event.RESET)


def shelve(bank: Bank, act: Act, *, for_s: float, reason: str) -> Acted:
    """Let the alarm rest for a while; shelving again counts from now."""
    longest_s = _found(bank, act).row.longest_shelf_s
    if not (isfinite(for_s) and 0 < for_s <= longest_s):
        raise InputError(
            f"{act.alarm} can be shelved for {say_duration(longest_s)} at most. "
            "Choose a shorter time; it can be shelved again."
        )
    hold = _hold(act, reason, ends_uptime_s=act.uptime_s + for_s)
    return _acted(bank, act, Event.SHELVED, hold=hold)


def unshelve(bank: Bank, act: Act) -> Acted:
    """End a shelf before its time."""
    _must_hold(bank, act, Suppression.SHELVED)
    return _acted(bank, act, Event.UNSHELVED)


def take_out_of_service(bank: Bank, act: Act, *, reason: str) -> Acted:
    """Suppress the alarm for maintenance, until a person returns it to service."""
    return _acted(bank, act, Event.TAKEN_OUT_OF_SERVICE, hold=_hold(act, reason))


def return_to_service(bank: Bank, act: Act) -> Acted:
    """End the maintenance of an alarm."""
    _must_hold(bank, act, Suppression.OUT_OF_SERVICE)
    return _acted(bank, act, Event.RETURNED_TO_SERVICE)


def begin_inspection(bank: Bank, *, for_s: float, uptime_s: float) -> Bank:
    """Expect an open door for a while: deviations are logged but not told."""
    if not (isfinite(for_s) and 0 < for_s <= LONGEST_INSPECTION_S):
        raise InputError(
            f"An inspection lasts {say_duration(LONGEST_INSPECTION_S)} at most. "
            "Choose a shorter time; another can follow."
        )
    return replace(bank, inspection_ends_uptime_s=uptime_s + for_s)


def end_inspection(bank: Bank) -> Bank:
    """Expect a shut door again, from the next evaluation on."""
    return replace(bank, inspection_ends_uptime_s=None)


def _acted(bank: Bank, act: Act, event: Event, *, hold: Hold | None = None) -> Acted:
    log = Log(uptime_s=act.uptime_s, now=act.now, sequence=act.sequence)
    alarm = log.take(_found(bank, act), event, hold=hold, by=act.by)
    return replace(bank, alarms={**bank.alarms, act.alarm: alarm}), tuple(log.events)


def _found(bank: Bank, act: Act) -> Alarm:
    if act.alarm not in bank.alarms:
        raise InputError(f"There is no alarm {act.alarm} here. Reload the page and choose again.")
    return bank.alarms[act.alarm]


def _hold(act: Act, reason: str, *, ends_uptime_s: float | None = None) -> Hold:
    if not reason.strip():
        raise InputError(f"Say why {act.alarm} shall be quiet; the record keeps the reason.")
    return Hold(since=act.now, by=act.by, reason=reason.strip(), ends_uptime_s=ends_uptime_s)


def _must_hold(bank: Bank, act: Act, kind: Suppression) -> None:
    if kind not in _found(bank, act).state.holds:
        raise InputError(f"{act.alarm} is not {kind}. Nothing was changed.")
