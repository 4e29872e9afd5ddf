"""What one look of the plant watch goes by: the commands, the air, and what is asked of it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import inf

from hangroom.control.plant_watch.trace import (
    AirSeen,
    Sample,
    Trace,
    between,
    one_pct_g_per_m3,
    vapour_g_per_m3,
)
from hangroom.terms import HumidityTarget, RelayKind, TemperatureTarget

# "Now" is this many samples, so that a change counts once it has lasted.
NOW_SAMPLES = 3
# "Before" is from and to so long ago: an opened door shows within less than that.
BEFORE_FROM_S, BEFORE_TO_S = 600.0, 75.0
LEAST_BEFORE_SAMPLES = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Switch:
    """A relay as commanded: its position, when it was last opened and closed.

    `ran_s`: how long its last whole run was, 0 before the first.
    """

    closed: bool
    opened_uptime_s: float
    closed_uptime_s: float = -inf
    ran_s: float = 0.0

    @property
    def changed_uptime_s(self) -> float:
        """When it was last switched."""
        return self.closed_uptime_s if self.closed else self.opened_uptime_s


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """One look: relays as commanded, the air of the last minutes, the air outside, the targets."""

    uptime_s: float
    switches: Mapping[RelayKind, Switch]
    trace: Trace
    outside: AirSeen | None
    humidity: HumidityTarget | None
    temperature: TemperatureTarget | None

    def off_for_s(self, kind: RelayKind) -> float:
        """How long a relay has been open, in seconds: 0 while closed, infinity if there is none."""
        switch = self.switches.get(kind)
        if switch is None:
            return inf
        return 0.0 if switch.closed else self.uptime_s - switch.opened_uptime_s

    def unchanged_for_s(self, kind: RelayKind) -> float:
        """How long a relay has kept its position, in seconds; infinity if there is none."""
        switch = self.switches.get(kind)
        return inf if switch is None else self.uptime_s - switch.changed_uptime_s

    @property
    def now(self) -> Sequence[Sample]:
        """The newest samples."""
        return self.trace.samples[-NOW_SAMPLES:]

    def before(self, ago_s: float = BEFORE_TO_S) -> Sequence[Sample]:
        """Return the samples of some minutes before now, none where they are too few."""
        newest_s = self.trace.samples[-1].uptime_s
        found = between(self.trace, newest_s - BEFORE_FROM_S, newest_s - ago_s)
        return found if len(found) >= LEAST_BEFORE_SAMPLES else ()

    @property
    def outside_g_per_m3(self) -> float | None:
        """Water in the air outside, None where it is not known."""
        if self.outside is None:
            return None
        return vapour_g_per_m3(self.outside.temperature_c, self.outside.humidity_pct)

    @property
    def one_pct_g_per_m3(self) -> float:
        """How much water is 1 %RH in the room as it is now."""
        return one_pct_g_per_m3(self.trace.samples[-1].temperature_c)
