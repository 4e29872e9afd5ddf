"""What is told at the rooms of the alarms that nobody has acknowledged, and when a button counts.

Pure. An urgent alarm that is on is heard; one that waits for an acknowledgement only, or is less
urgent, is seen. An acknowledgement silences it, wherever it comes from.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from hangroom.alarm_table.ringing import Ring
from hangroom.alarm_table.row import AlarmId, Priority

# A contact bounces for a few milliseconds; what lasts this long is a hand. Our judgement.
BOUNCES_FOR_S = 0.03
# Nobody holds a button for so long: it is stuck, or wired to ground.
STUCK_AFTER_S = 30.0

_RANK = {Priority.HIGH: 2, Priority.MEDIUM: 1, Priority.LOW: 0}


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """An alarm that nobody has acknowledged and nothing suppresses; `active`: it is still on."""

    scope: str
    alarm: AlarmId
    priority: Priority
    active: bool


def told_at_the_rooms(waiting: Iterable[Waiting], *, least: Priority) -> tuple[Waiting, ...]:
    """Return those that are told by buzzer and lamp: of that priority and above."""
    return tuple(one for one in waiting if _RANK[one.priority] >= _RANK[least])


def ring_for(told: Iterable[Waiting]) -> Ring:
    """Return what is heard and seen of these."""
    ring = Ring.NOTHING
    for one in told:
        if one.priority is Priority.HIGH and one.active:
            return Ring.BUZZER
        ring = Ring.LAMP
    return ring


@dataclass(frozen=True, slots=True)
class Button:
    """A button as it is believed to be, and since when its contact says otherwise, or None.

    It begins as held down: one that is stuck at the start has to be let go before it counts.
    `since_uptime_s`: when it last settled.
    """

    since_uptime_s: float
    down: bool = True
    other_since_uptime_s: float | None = None

    def is_stuck(self, *, uptime_s: float) -> bool:
        """Whether it has been down for longer than a hand holds it."""
        return self.down and uptime_s - self.since_uptime_s > STUCK_AFTER_S


def button_seen(button: Button, *, contact: bool, uptime_s: float) -> tuple[Button, bool]:
    """Return the button after a look at its contact, and whether it has just been pressed.

    A press is counted once, when the contact has held for longer than it bounces.
    """
    if contact == button.down:
        if button.other_since_uptime_s is None:
            return button, False
        return replace(button, other_since_uptime_s=None), False
    if button.other_since_uptime_s is None:
        return replace(button, other_since_uptime_s=uptime_s), False
    if uptime_s - button.other_since_uptime_s < BOUNCES_FOR_S:
        return button, False
    return Button(since_uptime_s=uptime_s, down=contact), contact
