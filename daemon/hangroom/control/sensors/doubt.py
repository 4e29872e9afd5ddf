"""Whether one sensor is to be gone by: each new reading against what the sensor said before."""

from dataclasses import dataclass

from hangroom.control.sensors.jump import jump
from hangroom.control.sensors.oddity import may_be_true, oddity
from hangroom.control.sensors.standing import (
    UNKNOWN,
    Standing,
    after_a_good_one,
    after_a_stuck_one,
    after_an_odd_one,
    erratic,
    regaining,
)
from hangroom.control.sensors.stuck import Still, stuck, watched
from hangroom.control.sensors.surroundings import Surroundings
from hangroom.terms import AirReading, Because


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorMemory:
    """What is remembered of one sensor; replaced, never changed.

    `newest`: its newest reading, as it gave it. `doubt`: why that is not gone by, or None. `good`:
    the newest that was not odd, and `hidden` whether something since then may be true instead of
    it. `unconfirmed`: the newest, where it jumped.
    """

    newest: AirReading | None = None
    doubt: Because | None = None
    good: AirReading | None = None
    hidden: bool = False
    unconfirmed: AirReading | None = None
    still: Still | None = None
    standing: Standing = UNKNOWN

    @property
    def speaks(self) -> AirReading | None:
        """The reading to go by: the newest, or the one before a frame that was no measurement.

        A trusted sensor's single bad frame makes nobody blind for as long as its last good reading
        is fresh. A jump may be true, and so may a frame that could be the air of a room gone wrong:
        they hide what was before them until there is a good one again.
        """
        if self.doubt is None:
            return self.newest
        return None if self.standing.lost or self.hidden or self.good is self.newest else self.good

    @property
    def erratic(self) -> Because | None:
        """Say that too many readings lately were odd, though the rest may be good, or None."""
        if self.newest is None:
            return None
        return erratic(self.standing, taken_uptime_s=self.newest.taken_uptime_s)


UNSEEN = SensorMemory()

# Of an earlier program: it has to be good for a while before it is gone by.
DISTRUSTED = SensorMemory(standing=Standing(lost=True))


def looked_at(
    before: SensorMemory,
    reading: AirReading,
    surroundings: Surroundings,
    *,
    expires_s: float,
) -> SensorMemory:
    """Return the memory after one more reading, a fresh one.

    `expires_s`: an older reading says nothing about the next one.
    """
    taken_s, newest = reading.taken_uptime_s, before.newest
    good, standing = before.good, before.standing
    still = watched(before.still, newest, reading)
    odd = oddity(reading)
    jumped = odd is None and jump(
        reading,
        good=good,
        unconfirmed=before.unconfirmed,
        surroundings=surroundings,
        expires_s=expires_s,
    )
    doubt = odd or jumped or None
    wetter = good is not None and reading.humidity_pct > good.humidity_pct
    hidden = doubt is not None and (before.hidden or bool(jumped) or wetter or may_be_true(reading))
    if doubt:
        standing = after_an_odd_one(standing, taken_uptime_s=taken_s)
    else:
        good = reading
        doubt = stuck(
            still, taken_uptime_s=taken_s, switched_uptime_s=surroundings.switched_uptime_s
        )
        if doubt:
            standing = after_a_stuck_one(standing)
        else:
            unbroken = newest is not None and taken_s - newest.taken_uptime_s <= expires_s
            standing = after_a_good_one(standing, taken_uptime_s=taken_s, unbroken=unbroken)
            doubt = regaining(standing, taken_uptime_s=taken_s)
    return SensorMemory(
        newest=reading,
        doubt=doubt,
        good=good,
        hidden=hidden,
        unconfirmed=reading if jumped else None,
        still=still,
        standing=standing,
    )
