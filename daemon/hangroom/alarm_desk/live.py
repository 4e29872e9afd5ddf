"""What the live board is told of a bank: every alarm that is not simply normal."""

from datetime import datetime, timedelta

from hangroom.alarm_table.words import Condition, Suppression
from hangroom.control.alarms.bank import Alarm, Bank
from hangroom.control.alarms.states import AlarmState, Hold
from hangroom.store.live import LiveAlarm


def live_alarms(scope: str, bank: Bank, *, now: datetime, uptime_s: float) -> tuple[LiveAlarm, ...]:
    """Return the alarms of a bank that somebody may want to see, in the table's order."""
    return tuple(
        _live(scope, alarm, now=now, uptime_s=uptime_s)
        for alarm in bank.alarms.values()
        if _is_to_be_seen(alarm.state)
    )


def _is_to_be_seen(state: AlarmState) -> bool:
    # A normal alarm that is suppressed by design is nobody's business.
    return (
        state.condition is Condition.ACTIVE
        or not state.acknowledged
        or state.latched
        or _held_by_a_person(state) is not None
    )


def _live(scope: str, alarm: Alarm, *, now: datetime, uptime_s: float) -> LiveAlarm:
    state = alarm.state
    hold = _held_by_a_person(state)
    ends_s = hold.ends_uptime_s if hold else None
    return LiveAlarm(
        alarm=alarm.row.id,
        scope=scope,
        condition=state.condition,
        acknowledged=state.acknowledged,
        latched=state.latched,
        suppression=state.suppression,
        occurrences=state.occurrences,
        since_at=alarm.turned_at or (hold.since if hold else now),
        figures=alarm.came_on.figures,
        why=alarm.came_on.why,
        held_by=hold.by if hold else "",
        held_why=hold.reason if hold else "",
        held_until=None if ends_s is None else now + timedelta(seconds=ends_s - uptime_s),
    )


def _held_by_a_person(state: AlarmState) -> Hold | None:
    return state.holds.get(Suppression.OUT_OF_SERVICE) or state.holds.get(Suppression.SHELVED)
