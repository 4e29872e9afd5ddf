"""The bell's part of the alarm desk: what it tells, and what its button acknowledges."""

from collections.abc import Callable, Iterable
from datetime import datetime, timedelta

from hangroom.alarm_table.ringing import Ring
from hangroom.alarm_table.row import Priority
from hangroom.control.alarms.annunciation import Waiting, ring_for, told_at_the_rooms
from hangroom.ports import Bell
from hangroom.store.live import LiveBell
from hangroom.store.requests import Kind, Outcome, Request

# What the log says of who pressed it.
BY_BUTTON = "the button in the room"
# A ring is a loan of a few ticks, like a closed relay: a loop that hangs falls silent.
RINGS_FOR_S = 10.0

Acted = Callable[[Request, datetime, float], tuple[Outcome, str]]


class BellDesk:
    """Rings for the alarms that nobody has acknowledged, and lets a press acknowledge those."""

    def __init__(self, bell: Bell, *, least: Priority) -> None:
        self._bell = bell
        self._least = least
        self._told: tuple[Waiting, ...] = ()
        self._ring = Ring.NOTHING

    def live(self) -> LiveBell:
        """Return what the board shows of it."""
        return LiveBell(ring=self._ring, fault=self._bell.fault())

    def pressed(
        self, waiting: Iterable[Waiting], acted: Acted, *, now: datetime, uptime_s: float
    ) -> None:
        """Acknowledge what was told, where the button was pressed since the last tick.

        Only what rang before the press can have been heard: what has come up since is told anew.
        """
        if not self._bell.take_presses():
            return
        still = {(one.scope, one.alarm) for one in waiting}
        for one in self._told:
            if (one.scope, one.alarm) in still:
                acted(_acknowledgement(one, now), now, uptime_s)

    def rung(self, waiting: Iterable[Waiting], *, uptime_s: float) -> None:
        """Ring for what waits now."""
        self._told = told_at_the_rooms(waiting, least=self._least)
        self._ring = ring_for(self._told)
        self._bell.ring(self._ring, until_uptime_s=uptime_s + RINGS_FOR_S)


def _acknowledgement(one: Waiting, now: datetime) -> Request:
    """Return the wish that the page would write for the same alarm; it goes the same way."""
    return Request(
        number=0,
        asked_at=now,
        expires_at=now + timedelta(seconds=RINGS_FOR_S),
        asked_by=BY_BUTTON,
        kind=Kind.ALARM_ACKNOWLEDGE,
        room="",
        body={"alarm": str(one.alarm), "scope": one.scope},
        outcome=None,
        answer=None,
    )
