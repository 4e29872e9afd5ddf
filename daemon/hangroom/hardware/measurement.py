"""What a sensor's child process answers, and whether to believe it.

One JSON object a line: {"temperature_c", "humidity_pct", "taken_uptime_s"} for a measurement,
{"fault"} for a failed one. Nothing is taken on trust: what cannot be understood, lies outside the
sensor's range or was not measured between question and answer is a fault, never a value.
"""

import json
from dataclasses import dataclass
from enum import StrEnum

from hangroom.sensor_kinds import SensorKind

DRIEST_PCT, DAMPEST_PCT = 0.0, 100.0

# What the SHTs' formula, -45 + 175 * word / 65535 degC (data sheets), makes of a word of sixteen
# zero bits and of sixteen ones. The kernel's drivers, which divide by 65536, end 0.003 below it.
ALL_ZERO_C, ALL_ONES_C = -45.0, 130.0
_NEAR_C = 0.01


class Fault(StrEnum):
    """Why a measurement failed."""

    CHECKSUM = "checksum"
    NO_ANSWER = "no-answer"  # from the sensor: cable, supply, or edges missed on a busy machine
    ALL_ZERO = "all-zero"
    ALL_ONES = "all-ones"
    OUT_OF_RANGE = "out-of-range"
    HALF_FRAME = "half-frame"  # an answer that ends too early
    NO_NUMBER = "no-number"  # in the kernel's file
    NOT_MEASURED = "not-measured"  # the sensor answers, but with its value of before any measuring
    DISAGREES = "two-reads-differ"  # right after one another, where the air cannot have changed
    HEATER_ON = "heater-on"  # the sensor's own, which dries what it measures
    WRONG_CHIP = "wrong-chip"  # another kind of sensor at this place
    NOT_FOUND = "not-found"  # no such bus, or no driver of the kernel's for this place
    IN_USE = "in-use"  # by the kernel's driver, or another program
    NOT_ALLOWED = "not-allowed"  # for the daemon's user
    BUS_STUCK = "bus-stuck"  # a line held low, or a transfer that never ends
    BAD_TRANSFER = "bad-transfer"  # broken off, and the kernel does not say by what
    TIMEOUT = "timeout"  # of the child process
    CHILD_DIED = "child-died"
    GARBAGE = "garbage"  # from the child process: not an answer, or not to this question


# Those are the parent's to find; the child tells all others.
PARENTS_OWN = frozenset({Fault.TIMEOUT, Fault.CHILD_DIED, Fault.GARBAGE})
_CHILD_TELLS = frozenset(Fault) - PARENTS_OWN


@dataclass(frozen=True, slots=True, kw_only=True)
class Measurement:
    """One successful measurement; `taken_uptime_s` is the machine's monotonic clock."""

    temperature_c: float
    humidity_pct: float
    taken_uptime_s: float


def understand(
    answer: bytes, kind: SensorKind, *, asked_uptime_s: float, answered_uptime_s: float
) -> Measurement | Fault:
    """Turn one line from the child into a measurement, or the reason why it is none."""
    try:
        told = json.loads(answer)
    except (ValueError, RecursionError):
        return Fault.GARBAGE
    match told:
        case {"fault": str() as reason} if reason in _CHILD_TELLS:
            return Fault(reason)
        case {
            "temperature_c": float() as temperature_c,
            "humidity_pct": float() as humidity_pct,
            "taken_uptime_s": float() as taken_uptime_s,
        } if asked_uptime_s <= taken_uptime_s <= answered_uptime_s:
            return _implausible(temperature_c, humidity_pct, kind) or Measurement(
                temperature_c=temperature_c,
                humidity_pct=humidity_pct,
                taken_uptime_s=taken_uptime_s,
            )
        case _:
            return Fault.GARBAGE


def _implausible(temperature_c: float, humidity_pct: float, kind: SensorKind) -> Fault | None:
    # A dead data line reads as forty zero bits, and a DHT22's checksum of them is right.
    zeros = temperature_c == 0.0 and humidity_pct == 0.0
    if zeros or abs(temperature_c - ALL_ZERO_C) < _NEAR_C:
        return Fault.ALL_ZERO
    if abs(temperature_c - ALL_ONES_C) < _NEAR_C:
        return Fault.ALL_ONES
    # Written so that "not a number" falls outside. Sensors that report cold as a two's complement
    # come out near -3275 degrees, which the driver does not check.
    if (
        kind.coldest_c <= temperature_c <= kind.warmest_c
        and DRIEST_PCT <= humidity_pct <= DAMPEST_PCT
    ):
        return None
    return Fault.OUT_OF_RANGE
