"""A closet as the loop would see it, for the tests of the alarms. All of it invented."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from hangroom.control.alarms.conditions import RoomSeen
from hangroom.control.sensors.judged import UNJUDGED, judged
from hangroom.terms import (
    AirReading,
    HumidityTarget,
    RelayKind,
    RelayRules,
    RoomPlan,
    Stage,
    TemperatureLimits,
    TemperatureTarget,
)

BEGAN = datetime(2026, 11, 1, tzinfo=UTC)
SETPOINT_PCT = 80.0
LIMITS = TemperatureLimits(low_c=8.0, high_c=16.0)


def closet(*, stage: Stage = Stage.HANG, band_pct: float = 2.0, humidity: bool = True) -> RoomPlan:
    """Return the plan of a closet at 80 % and 13 degC."""
    return RoomPlan(
        name="closet",
        stage=stage,
        humidity=HumidityTarget(
            setpoint_pct=SETPOINT_PCT, band_pct=band_pct, low_limit_pct=60.0, high_limit_pct=92.0
        )
        if humidity
        else None,
        temperature=TemperatureTarget(
            setpoint_c=13.0, band_c=1.0, low_limit_c=2.0, high_limit_c=18
        ),
        relays={RelayKind.HUMIDIFIER: RelayRules(min_on_s=2.0, min_off_s=60.0)},
    )


CLOSET = closet()


def reading(
    humidity_pct: float = 80.0, temperature_c: float = 13.0, *, taken_uptime_s: float = 1000.0
) -> AirReading:
    """Return one sample."""
    return AirReading(
        taken_at=BEGAN + timedelta(seconds=taken_uptime_s),
        taken_uptime_s=taken_uptime_s,
        temperature_c=temperature_c,
        humidity_pct=humidity_pct,
    )


def seen(
    *readings: AirReading | None,
    plan: RoomPlan = CLOSET,
    limits: TemperatureLimits | None = LIMITS,
    uptime_s: float = 1000.0,
    running_s: float = 1000.0,
    switches_last_hour: int = 4,
    switches_last_day: int = 200,
    refused_last_hour: int = 0,
    locked_out: frozenset[RelayKind] = frozenset(),
) -> RoomSeen:
    """Return what the loop knows, with the air judged as control does."""
    by_sensor = {f"sensor {number}": sample for number, sample in enumerate(readings)}
    return RoomSeen(
        plan=replace(plan, temperature_limits=limits),
        sensors=judged(UNJUDGED, by_sensor, plan, {}, uptime_s=uptime_s),
        running_s=running_s,
        switches_last_hour={RelayKind.HUMIDIFIER: switches_last_hour},
        switches_last_day={RelayKind.HUMIDIFIER: switches_last_day},
        refused_last_hour=refused_last_hour,
        locked_out=locked_out,
    )
