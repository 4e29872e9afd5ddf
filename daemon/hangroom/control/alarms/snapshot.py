"""A bank's states as plain data, and back, so that a restart forgets nothing a person did.

Monotonic seconds mean nothing to the next program, so what is kept is how long ago or how long
still; by the time of day it went on since, however long ago it was kept. Alarms of which there is
nothing to say are left out. Delays that were running begin again, and an inspection is over: nobody
knows how the door stands now.
"""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from math import isfinite
from typing import Any

from hangroom.alarm_table.row import AlarmId, Row
from hangroom.alarm_table.words import Condition, Suppression
from hangroom.control.alarms.bank import Alarm, Bank, new_bank
from hangroom.control.alarms.delays import Delayed, Raw, Side
from hangroom.control.alarms.first_out import SETTLING_IN_S
from hangroom.control.alarms.states import AlarmState, Hold
from hangroom.errors import StoreError


def snapshot(bank: Bank, *, uptime_s: float, now: datetime) -> dict[str, Any]:
    """Return what has to outlive the program, as JSON knows it."""
    return {
        "saved_at": now.isoformat(),
        "blind": bank.blind.active,
        "settled_in_s": _left_s(bank.settled_uptime_s, uptime_s),
        "alarms": {
            str(id_): _kept(alarm, uptime_s=uptime_s)
            for id_, alarm in bank.alarms.items()
            if alarm.state != AlarmState()
        },
    }


def restore(
    kept: Mapping[str, Any], rows: Mapping[AlarmId, Row], *, uptime_s: float, now: datetime
) -> Bank:
    """Return the bank a snapshot was made of, in a program that has just started.

    An alarm the snapshot does not name begins normal; one that is no more is dropped. Raises
    StoreError where the snapshot cannot be understood.
    """
    try:
        off_s = (now - datetime.fromisoformat(kept["saved_at"])).total_seconds()
        alarms = {
            id_: _restored(row, kept["alarms"][id_], uptime_s=uptime_s, off_s=off_s)
            for id_, row in rows.items()
            if id_ in kept["alarms"]
        }
        blind = Delayed(active=bool(kept["blind"]))
        settled_s = _ends_uptime_s(
            kept["settled_in_s"], SETTLING_IN_S, uptime_s=uptime_s, off_s=off_s
        )
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise StoreError(
            f"The kept alarm states cannot be understood ({error!r}), so what was acknowledged or "
            "shelved is not known. Look through the alarms; they begin anew."
        ) from error
    bank = new_bank(rows, uptime_s=uptime_s)
    return replace(bank, blind=blind, settled_uptime_s=settled_s, alarms={**bank.alarms, **alarms})


def _left_s(ends_uptime_s: float | None, uptime_s: float) -> float | None:
    return None if ends_uptime_s is None else ends_uptime_s - uptime_s


def _kept(alarm: Alarm, *, uptime_s: float) -> dict[str, Any]:
    state = alarm.state
    quiet_since_s = state.quiet_since_uptime_s
    return {
        "condition": state.condition,
        "acknowledged": state.acknowledged,
        "latched": state.latched,
        "annunciated": state.annunciated,
        "occurrences": state.occurrences,
        "told_occurrence": state.told_occurrence,
        "quiet_s": None if quiet_since_s is None else uptime_s - quiet_since_s,
        "holds": {
            str(kind): {
                "since": hold.since.isoformat(),
                "by": hold.by,
                "reason": hold.reason,
                "left_s": _left_s(hold.ends_uptime_s, uptime_s),
            }
            for kind, hold in state.holds.items()
        },
        "turned_at": None if alarm.turned_at is None else alarm.turned_at.isoformat(),
        "why": alarm.came_on.why,
        # JSON has no word for infinity.
        "figures": {
            name: value for name, value in alarm.came_on.figures.items() if isfinite(value)
        },
    }


def _restored(row: Row, kept: Mapping[str, Any], *, uptime_s: float, off_s: float) -> Alarm:
    condition = Condition(kept["condition"])
    quiet_s, turned_at = kept["quiet_s"], kept["turned_at"]
    return Alarm(
        row=row,
        state=AlarmState(
            condition=condition,
            acknowledged=bool(kept["acknowledged"]),
            latched=bool(kept["latched"]),
            annunciated=bool(kept["annunciated"]),
            occurrences=int(kept["occurrences"]),
            told_occurrence=int(kept["told_occurrence"]),
            quiet_since_uptime_s=(
                None if quiet_s is None else uptime_s - float(quiet_s) - max(0.0, off_s)
            ),
            holds={
                Suppression(kind): Hold(
                    since=datetime.fromisoformat(hold["since"]),
                    by=str(hold["by"]),
                    reason=str(hold["reason"]),
                    ends_uptime_s=_ends_uptime_s(
                        hold["left_s"], row.longest_shelf_s, uptime_s=uptime_s, off_s=off_s
                    ),
                )
                for kind, hold in kept["holds"].items()
            },
        ),
        delay=Delayed(active=condition is Condition.ACTIVE),
        turned_at=None if turned_at is None else datetime.fromisoformat(turned_at),
        came_on=Raw(Side.BEYOND, kept["figures"], str(kept["why"])),
    )


def _ends_uptime_s(
    left_s: float | None, longest_s: float, *, uptime_s: float, off_s: float
) -> float | None:
    """Return when a suppression ends, having gone on since it was kept.

    A clock that went back since says nothing about how long that was, so it ends now.
    """
    if left_s is None:
        return None
    if off_s < 0 or not isfinite(left_s):
        return uptime_s
    return uptime_s + max(0.0, min(left_s, longest_s) - off_s)
