"""Suppression by design: what is only a consequence, or expected, is not told.

A hard limit is left out of the first two: with no trusted air it keeps its last state and cannot
come on, so that hiding it could only hide a true one.
"""

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType

from hangroom.alarm_table.row import AlarmId


class Circumstance(StrEnum):
    """Why alarms are suppressed by design."""

    NO_TRUSTED_AIR = "no-trusted-air"
    STARTING = "starting"
    INSPECTION = "inspection"
    DOOR_OPENED = "door-opened"
    SETTLING_IN = "settling-in"


# How long the process alarms wait after a start. Our judgement, the usual on-delay once over.
STARTING_S = 300.0

# How long after the plant watch saw a door being opened, so that an everyday opening is no alarm
# and a door that was left open is told by its own. As long as an inspection.
AFTER_A_DOOR_S = 900.0

# How long a room may take to come to a new setpoint or stage, or after its very first start, before
# a deviation is one. Our judgement; the hard limits are watched all the while.
SETTLING_IN_S = 1800.0

# The air must be unknown, or known again, for this long before it counts, so that a single bad
# sample does not hide an alarm only to tell it anew. Our judgement.
NO_TRUSTED_AIR_DELAY_S = 60.0

HARD_LIMITS = frozenset(
    {AlarmId.TEMPERATURE_HIGH_HIGH, AlarmId.HUMIDITY_HIGH_HIGH, AlarmId.HUMIDITY_LOW_LOW}
)
DEVIATIONS = frozenset(
    {
        AlarmId.TEMPERATURE_HIGH,
        AlarmId.TEMPERATURE_LOW,
        AlarmId.HUMIDITY_HIGH,
        AlarmId.HUMIDITY_LOW,
    }
)
EFFECTS = frozenset(
    {
        AlarmId.HUMIDIFIER_INEFFECTIVE,
        AlarmId.FAN_INEFFECTIVE,
        AlarmId.COOLING_INEFFECTIVE,
        AlarmId.DOOR_OPEN,
        AlarmId.SETPOINT_UNREACHABLE,
    }
)

SUPPRESSES: Mapping[Circumstance, frozenset[AlarmId]] = MappingProxyType(
    {
        Circumstance.NO_TRUSTED_AIR: DEVIATIONS | EFFECTS,
        Circumstance.STARTING: DEVIATIONS | EFFECTS,
        Circumstance.INSPECTION: DEVIATIONS | EFFECTS | HARD_LIMITS,
        Circumstance.DOOR_OPENED: DEVIATIONS | HARD_LIMITS,
        Circumstance.SETTLING_IN: DEVIATIONS,
    }
)


def suppressed(circumstances: set[Circumstance]) -> dict[AlarmId, Circumstance]:
    """Return which alarms are suppressed by design, each with the first circumstance that does."""
    return {
        alarm: circumstance
        for circumstance in reversed(Circumstance)
        if circumstance in circumstances
        for alarm in SUPPRESSES[circumstance]
    }
