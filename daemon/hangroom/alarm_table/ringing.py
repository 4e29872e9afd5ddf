"""How an alarm is told at the rooms: by buzzer and lamp, as data.

Rates of the lamp: 2 Hz for what is urgent and 0.5 Hz for the rest lie in the two ranges that
IEC 60073 gives for flashing lights, 1.4 to 2.8 and 0.4 to 0.8 Hz (from memory, not checked). The
buzzer's are our choice: heard through a door, and bearable while somebody comes.
"""

from dataclasses import dataclass
from enum import StrEnum


class Ring(StrEnum):
    """What is heard and seen: nothing, a lamp that blinks, or a buzzer with it."""

    NOTHING = "nothing"
    LAMP = "lamp"
    BUZZER = "buzzer"


@dataclass(frozen=True, slots=True, kw_only=True)
class Beat:
    """On for so long, then off for so long, s, again and again."""

    on_s: float
    off_s: float

    def is_on(self, since_s: float) -> bool:
        """Whether it is on, so many seconds after it began."""
        return since_s % (self.on_s + self.off_s) < self.on_s


BUZZER_BEATS = {Ring.BUZZER: Beat(on_s=0.5, off_s=1.5)}
LAMP_BEATS = {Ring.BUZZER: Beat(on_s=0.25, off_s=0.25), Ring.LAMP: Beat(on_s=1.0, off_s=1.0)}
