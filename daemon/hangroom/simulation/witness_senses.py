"""The witness's own idea of what a sensor's readings are worth, made without the daemon's.

Two answers, because between them lies what may be judged either way: a reading that nobody could
take for a measurement must not be acted on, and one that nothing speaks against must be heeded.
"""

from math import inf

from hangroom.terms import AirReading

# The element's range by its maker's data sheet. The ends of the humidity scale are where failed
# elements sit, so that only what lies inside is a reading.
POSSIBLE_TEMPERATURE_C = (-40.0, 80.0)
POSSIBLE_HUMIDITY_PCT = (0.0, 99.8)
# Both low bytes of the frame all ones; the checksum is right.
GLITCH = (25.5, 25.5)

# What control must have noticed by now: it is given a minute more than its own limits.
WET_FROM_PCT, WET_FOR_S = 99.5, 1860.0
SAME_FOR_S, SAME_UNSWITCHED_FOR_S = 7260.0, 21_660.0
# After so many bad readings in a row a sensor is shunned for five minutes; here one minute less.
BAD_IN_A_ROW, SHUNNED_FOR_S = 3, 240.0

# Nothing speaks against readings of an ordinary room that follow one another closely, or as far as
# a relay that is on may have moved the air, and have done so from the start or for longer than any
# trust takes to come back.
ORDINARY_TEMPERATURE_C = (-9.0, 49.0)
ORDINARY_HUMIDITY_PCT = (2.0, 99.4)
NEAR_PCT, NEAR_C, NEAR_S = 10.0, 2.0, 30.0
LIVELY_FOR_S = 3600.0
STEADY_FOR_S = 330.0


class Sense:
    """One sensor as the witness follows it, from the start of the program."""

    def __init__(self) -> None:
        self.newest: AirReading | None = None
        self._last: AirReading | None = None
        self._measured: AirReading | None = None
        self._steady_since_s = -inf
        self._bad_in_a_row = 0
        self._shunned_s = -inf
        self._wet_since_s = inf
        self._same_since_s = inf
        self._switched_since = False

    def take(self, reading: AirReading | None, *, any_on: bool, switched: bool) -> None:
        """Follow the sensor for a tick.

        `any_on`: whether a relay was closed up to it; `switched`: whether one was switched in it.
        """
        self._switched_since = self._switched_since or switched
        before, self.newest = self._last, reading
        if reading is None or reading is before:
            return
        self._last = reading
        taken_s = reading.taken_uptime_s
        if before is None or _values(reading) != _values(before):
            self._same_since_s, self._switched_since = taken_s, False
        is_wet = reading.humidity_pct >= WET_FROM_PCT
        self._wet_since_s = min(self._wet_since_s, taken_s) if is_wet else inf
        if _possible(reading):
            self._measured, self._bad_in_a_row = reading, 0
        else:
            self._bad_in_a_row += 1
            if self._measured and reading.humidity_pct > self._measured.humidity_pct:
                # It may be that wet, so that what was before it is nothing to go by.
                self._measured = None
        if self._bad_in_a_row >= BAD_IN_A_ROW:
            self._shunned_s = taken_s
        is_steady = (
            _ordinary(reading)
            and (before is None or _follows(before, reading, any_on=any_on))
            and taken_s - self._same_since_s < LIVELY_FOR_S
        )
        self._steady_since_s = min(self._steady_since_s, taken_s) if is_steady else inf

    def possible(self) -> AirReading | None:
        """The newest reading that somebody could take for a measurement; of any age."""
        if self.newest is None or self._measured is None:
            return None
        taken_s = self.newest.taken_uptime_s
        wet = taken_s - self._wet_since_s > WET_FOR_S
        same_for_s = SAME_FOR_S if self._switched_since else SAME_UNSWITCHED_FOR_S
        frozen = taken_s - self._same_since_s > same_for_s
        shunned = taken_s - self._shunned_s < SHUNNED_FOR_S
        return None if wet or frozen or shunned else self._measured

    def certain(self) -> AirReading | None:
        """The newest reading, where nothing speaks against it; of any age."""
        newest = self.newest
        if newest is None or newest.taken_uptime_s - self._steady_since_s < STEADY_FOR_S:
            return None
        return newest


def _values(reading: AirReading) -> tuple[float, float]:
    return reading.humidity_pct, reading.temperature_c


def _possible(reading: AirReading) -> bool:
    # Written as "inside", so that nan, for which every comparison is false, is no reading.
    coldest_c, warmest_c = POSSIBLE_TEMPERATURE_C
    driest_pct, wettest_pct = POSSIBLE_HUMIDITY_PCT
    return (
        coldest_c <= reading.temperature_c <= warmest_c
        and driest_pct < reading.humidity_pct < wettest_pct
        and _values(reading) != GLITCH
    )


def _ordinary(reading: AirReading) -> bool:
    coldest_c, warmest_c = ORDINARY_TEMPERATURE_C
    driest_pct, wettest_pct = ORDINARY_HUMIDITY_PCT
    return (
        coldest_c <= reading.temperature_c <= warmest_c
        and driest_pct <= reading.humidity_pct < wettest_pct
        and _values(reading) != GLITCH
    )


def _follows(before: AirReading, reading: AirReading, *, any_on: bool) -> bool:
    return (
        _ordinary(before)
        and reading.taken_uptime_s - before.taken_uptime_s <= NEAR_S
        and (
            any_on
            or (
                abs(reading.humidity_pct - before.humidity_pct) <= NEAR_PCT
                and abs(reading.temperature_c - before.temperature_c) <= NEAR_C
            )
        )
    )
