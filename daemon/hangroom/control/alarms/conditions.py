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
from hangroom.control.trust import Air, judge
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

# A failed write stands for what comes until the next try, which is a minute later.
FLUSH_FAILURE_COUNTS_S = 120.0

# Wall against monotonic clock, from one look to the next. Our judgement.
CLOCK_JUMP_S = 30.0

# The stages that follow the humidity setpoint: while casings dry the room airs all the time.
FOLLOWS_HUMIDITY = frozenset({Stage.HANG, Stage.REST, Stage.HOLD})
FOLLOWS_TEMPERATURE = frozenset(Stage) - {Stage.EMPTY}


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomSeen:
    """What the loop knows of one room at one tick.

    `air`: as control judged it, or why there is none. `readings`: each sensor's newest.
    `running_s`: since the program started. `switches_*`: how often each relay was switched.
    """

    plan: RoomPlan
    air: Air | Because
    readings: Mapping[str, AirReading | None]
    temperature_limits: TemperatureLimits | None
    uptime_s: float
    running_s: float
    switches_last_hour: Mapping[RelayKind, int]
    switches_last_day: Mapping[RelayKind, int]


def room_conditions(seen: RoomSeen) -> Conditions:
    """Return the raw conditions of one room at one tick."""
    air = None if isinstance(seen.air, Because) else seen.air
    return Conditions(
        raw={
            **_sensors(seen),
            **_temperature(air, seen.temperature_limits, seen.plan.stage),
            **_humidity(air, seen.plan.humidity, seen.plan.stage),
            AlarmId.RELAY_CHATTER: _chatter(seen),
        },
        blind=air is None,
    )


def service_conditions(
    *,
    flush_failure_age_s: float | None,
    clock_jump_s: float | None,
    restart_gap_s: float | None,
) -> Conditions:
    """Return the raw conditions of the service itself at one tick.

    `flush_failure_age_s`: how long ago notes could not be written, None for never.
    `clock_jump_s`: how far the wall clock moved at this tick. `restart_gap_s`: at the first tick
    of a program how long nothing was recorded, None at every other.
    """
    failed_s, jump_s, gap_s = flush_failure_age_s, clock_jump_s or 0.0, restart_gap_s
    return Conditions(
        raw={
            AlarmId.LOG_FULL: Raw(
                Side.WITHIN if failed_s is None else below(failed_s, limit=FLUSH_FAILURE_COUNTS_S)
            ),
            AlarmId.CLOCK_JUMP: Raw(above(abs(jump_s), limit=CLOCK_JUMP_S), {"jump_s": jump_s}),
            AlarmId.DAEMON_RESTARTED: Raw(
                whether(holds=gap_s is not None), {} if gap_s is None else {"gap_s": gap_s}
            ),
        }
    )


def _sensors(seen: RoomSeen) -> dict[AlarmId, Raw]:
    expires_s = seen.plan.reading_expires_s
    judged = [
        judge([reading], uptime_s=seen.uptime_s, expires_s=expires_s)
        for reading in seen.readings.values()
    ]
    why = [verdict for verdict in judged if isinstance(verdict, Because)]
    implausible = any(because.code == "implausible-reading" for because in why)
    silent = [because for because in why if because.code != "implausible-reading"]
    # A sensor is given as long for its first reading as for any other.
    waited_s = [because.figures.get("age_s", seen.running_s) for because in silent]
    stale = any(
        because.code == "stale-reading" or seen.running_s >= expires_s for because in silent
    )
    return {
        AlarmId.SENSOR_STALE: Raw(
            whether(holds=stale or (None if silent else False)),
            {"age_s": max(waited_s)} if waited_s else {},
        ),
        AlarmId.SENSOR_IMPLAUSIBLE: Raw(whether(holds=implausible or (None if silent else False))),
    }


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
        high_high: _of_c(high_high, seen_c, limits.high_c + HIGH_HIGH_ABOVE_HIGH_C, above),
        low: _of_c(low, seen_c, limits.low_c, below),
    }


def _humidity(air: Air | None, target: HumidityTarget | None, stage: Stage) -> dict[AlarmId, Raw]:
    high, high_high = AlarmId.HUMIDITY_HIGH, AlarmId.HUMIDITY_HIGH_HIGH
    low, low_low = AlarmId.HUMIDITY_LOW, AlarmId.HUMIDITY_LOW_LOW
    if target is None or stage not in FOLLOWS_HUMIDITY:
        return dict.fromkeys((high, high_high, low, low_low), Raw(Side.WITHIN))
    seen_pct = None if air is None else air.humidity_pct
    off_by_pct = max(HUMIDITY_OFF_BY_PCT, target.band_pct + HUMIDITY_OUTSIDE_BAND_PCT)
    return {
        high: _of_pct(high, seen_pct, target.setpoint_pct + off_by_pct, above),
        high_high: _of_pct(high_high, seen_pct, target.high_limit_pct, above),
        low: _of_pct(low, seen_pct, target.setpoint_pct - off_by_pct, below),
        low_low: _of_pct(low_low, seen_pct, target.low_limit_pct, below),
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
