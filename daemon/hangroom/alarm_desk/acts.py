"""From a request of the page to an act on a bank of alarms, and what to say when it is done."""

from collections.abc import Callable, Mapping
from datetime import datetime

from hangroom.alarm_table.log import AlarmEvent
from hangroom.alarm_table.row import AlarmId
from hangroom.control.alarms.acts import (
    Act,
    Acted,
    acknowledge,
    begin_inspection,
    end_inspection,
    reset,
    return_to_service,
    shelve,
    take_out_of_service,
    unshelve,
)
from hangroom.control.alarms.bank import Bank
from hangroom.errors import InputError
from hangroom.store.request_body import choice, figure, words
from hangroom.store.requests import Kind, Request
from hangroom.units import say_duration

Done = tuple[Bank, tuple[AlarmEvent, ...], str]

# What the journal calls it when a person announces an open door, or a shut one.
INSPECTIONS: Mapping[str, str] = {
    Kind.INSPECTION_BEGIN: "inspection-begun",
    Kind.INSPECTION_END: "inspection-ended",
}


def acted_on(
    bank: Bank, request: Request, *, uptime_s: float, now: datetime, sequence: int
) -> Done:
    """Return the bank after what was asked, what happened, and the answer.

    `sequence`: the number of the last event. Raises InputError that says why it is refused.
    """
    if request.kind == Kind.INSPECTION_BEGIN:
        for_s = figure(request.body, "for_s")
        bank = begin_inspection(bank, for_s=for_s, uptime_s=uptime_s)
        return bank, (), f"An open door makes no alarm for {say_duration(for_s)}."
    if request.kind == Kind.INSPECTION_END:
        return end_inspection(bank), (), "An open door makes an alarm again."
    if request.kind not in _ACTS:
        raise InputError(f"The alarms do not know how to do {request.kind!r}.")
    act = Act(
        alarm=choice(request.body, "alarm", AlarmId),
        by=request.asked_by,
        uptime_s=uptime_s,
        now=now,
        sequence=sequence,
    )
    (bank, events), said = _ACTS[request.kind](bank, act, request.body)
    return bank, events, said


def _shelved(bank: Bank, act: Act, body: object) -> tuple[Acted, str]:
    for_s = figure(body, "for_s")
    done = shelve(bank, act, for_s=for_s, reason=words(body, "why"))
    return done, f"Shelved for {say_duration(for_s)}."


def _out_of_service(bank: Bank, act: Act, body: object) -> tuple[Acted, str]:
    done = take_out_of_service(bank, act, reason=words(body, "why"))
    return done, "Out of service until it is returned to service."


_ACTS: Mapping[str, Callable[[Bank, Act, object], tuple[Acted, str]]] = {
    Kind.ALARM_ACKNOWLEDGE: lambda bank, act, _: (acknowledge(bank, act), "Acknowledged."),
    Kind.ALARM_RESET: lambda bank, act, _: (reset(bank, act), "Reset."),
    Kind.ALARM_SHELVE: _shelved,
    Kind.ALARM_UNSHELVE: lambda bank, act, _: (unshelve(bank, act), "No longer shelved."),
    Kind.ALARM_OUT_OF_SERVICE: _out_of_service,
    Kind.ALARM_INTO_SERVICE: lambda bank, act, _: (return_to_service(bank, act), "In service."),
}
