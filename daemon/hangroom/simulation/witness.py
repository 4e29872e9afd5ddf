"""A witness of what must never happen, who knows nothing of how decisions are made.

It looks at relays as commanded and at readings as measured, tick by tick, and keeps its own notes.
Welded contacts are not its business: no program can open one.
"""

from collections.abc import Iterator, Mapping, Sequence
from math import inf

from hangroom.simulation.witness_hours import HOUR_S, Hours
from hangroom.simulation.witness_senses import Sense
from hangroom.terms import AirReading, RelayKind, RoomPlan

BLIND_AFTER_S = 30.0
# What a blind room may be aired at most, and what a loop of two seconds may be late, twice an hour.
MOST_BLIND_AIRING_S = 0.15 * HOUR_S + 4.0
NEVER_TOGETHER = (
    (RelayKind.HUMIDIFIER, RelayKind.EXHAUST_FAN),
    (RelayKind.COOLING, RelayKind.HEATER),
)
# Nobody can have measured later than now, but for a tick that is late.
MOST_AHEAD_S = 2.0
# Moments are sums of seconds; a rest may look this much too short by rounding.
ROUNDING_S = 1e-6


class Witness:
    """Watches one room over any number of starts of the program."""

    def __init__(self, plan: RoomPlan) -> None:
        self._plan = plan
        self._closed = dict.fromkeys(plan.relays, False)
        self._changed_s = dict.fromkeys(plan.relays, -inf)
        self._senses: list[Sense] = []
        self._hours = {relay: Hours() for relay in plan.relays}
        self._blind_since_s: float | None = None

    def look(
        self,
        closed: Mapping[RelayKind, bool],
        readings: Sequence[AirReading | None],
        *,
        uptime_s: float,
        running: bool = True,
    ) -> list[str]:
        """Return what is wrong right after a tick; `running` is False while there is no program.

        A run that ended because the program ended is cut short by nobody. Sensors are followed
        anew by each program, and so they are here.
        """
        if not running or not self._senses:
            self._senses = [Sense() for _ in readings]
        any_on = any(self._closed.values())
        switched = any(now != self._closed[relay] for relay, now in closed.items())
        for sense, reading in zip(self._senses, readings, strict=True):
            come = reading is not None and reading.taken_uptime_s <= uptime_s + MOST_AHEAD_S
            sense.take(reading if come else None, any_on=any_on, switched=switched)
        seen = _Seen(self._senses, uptime_s=uptime_s, expires_s=self._plan.reading_expires_s)
        wrong = [
            *self._humidifier_against_the_air(closed, seen),
            *self._pairs(closed, uptime_s),
            *self._times(closed, seen, uptime_s, running=running),
            *self._use(closed, seen, uptime_s),
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
        if target and seen.must_heed_pct >= target.high_limit_pct:
            yield "humidifier on at or above the hard limit"

    def _pairs(self, closed: Mapping[RelayKind, bool], uptime_s: float) -> Iterator[str]:
        for first, second in NEVER_TOGETHER:
            if self._plan.reheats and second is RelayKind.HEATER:
                continue
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

    def _use(
        self, closed: Mapping[RelayKind, bool], seen: "_Seen", uptime_s: float
    ) -> Iterator[str]:
        for relay, hours in self._hours.items():
            hours.take(closed=closed[relay], uptime_s=uptime_s)
            for wrong in hours.wrong(self._plan.relays[relay], uptime_s=uptime_s):
                yield f"{relay} {wrong}"
        if seen.possible:
            self._blind_since_s = None
        elif self._blind_since_s is None:
            self._blind_since_s = uptime_s
        if self._blind_since_s is not None and closed.get(RelayKind.EXHAUST_FAN):
            fan = self._hours[RelayKind.EXHAUST_FAN]
            aired_s = fan.ran_s(uptime_s=uptime_s, since_s=self._blind_since_s)
            if aired_s > MOST_BLIND_AIRING_S:
                yield "exhaust fan on for more than 15 % of an hour without a sensor"

    def _must_go_off(self, relay: RelayKind, seen: "_Seen") -> bool:
        """Whether safety may ask for it: nothing certain to go by, or air past its own limit."""
        humidity, temperature = self._plan.humidity, self._plan.temperature
        if not seen.certain:
            return True
        moist_pct = [reading.humidity_pct for reading in seen.possible]
        warm_c = [reading.temperature_c for reading in seen.possible]
        match relay:
            case RelayKind.HUMIDIFIER:
                return humidity is not None and max(moist_pct) >= humidity.high_limit_pct
            case RelayKind.EXHAUST_FAN:
                return humidity is not None and min(moist_pct) <= humidity.low_limit_pct
            case RelayKind.COOLING:
                return temperature is not None and min(warm_c) <= temperature.low_limit_c
            case RelayKind.HEATER:
                too_warm = temperature is not None and max(warm_c) >= temperature.high_limit_c
                too_dry = humidity is not None and min(moist_pct) <= humidity.low_limit_pct
                return too_warm or (self._plan.reheats and too_dry)
            case RelayKind.CIRCULATION_FAN:
                return False


class _Seen:
    """What the sensors say: what may be gone by, and what must be.

    `possible`, `certain`: fresh readings. `youngest_s`: age of the youngest possible one, of any
    age. `must_heed_pct`: humidity that no honest judgement of the sensors can lie below.
    """

    def __init__(self, senses: Sequence[Sense], *, uptime_s: float, expires_s: float) -> None:
        possible = [reading for sense in senses if (reading := sense.possible()) is not None]
        certain = [reading for sense in senses if (reading := sense.certain()) is not None]
        self.youngest_s = min((uptime_s - r.taken_uptime_s for r in possible), default=inf)
        self.possible = [r for r in possible if uptime_s - r.taken_uptime_s <= expires_s]
        self.certain = [r for r in certain if uptime_s - r.taken_uptime_s <= expires_s]
        # Whichever of the possible ones are gone by, the driest is the least they come to; and the
        # moistest of those that must be gone by has the say in what is too moist.
        self.must_heed_pct = max(
            min((r.humidity_pct for r in self.possible), default=-inf),
            max((r.humidity_pct for r in self.certain), default=-inf),
        )
