"""A bank's states as plain data, and back, so that a restart forgets nothing a person did.

Monotonic seconds mean nothing to the next program, so what is kept is how long ago or how long
still. Delays that were running begin again, and so does an inspection's end: nobody knows how the
door stands now.
"""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from math import isfinite
from typing import Any

from hangroom.alarm_table.row import AlarmId, Row
from hangroom.alarm_table.words import Condition, Suppression
from hangroom.control.alarms.bank import Alarm, Bank, new_bank
from hangroom.control.alarms.delays import Delayed
from hangroom.control.alarms.states import AlarmState, Hold
from hangroom.errors import StoreError


def snapshot(bank: Bank, *, uptime_s: float, now: datetime) -> dict[str, Any]:
    """Return what has to outlive the program, as JSON knows it."""
    return {
        "saved_at": now.isoformat(),
        "blind": bank.blind.active,
        "alarms": {
            str(id_): _kept(alarm.state, uptime_s=uptime_s) for id_, alarm in bank.alarms.items()
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
        off = now - datetime.fromisoformat(kept["saved_at"])
        alarms = {
            id_: _restored(row, kept["alarms"][id_], uptime_s=uptime_s, off=off)
            for id_, row in rows.items()
            if id_ in kept["alarms"]
        }
        blind = Delayed(active=bool(kept["blind"]))
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise StoreError(
            f"The kept alarm states cannot be understood ({error!r}), so what was acknowledged or "
            "shelved is not known. Look through the alarms; they begin anew."
        ) from error
    bank = new_bank(rows, uptime_s=uptime_s)
    return replace(bank, blind=blind, alarms={**bank.alarms, **alarms})


def _kept(state: AlarmState, *, uptime_s: float) -> dict[str, Any]:
    quiet_since_s = state.quiet_since_uptime_s
    return {
        "condition": state.condition,
        "acknowledged": state.acknowledged,
        "latched": state.latched,
        "annunciated": state.annunciated,
        "occurrences": state.occurrences,
        "quiet_s": None if quiet_since_s is None else uptime_s - quiet_since_s,
        "holds": {
            str(kind): {
                "since": hold.since.isoformat(),
                "by": hold.by,
                "reason": hold.reason,
                "left_s": None if hold.ends_uptime_s is None else hold.ends_uptime_s - uptime_s,
            }
            for kind, hold in state.holds.items()
        },
    }


def _restored(row: Row, kept: Mapping[str, Any], *, uptime_s: float, off: timedelta) -> Alarm:
    condition = Condition(kept["condition"])
    quiet_s = kept["quiet_s"]
    return Alarm(
        row=row,
        state=AlarmState(
            condition=condition,
            acknowledged=bool(kept["acknowledged"]),
            latched=bool(kept["latched"]),
            annunciated=bool(kept["annunciated"]),
            occurrences=int(kept["occurrences"]),
            quiet_since_uptime_s=None if quiet_s is None else uptime_s - float(quiet_s),
            holds={
                Suppression(kind): Hold(
                    since=datetime.fromisoformat(hold["since"]),
                    by=str(hold["by"]),
                    reason=str(hold["reason"]),
                    ends_uptime_s=_ends_uptime_s(hold["left_s"], row, uptime_s=uptime_s, off=off),
                )
                for kind, hold in kept["holds"].items()
            },
        ),
        delay=Delayed(active=condition is Condition.ACTIVE),
    )


def _ends_uptime_s(
    left_s: float | None, row: Row, *, uptime_s: float, off: timedelta
) -> float | None:
    """Return when a shelf ends, having gone on while the program was off.

    A clock that went back since says nothing about how long that was, so the shelf ends now.
    """
    if left_s is None:
        return None
    off_s = off.total_seconds()
    if off_s < 0 or not isfinite(left_s):
        return uptime_s
    return uptime_s + max(0.0, min(left_s, row.longest_shelf_s) - off_s)
