"""What one alarm is: the shape of a row of the rationalised table, and the words it is told in.

An alarm is a notice of a malfunction, a deviation or an abnormal condition that needs somebody to
do something in time (ISA-18.2, IEC 62682). What nobody need act on is an event and only logged.
"""

from dataclasses import dataclass
from enum import StrEnum


class AlarmId(StrEnum):
    """Every alarm there is, by name."""

    SENSOR_STALE = "sensor-stale"
    SENSOR_IMPLAUSIBLE = "sensor-implausible"
    SENSORS_DISAGREE = "sensors-disagree"
    TEMPERATURE_HIGH = "temperature-high"
    TEMPERATURE_HIGH_HIGH = "temperature-high-high"
    TEMPERATURE_LOW = "temperature-low"
    HUMIDITY_HIGH = "humidity-high"
    HUMIDITY_HIGH_HIGH = "humidity-high-high"
    HUMIDITY_LOW = "humidity-low"
    HUMIDITY_LOW_LOW = "humidity-low-low"
    HUMIDIFIER_INEFFECTIVE = "humidifier-ineffective"
    HUMIDIFIER_STUCK_ON = "humidifier-stuck-on"
    FAN_INEFFECTIVE = "fan-ineffective"
    COOLING_INEFFECTIVE = "cooling-ineffective"
    DOOR_OPEN = "door-open"
    RELAY_CHATTER = "relay-chatter"
    COMPRESSOR_SHORT_CYCLE = "compressor-short-cycle"
    RELAY_LOCKED_OUT = "relay-locked-out"
    SETPOINT_UNREACHABLE = "setpoint-unreachable"
    DAEMON_RESTARTED = "daemon-restarted"
    LOG_FULL = "log-full"
    CLOCK_JUMP = "clock-jump"
    BATCH_PAST_TARGET = "batch-past-target"
    INSPECTION_MISSED = "inspection-missed"


class Priority(StrEnum):
    """How soon somebody must act, from the consequence and the time left."""

    HIGH = "high"
    MEDIUM = "medium"
    LOW = "low"


class Scope(StrEnum):
    """What an alarm is about, so that one fault of the service is not told once per room."""

    ROOM = "room"
    SERVICE = "service"
    BATCH = "batch"
    GROUP = "group"


HOUR_S = 3600.0

# The longest a person may shelve an alarm at a time. Our choice; the standards ask that there be
# a limit, and give no figure.
LONGEST_SHELF_S = {
    Priority.HIGH: 1 * HOUR_S,
    Priority.MEDIUM: 8 * HOUR_S,
    Priority.LOW: 24 * HOUR_S,
}

# How long an alarm that stays active may stay quiet before it is told again; low ones wait for
# the daily look. Our choice, for one person with a phone.
RE_ALARM_AFTER_S = {
    Priority.HIGH: 4 * HOUR_S,
    Priority.MEDIUM: 24 * HOUR_S,
    Priority.LOW: None,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One alarm, rationalised.

    `limit`: in words, what makes the raw condition. `first`: what the controller does by itself
    before anybody comes. `respond_within_s`: how long until the consequence is real. A latching
    alarm stays until a person resets it. `source`: where its figures come from.
    """

    id: AlarmId
    scope: Scope
    priority: Priority
    cause: str
    consequence: str
    first: str
    action: str
    respond_within_s: float
    limit: str
    on_delay_s: float
    off_delay_s: float
    source: str
    deadband_c: float = 0.0
    deadband_pct: float = 0.0
    latching: bool = False

    @property
    def longest_shelf_s(self) -> float:
        """The longest it may be shelved at a time, in seconds."""
        return LONGEST_SHELF_S[self.priority]

    @property
    def re_alarm_after_s(self) -> float | None:
        """After how many quiet seconds it is told again while active, None for never."""
        return RE_ALARM_AFTER_S[self.priority]
