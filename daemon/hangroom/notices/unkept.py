"""Telling when nothing can be kept: a full or dead disk is no reason to be silent.

The one exception from "kept first, then sent". It lives in memory alone: after a restart, or once
the disk is there again and the log is written after all, what was told here is told once more.
"""

from collections.abc import Iterator

from hangroom.alarm_table.row import AlarmId, Priority
from hangroom.alarm_table.table import TABLE
from hangroom.alarm_table.titles import TITLES
from hangroom.alarm_table.words import Condition, Suppression
from hangroom.alarm_words import RANK, URGENCY, say_where
from hangroom.notices.facts import Site
from hangroom.notices.wording import House, Letter
from hangroom.product.notice import RANK as URGENCY_RANK
from hangroom.product.notice import Channel, Urgency
from hangroom.store.live import LiveAlarm, LiveBoard

# Between tries on a channel that does not deliver. Our choice: no ladder is kept in memory.
TRY_EVERY_S = 300.0

# What brings the alarm on the record on, where nothing can be written at all.
NOT_WRITTEN = "not-written"

Seen = frozenset[tuple[str, AlarmId]]


class Unkept:
    """Remembers, per channel, which alarms were told while nothing could be kept."""

    def __init__(self) -> None:
        self._told: dict[str, Seen] = {}
        self._try_at_s: dict[str, float] = {}

    def next_for(self, channel: Channel, found: list[LiveAlarm], uptime_s: float) -> bool:
        """Whether something is to be told on a channel now."""
        if not found:
            self._told.pop(channel.name, None)
            return False
        urgent = min(URGENCY_RANK[_urgency(alarm)] for alarm in found)
        return (
            urgent <= URGENCY_RANK[channel.least]
            and not seen(found) <= self._told.get(channel.name, frozenset())
            and uptime_s >= self._try_at_s.get(channel.name, uptime_s)
        )

    def tried(self, channel: str, found: list[LiveAlarm], *, delivered: bool, at_s: float) -> None:
        """Take note of a try."""
        if delivered:
            self._told[channel] = self._told.get(channel, frozenset()) | seen(found)
        self._try_at_s[channel] = at_s + (0.0 if delivered else TRY_EVERY_S)


def unkept_alarms(board: LiveBoard | None, *, fresh: bool) -> list[LiveAlarm]:
    """Return the alarms to tell from the board alone: those on now, where none can be written."""
    if board is None or not fresh:
        return []
    on = [
        alarm
        for alarm in _all(board)
        if alarm.condition is Condition.ACTIVE and alarm.suppression is Suppression.NONE
    ]
    stuck = any(one.alarm is AlarmId.LOG_FULL and one.why == NOT_WRITTEN for one in on)
    return sorted(on, key=lambda one: RANK[TABLE[one.alarm].priority]) if stuck else []


def letter_unkept(found: list[LiveAlarm], *, site: Site, house: House) -> Letter:
    """Return what is told: that nothing can be written, and every alarm that is on."""
    lines = [
        f"{say_where(one.scope, site.room_titles)}: {TITLES[one.alarm]}."
        f" {URGENCY[TABLE[one.alarm].priority]}: {TABLE[one.alarm].action}."
        for one in found
    ]
    return Letter(
        title=f"{house.name}: the record cannot be written",
        text="Control goes on from memory. These alarms are on:\n\n" + "\n\n".join(lines),
    )


def urgency_of(found: list[LiveAlarm]) -> Urgency:
    """Return how urgent the most urgent of some alarms is."""
    return min((_urgency(one) for one in found), key=lambda one: URGENCY_RANK[one])


def seen(found: list[LiveAlarm]) -> Seen:
    """Return which alarms these are."""
    return frozenset((one.scope, one.alarm) for one in found)


def _urgency(alarm: LiveAlarm) -> Urgency:
    return Urgency(Priority(TABLE[alarm.alarm].priority))


def _all(board: LiveBoard) -> Iterator[LiveAlarm]:
    for room in board.rooms.values():
        yield from room.alarms
    yield from board.alarms
