"""A witness of what must never happen, who knows nothing of how decisions are made.

It looks at relays as commanded and at readings as measured, tick by tick, and keeps its own notes.
Welded contacts are not its business: no program can open one.
"""

from collections.abc import Iterator, Mapping, Sequence
from math import inf
from statistics import median

from hangroom.terms import AirReading, RelayKind, RoomPlan

# The element's range by its maker's data sheet. The ends of the humidity scale are where failed
# elements sit, so that only what lies inside is a reading.
POSSIBLE_TEMPERATURE_C = (-40.0, 80.0)
POSSIBLE_HUMIDITY_PCT = (0.0, 99.9)

BLIND_AFTER_S = 30.0
NEVER_TOGETHER = (
    (RelayKind.HUMIDIFIER, RelayKind.EXHAUST_FAN),
    (RelayKind.COOLING, RelayKind.HEATER),
)
# Moments are sums of seconds; a rest may look this much too short by rounding.
ROUNDING_S = 1e-6


class Witness:
    """Watches one room over any number of starts of the program."""

    def __init__(self, plan: RoomPlan) -> None:
        self._plan = plan
        self._closed = dict.fromkeys(plan.relays, False)
        self._changed_s = dict.fromkeys(plan.relays, -inf)

    def look(
        self,
        closed: Mapping[RelayKind, bool],
        readings: Sequence[AirReading | None],
        *,
        uptime_s: float,
        running: bool = True,
    ) -> list[str]:
        """Return what is wrong right after a tick; `running` is False while there is no program.

        A run that ended because the program ended is cut short by nobody.
        """
        seen = _Seen(readings, uptime_s=uptime_s, expires_s=self._plan.reading_expires_s)
        wrong = [
            *self._humidifier_against_the_air(closed, seen),
            *self._pairs(closed, uptime_s),
            *self._times(closed, seen, uptime_s, running=running),
        ]
        for relay, now in closed.items():
            if now != self._closed[relay]:
                self._closed[relay] = now
                self._changed_s[relay] = uptime_s
        return wrong

    def _humidifier_against_the_air(
        self, closed: Mapping[RelayKind, bool], seen: "_Seen"
    ) -> Iterator[str]:
        if not closed.get(RelayKind.HUMIDIFIER):
            return
        if seen.youngest_s > BLIND_AFTER_S:
            yield "humidifier on while nothing was measured for 30 s"
        target = self._plan.humidity
        if target and seen.humidity_pct is not None and seen.humidity_pct >= target.high_limit_pct:
            yield "humidifier on at or above the hard limit"

    def _pairs(self, closed: Mapping[RelayKind, bool], uptime_s: float) -> Iterator[str]:
        for first, second in NEVER_TOGETHER:
            if closed.get(first) and closed.get(second):
                yield f"{first} and {second} on together"
        pair = (RelayKind.HUMIDIFIER, RelayKind.EXHAUST_FAN)
        for this, other in (pair, pair[::-1]):
            if other in closed and closed.get(this) and not closed[other]:
                ended_s = uptime_s if self._closed[other] else self._changed_s[other]
                if uptime_s - ended_s < self._plan.settle_s - ROUNDING_S:
                    yield f"{this} on before the last dose of the {other} has settled"

    def _times(
        self,
        closed: Mapping[RelayKind, bool],
        seen: "_Seen",
        uptime_s: float,
        *,
        running: bool,
    ) -> Iterator[str]:
        for relay, rules in self._plan.relays.items():
            stayed_s = uptime_s - self._changed_s[relay] + ROUNDING_S
            if closed[relay] and not self._closed[relay] and stayed_s < rules.min_off_s:
                yield f"{relay} on again before its rest was over"
            cut_short = self._closed[relay] and not closed[relay] and stayed_s < rules.min_on_s
            if cut_short and running and not self._must_go_off(relay, seen):
                yield f"{relay} off before its shortest run was over"

    def _must_go_off(self, relay: RelayKind, seen: "_Seen") -> bool:
        """Whether safety asks for it: nothing to go by, or air past the relay's own limit."""
        humidity, temperature = self._plan.humidity, self._plan.temperature
        if seen.humidity_pct is None or seen.temperature_c is None:
            return True
        match relay:
            case RelayKind.HUMIDIFIER:
                return humidity is not None and seen.humidity_pct >= humidity.high_limit_pct
            case RelayKind.EXHAUST_FAN:
                return humidity is not None and seen.humidity_pct <= humidity.low_limit_pct
            case RelayKind.COOLING:
                return temperature is not None and seen.temperature_c <= temperature.low_limit_c
            case RelayKind.HEATER:
                return temperature is not None and seen.temperature_c >= temperature.high_limit_c
            case RelayKind.CIRCULATION_FAN:
                return False


class _Seen:
    """What the sensors say: the youngest possible reading's age, and the median of the fresh."""

    def __init__(
        self, readings: Sequence[AirReading | None], *, uptime_s: float, expires_s: float
    ) -> None:
        possible = [reading for reading in readings if reading is not None and _possible(reading)]
        self.youngest_s = min((uptime_s - r.taken_uptime_s for r in possible), default=inf)
        fresh = [r for r in possible if uptime_s - r.taken_uptime_s <= expires_s]
        self.humidity_pct = median(r.humidity_pct for r in fresh) if fresh else None
        self.temperature_c = median(r.temperature_c for r in fresh) if fresh else None


def _possible(reading: AirReading) -> bool:
    # Written as "inside", so that nan, for which every comparison is false, is no reading.
    coldest_c, warmest_c = POSSIBLE_TEMPERATURE_C
    driest_pct, wettest_pct = POSSIBLE_HUMIDITY_PCT
    return (
        coldest_c <= reading.temperature_c <= warmest_c
        and driest_pct < reading.humidity_pct < wettest_pct
    )
