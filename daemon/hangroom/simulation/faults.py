"""What can go wrong in a rehearsal, and when."""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from math import inf, isfinite

from hangroom.errors import InputError


class FaultKind(StrEnum):
    """Every fault a scenario may name."""

    TANK_EMPTY = "tank-empty"
    HUMIDIFIER_STUCK_ON = "humidifier-stuck-on"
    HUMIDIFIER_STUCK_OFF = "humidifier-stuck-off"
    FAN_DEAD = "fan-dead"
    FAN_STUCK_ON = "fan-stuck-on"
    SENSOR_SILENT = "sensor-silent"
    SENSOR_FROZEN = "sensor-frozen"
    SENSOR_WET = "sensor-wet"
    SENSOR_BIAS = "sensor-bias"
    SENSOR_DRIFT = "sensor-drift"
    SENSOR_SPIKE = "sensor-spike"
    DOOR_OPEN = "door-open"
    POWER_CUT = "power-cut"
    CLOCK_STEP = "clock-step"
    DISK_FULL = "disk-full"
    COOLING_DEAD = "cooling-dead"


MEANING: dict[FaultKind, str] = {
    FaultKind.TANK_EMPTY: "the humidifier's tank is empty; it is filled when the fault ends",
    FaultKind.HUMIDIFIER_STUCK_ON: "the humidifier's contact is welded",
    FaultKind.HUMIDIFIER_STUCK_OFF: "the humidifier's contact no longer closes",
    FaultKind.FAN_DEAD: "no fan turns, though its relay closes",
    FaultKind.FAN_STUCK_ON: "the contact of the exhaust fan (or else circulation fan) is welded",
    FaultKind.SENSOR_SILENT: "the first sensor does not answer",
    FaultKind.SENSOR_FROZEN: "the first sensor repeats its last value",
    FaultKind.SENSOR_WET: "the first sensor's element is wet and reads 99.9 %",
    FaultKind.SENSOR_BIAS: "the first sensor reads `size` %RH too high",
    FaultKind.SENSOR_DRIFT: "the first sensor's error grows by `size` %RH a day",
    FaultKind.SENSOR_SPIKE: "one reading in twenty of the first sensor is off by `size` %RH",
    FaultKind.DOOR_OPEN: "the door stands open",
    FaultKind.POWER_CUT: "no contact carries current, no sensor answers; the runner stops control",
    FaultKind.CLOCK_STEP: "the wall clock jumps by `size` s; the runner's to carry out",
    FaultKind.DISK_FULL: "nothing can be stored; the runner's to carry out",
    FaultKind.COOLING_DEAD: "the compressor draws no heat, though its relay closes",
}

NEEDS_SIZE = frozenset(
    {
        FaultKind.SENSOR_BIAS,
        FaultKind.SENSOR_DRIFT,
        FaultKind.SENSOR_SPIKE,
        FaultKind.CLOCK_STEP,
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One fault of one room, `at_h` hours after the scenario began, for `for_h` hours."""

    room: str
    kind: FaultKind
    at_h: float
    for_h: float
    size: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what cannot happen; raises InputError naming every error."""
        wrong = []
        if not 0.0 <= self.at_h < inf:
            wrong.append(f"at_h is {self.at_h:g}; give hours since the start, 0 or more")
        if not 0.0 < self.for_h < inf:
            wrong.append(f"for_h is {self.for_h:g}; give hours above 0")
        if not isfinite(self.size):
            wrong.append(f"size is {self.size:g}; give a number")
        elif self.kind in NEEDS_SIZE and self.size == 0.0:
            wrong.append("size is 0, so nothing would happen; give a size other than 0")
        if wrong:
            raise InputError("\n".join(f"fault {self.kind}: {line}" for line in wrong))

    def active(self, elapsed_s: float) -> bool:
        """Whether it is in force that long after the start; the end is no longer part of it."""
        return self.at_h * 3600.0 <= elapsed_s < (self.at_h + self.for_h) * 3600.0


def next_change_s(faults: Iterable[Fault], elapsed_s: float) -> float:
    """When, in seconds since the start, the next fault begins or ends; infinity for never."""
    edges_s = (
        edge_h * 3600.0 for fault in faults for edge_h in (fault.at_h, fault.at_h + fault.for_h)
    )
    return min((edge_s for edge_s in edges_s if edge_s > elapsed_s), default=inf)
