"""From what the loop knows to the raw conditions of the alarms that need no plant watch.

A figure that cannot be trusted gives an unknown condition, never a normal one. Where nothing is
asked of the air (no target, or a stage that follows none) its condition is normal.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from hangroom.alarm_table.row import AlarmId
from hangroom.alarm_table.table import TABLE
from hangroom.control.alarms.bank import Conditions
from hangroom.control.alarms.delays import Raw, Side, above, below, whether
from hangroom.control.cycle_mean import CycleMean
from hangroom.control.sensors.judged import SILENT, Judged
from hangroom.control.sensors.voting import MOST_APART_C, MOST_APART_PCT, Air
from hangroom.stage_table import FOLLOWS_HUMIDITY, FOLLOWS_TEMPERATURE
from hangroom.terms import (
    AirReading,
    Because,
    HumidityTarget,
    RelayKind,
    RoomPlan,
    Stage,
    TemperatureLimits,
)

# How far humidity may be from its setpoint before it is an alarm, %RH. Judged by simulation, with
# a band of 2 %. A wider band keeps the same distance, or its edge would lie in the deadband and
# an alarm could not return to normal.
HUMIDITY_OFF_BY_PCT = 5.0
HUMIDITY_OUTSIDE_BAND_PCT = 3.0

# Where the second high limit of temperature lies above the first, degC. Our judgement.
HIGH_HIGH_ABOVE_HIGH_C = 3.0

# More switches of one relay than this wear it out for nothing. Our judgement.
MOST_SWITCHES_AN_HOUR = 60
MOST_SWITCHES_A_DAY = 1500

# A compressor that asks for more starts than this before its rest is over. Our judgement.
MOST_REFUSED_AN_HOUR = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomSeen:
    """What the loop knows of one room at one tick.

    `sensors`: as control judged them. `running_s`: since the program started. `switches_*`: how
    often each relay was switched. `refused_last_hour`: how often the compressor's start was
    refused for its rest. `locked_out`: the relays that are. `cycle`: in a cooled room the mean
    humidity over its compressor's cycle, which swings humidity by more than is an alarm.
    """

    plan: RoomPlan
    sensors: Judged
    running_s: float
    switches_last_hour: Mapping[RelayKind, int]
    switches_last_day: Mapping[RelayKind, int]
    refused_last_hour: int
    locked_out: frozenset[RelayKind]
    cycle: CycleMean | None = None


def room_conditions(seen: RoomSeen) -> Conditions:
    """Return the raw conditions of one room at one tick."""
    air = None if isinstance(seen.sensors.air, Because) else seen.sensors.air
    return Conditions(
        raw={
            **_sensors(seen),
            **_temperature(air, seen.plan.temperature_limits, seen.plan.stage),
            **_humidity(air, seen.cycle, seen.plan.humidity, seen.plan.stage),
            AlarmId.RELAY_CHATTER: _chatter(seen),
            AlarmId.COMPRESSOR_SHORT_CYCLE: Raw(
                whether(holds=seen.refused_last_hour > MOST_REFUSED_AN_HOUR)
            ),
            AlarmId.RELAY_LOCKED_OUT: Raw(whether(holds=bool(seen.locked_out))),
        },
        blind=air is None,
    )


def _sensors(seen: RoomSeen) -> dict[AlarmId, Raw]:
    why = [verdict for verdict in seen.sensors.verdicts.values() if isinstance(verdict, Because)]
    silent = [because for because in why if because.code in SILENT]
    # A sensor is given as long for its first reading as for any other.
    waited_s = [because.figures.get("age_s", seen.running_s) for because in silent]
    stale = any(age_s >= seen.plan.reading_expires_s for age_s in waited_s)
    return {
        AlarmId.SENSOR_STALE: Raw(
            whether(holds=stale or (None if silent else False)),
            {"age_s": max(waited_s)} if waited_s else {},
        ),
        AlarmId.SENSOR_IMPLAUSIBLE: _implausible(seen.sensors, any_silent=bool(silent)),
        AlarmId.SENSORS_DISAGREE: _disagreement(seen.sensors),
    }


def _implausible(sensors: Judged, *, any_silent: bool) -> Raw:
    doubts = [
        *(verdict for verdict in sensors.verdicts.values() if isinstance(verdict, Because)),
        *(erratic for memory in sensors.memories.values() if (erratic := memory.erratic)),
    ]
    for because in doubts:
        if because.code not in SILENT:
            return Raw(Side.BEYOND, because.figures, because.code)
    return Raw(whether(holds=None if any_silent else False))


def _disagreement(sensors: Judged) -> Raw:
    """Return how far apart the usable sensors lie; unknown where one of two is not usable."""
    air, verdicts = sensors.air, sensors.verdicts.values()
    if len(verdicts) == 1:
        return Raw(Side.WITHIN)
    if isinstance(air, Because) or sum(isinstance(one, AirReading) for one in verdicts) == 1:
        return Raw(Side.UNKNOWN)
    deadband_pct = TABLE[AlarmId.SENSORS_DISAGREE].deadband_pct
    sides = {
        above(air.apart_pct, limit=MOST_APART_PCT, deadband=deadband_pct),
        above(air.apart_c, limit=MOST_APART_C),
    }
    return Raw(
        next(side for side in (Side.BEYOND, Side.DEADBAND, Side.WITHIN) if side in sides),
        {
            "lowest_pct": air.lowest_humidity_pct,
            "highest_pct": air.highest_humidity_pct,
            "lowest_c": air.lowest_temperature_c,
            "highest_c": air.highest_temperature_c,
        },
    )


def _temperature(
    air: Air | None, limits: TemperatureLimits | None, stage: Stage
) -> dict[AlarmId, Raw]:
    high, high_high, low = (
        AlarmId.TEMPERATURE_HIGH,
        AlarmId.TEMPERATURE_HIGH_HIGH,
        AlarmId.TEMPERATURE_LOW,
    )
    if limits is None or stage not in FOLLOWS_TEMPERATURE:
        return dict.fromkeys((high, high_high, low), Raw(Side.WITHIN))
    seen_c = None if air is None else air.temperature_c
    return {
        high: _of_c(high, seen_c, limits.high_c, above),
        high_high: _of_c(
            high_high,
            None if air is None else air.highest_temperature_c,
            limits.high_c + HIGH_HIGH_ABOVE_HIGH_C,
            above,
        ),
        low: _of_c(low, seen_c, limits.low_c, below),
    }


def _humidity(
    air: Air | None, cycle: CycleMean | None, target: HumidityTarget | None, stage: Stage
) -> dict[AlarmId, Raw]:
    high, high_high = AlarmId.HUMIDITY_HIGH, AlarmId.HUMIDITY_HIGH_HIGH
    low, low_low = AlarmId.HUMIDITY_LOW, AlarmId.HUMIDITY_LOW_LOW
    if target is None or stage not in FOLLOWS_HUMIDITY:
        return dict.fromkeys((high, high_high, low, low_low), Raw(Side.WITHIN))
    seen_pct = None if air is None else air.humidity_pct
    mean_pct = seen_pct if cycle is None or air is None else cycle.humidity_pct
    off_by_pct = max(HUMIDITY_OFF_BY_PCT, target.band_pct + HUMIDITY_OUTSIDE_BAND_PCT)
    # At a hard limit the sensor that is worst off has the say, as it has over the relays.
    highest_pct = None if air is None else air.highest_humidity_pct
    lowest_pct = None if air is None else air.lowest_humidity_pct
    return {
        high: _of_pct(high, mean_pct, target.setpoint_pct + off_by_pct, above),
        high_high: _of_pct(high_high, highest_pct, target.high_limit_pct, above),
        low: _of_pct(low, mean_pct, target.setpoint_pct - off_by_pct, below),
        low_low: _of_pct(low_low, lowest_pct, target.low_limit_pct, below),
    }


def _of_c(
    alarm: AlarmId, seen_c: float | None, limit_c: float, against: Callable[..., Side]
) -> Raw:
    side = against(seen_c, limit=limit_c, deadband=TABLE[alarm].deadband_c)
    return Raw(side, {} if seen_c is None else {"seen_c": seen_c, "limit_c": limit_c})


def _of_pct(
    alarm: AlarmId, seen_pct: float | None, limit_pct: float, against: Callable[..., Side]
) -> Raw:
    side = against(seen_pct, limit=limit_pct, deadband=TABLE[alarm].deadband_pct)
    return Raw(side, {} if seen_pct is None else {"seen_pct": seen_pct, "limit_pct": limit_pct})


def _chatter(seen: RoomSeen) -> Raw:
    hourly = max(seen.switches_last_hour.values(), default=0)
    daily = max(seen.switches_last_day.values(), default=0)
    return Raw(whether(holds=hourly > MOST_SWITCHES_AN_HOUR or daily > MOST_SWITCHES_A_DAY))
