"""The air outside: whether it takes water out of a room or brings it in.

Humidity tells nothing of that: cold air at 95 % dries a cellar, warm air at 60 % wets it. What
counts is the vapour in a cubic metre on either side.
"""

from collections.abc import Mapping

from hangroom.air import (
    KELVIN_AT_0_C,
    WATER_VAPOUR_GAS_CONSTANT_J_PER_KG_K,
    saturation_pressure_fast_pa,
)
from hangroom.control.sensors.judged import Judged, judged
from hangroom.control.sensors.voting import Air
from hangroom.control.wish import Wish, off
from hangroom.terms import AirOutside, AirReading, Because, RoomPlan, Stage

# The name that readings from there are kept under, beside those of the rooms.
OUTSIDE = "outside"

# Weather turns slowly, so that an older reading than a room's is still good. Our judgement.
OUTSIDE_EXPIRES_S = 300.0

# So much less vapour must be outside for the fan to air. Two sensors of +-2 %RH at 14 degC may
# differ by as much; in simulation it cost no room anything, while the last tenths took hours of
# running.
ADVANTAGE_G_PER_M3 = 0.3

# To the sensors there it is a room in which nothing is wired.
_PLAN = RoomPlan(
    name=OUTSIDE,
    stage=Stage.EMPTY,
    humidity=None,
    temperature=None,
    relays={},
    reading_expires_s=OUTSIDE_EXPIRES_S,
)


def judged_outside(
    before: Judged, readings: Mapping[str, AirReading | None], *, uptime_s: float
) -> Judged:
    """Return what each sensor outside is worth now, by the same doubts as those of a room."""
    return judged(before, readings, _PLAN, {}, uptime_s=uptime_s)


def air_outside(sensors: Judged) -> AirOutside | None:
    """Return the air outside as its sensors tell it, None where none is to be trusted."""
    air = sensors.air
    if isinstance(air, Because):
        return None
    return AirOutside(temperature_c=air.temperature_c, humidity_pct=air.humidity_pct)


def vapour_g_per_m3(air: Air | AirOutside) -> float:
    """Return the vapour in a cubic metre of air over water, from -40 to 50 degC.

    Within 0.5 % of an ideal gas and 0.8 % of real air at 1 atm (IAPWS-95, HAPropsSI), by the fast
    form of its pressure; two looks a tick must cost nothing.
    """
    pressure_pa = air.humidity_pct / 100.0 * saturation_pressure_fast_pa(air.temperature_c)
    kelvin_k = air.temperature_c + KELVIN_AT_0_C
    return 1000.0 * pressure_pa / (WATER_VAPOUR_GAS_CONSTANT_J_PER_KG_K * kelvin_k)


def gated(wish: Wish, inside: Air | Because, outside: AirOutside | None) -> Wish:
    """Return the exhaust fan's wish, or an off where the air outside would dry nothing.

    Where the air on one side is not known the wish stands.
    """
    if not wish.closed or outside is None or isinstance(inside, Because):
        return wish
    inside_g_per_m3, outside_g_per_m3 = vapour_g_per_m3(inside), vapour_g_per_m3(outside)
    if inside_g_per_m3 - outside_g_per_m3 > ADVANTAGE_G_PER_M3:
        return wish
    return off(
        "outside-too-moist", inside_g_per_m3=inside_g_per_m3, outside_g_per_m3=outside_g_per_m3
    )
