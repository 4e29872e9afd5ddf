"""What a sensor's child process answers, and whether to believe it.

One JSON object a line: {"temperature_c", "humidity_pct", "taken_uptime_s"} for a measurement,
{"fault"} for a failed one. Nothing is taken on trust: what cannot be understood, lies outside the
sensor's range or was not measured between question and answer is a fault, never a value.
"""

import json
from dataclasses import dataclass
from enum import StrEnum

# AM2302/DHT22 data sheet, section "technical specification": the range the sensor can report.
COLDEST_C, WARMEST_C = -40.0, 80.0
DRIEST_PCT, DAMPEST_PCT = 0.0, 100.0


class Fault(StrEnum):
    """Why a measurement failed."""

    CHECKSUM = "checksum"
    NO_ANSWER = "no-answer"  # from the sensor: cable, supply, or edges missed on a busy machine
    ALL_ZERO = "all-zero"
    OUT_OF_RANGE = "out-of-range"
    TIMEOUT = "timeout"  # of the child process
    CHILD_DIED = "child-died"
    GARBAGE = "garbage"  # from the child process: not an answer, or not to this question


@dataclass(frozen=True, slots=True, kw_only=True)
class Measurement:
    """One successful measurement; `taken_uptime_s` is the machine's monotonic clock."""

    temperature_c: float
    humidity_pct: float
    taken_uptime_s: float


def understand(
    answer: bytes, *, asked_uptime_s: float, answered_uptime_s: float
) -> Measurement | Fault:
    """Turn one line from the child into a measurement, or the reason why it is none."""
    try:
        told = json.loads(answer)
    except ValueError:
        return Fault.GARBAGE
    match told:
        case {"fault": Fault.CHECKSUM | Fault.NO_ANSWER | Fault.OUT_OF_RANGE as reason}:
            return Fault(reason)
        case {
            "temperature_c": float() as temperature_c,
            "humidity_pct": float() as humidity_pct,
            "taken_uptime_s": float() as taken_uptime_s,
        } if asked_uptime_s <= taken_uptime_s <= answered_uptime_s:
            return _implausible(temperature_c, humidity_pct) or Measurement(
                temperature_c=temperature_c,
                humidity_pct=humidity_pct,
                taken_uptime_s=taken_uptime_s,
            )
        case _:
            return Fault.GARBAGE


def _implausible(temperature_c: float, humidity_pct: float) -> Fault | None:
    # A dead data line reads as forty zero bits, and their checksum is right.
    if temperature_c == 0.0 and humidity_pct == 0.0:
        return Fault.ALL_ZERO
    # Written so that "not a number" falls outside. Sensors that report cold as a two's complement
    # come out near -3275 degrees, which the driver does not check.
    if COLDEST_C <= temperature_c <= WARMEST_C and DRIEST_PCT <= humidity_pct <= DAMPEST_PCT:
        return None
    return Fault.OUT_OF_RANGE
