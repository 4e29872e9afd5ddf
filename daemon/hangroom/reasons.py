"""Every reason control can give, as a sentence with figures, in the keeper's units.

Control gives a code and figures (`hangroom.terms.Because`); the journal keeps them like that;
only here do they become words. A test holds that every code control uses stands here.
"""

from hangroom.terms import Because
from hangroom.units import Units, say_duration, say_temperature

REASONS = {
    # humidity
    "too-dry": "{seen_pct} is at or below {limit_pct}, where humidifying starts",
    "humidifying": "a dose with {left_s} to go",
    "moist-enough": "{seen_pct} is above {limit_pct}, where humidifying would start",
    "too-humid": "{seen_pct} is at or above {limit_pct}, where airing starts",
    "airing": "a dose of airing with {left_s} to go",
    "dose-given": "the dose of {ran_s} is given",
    "dry-enough": "{seen_pct} is below {limit_pct}, where airing would start",
    "doses-without-effect": "the last doses did nothing; the next is tried in {left_s}",
    "outside-too-moist": "airing would not dry: {outside_g_per_m3} outside, {inside_g_per_m3} here",
    "averaging": "humidity is not known over a whole cycle of the compressor yet, but in {left_s}",
    "venting": "its share of this cycle of the compressor, for {left_s} more",
    "dried-this-cycle": "its share of this cycle is over; the next one begins in {left_s}",
    "reheating-dries": "cooling and reheating dry this room",
    "humidity-hard-limit": "{seen_pct} is at or above the hard limit of {limit_pct}",
    "humidity-low-limit": "{seen_pct} is at or below the low limit of {limit_pct}",
    # temperature
    "too-warm": "{seen_c} is at or above {limit_c}, where cooling starts",
    "still-cooling": "{seen_c} has not come down to {limit_c} yet, where cooling stops",
    "cool-enough": "{seen_c} is below {limit_c}, where cooling would start",
    "too-cold": "{seen_c} is at or below {limit_c}, where heating starts",
    "still-heating": "{seen_c} has not reached {limit_c} yet, where heating stops",
    "warm-enough": "{seen_c} is above {limit_c}, where heating would start",
    "reheating": "warming what cooling has dried, for {left_s} more",
    "too-warm-to-reheat": "{seen_c} is at or above {limit_c}; cooling goes before drying",
    "heat-hard-limit": "{seen_c} is at or above the high limit of {limit_c}",
    "cold-hard-limit": "{seen_c} is at or below the low limit of {limit_c}",
    # fans
    "circulating": "stirring the air for {left_s} more",
    "between-stirs": "next stir in {left_s}",
    "airing-stage": "the stage airs all the time",
    "blind-airing": "airing a little while the air is not known, for {left_s} more",
    "blind-for-long": "the air has not been known for {blind_s}, too long to air blindly",
    # no basis to act
    "no-reading": "no reading yet since the controller started",
    "stale-reading": "the last good reading is {age_s} old",
    "future-reading": "the last reading is dated {ahead_s} ahead of now",
    "implausible-reading": "the sensor gives values that cannot be",
    "out-of-range-reading": "{seen_pct} at {seen_c} is not the air of a room",
    "glitch-reading": "{seen_pct} at {seen_c} is what a disturbed wire gives",
    "top-of-scale": "{seen_pct} is what a wet or worn sensor gives",
    "jumped": "a jump from {from_pct} to {to_pct} with nothing on; the next reading decides",
    "temperature-jumped": "a jump from {from_c} to {to_c} with nothing on; the next one decides",
    "erratic-readings": "ten of its readings within {within_s} could not be",
    "wet-element": "the sensor has been wet for {lasted_s}",
    "frozen-reading": "the sensor has given the very same values for {lasted_s}",
    "regaining-trust": "the sensor is good again, and trusted in {left_s} if it stays so",
    "no-target": "nothing is asked of it in these settings",
    "stage-forbids": "the room's stage does not use it",
    # watched only
    "not-proved": "watch only, because it has not been tried yet",
    # by hand
    "by-hand": "switched by hand, for {left_s} more",
    # why a setpoint is not reached
    "as-warm-outside": "{seen_c} is too warm; nothing here cools, and outside it is {outside_c}",
    "as-wet-outside": "{seen_pct} is too humid, and the air outside ({outside_pct} at {outside_c}) "
    "holds about as much water",
    "airing-at-its-limit": "{seen_pct} is too humid; the fan ran {on_pct} of the last hour",
    "coil-at-its-limit": "{seen_pct} is too humid; cooling, which dries here, ran {on_pct} of the "
    "last hour",
    "nothing-dries": "{seen_pct} is too humid, and nothing here dries the air",
    "humidifying-at-its-limit": "{seen_pct} is too dry; the humidifier ran {on_pct} of the last "
    "hour",
    "nothing-humidifies": "{seen_pct} is too dry, and there is no humidifier",
    "cooling-at-its-limit": "{seen_c} is too warm; cooling ran {on_pct} of the last hour",
    "nothing-cools": "{seen_c} is too warm, and nothing here cools",
    "heating-at-its-limit": "{seen_c} is too cold; the heater ran {on_pct} of the last hour",
    "nothing-heats": "{seen_c} is too cold, and nothing here heats",
    # guards and interlocks
    "resting": "resting for {left_s} more after it was switched off",
    "minimum-run": "runs {left_s} more so that it is not switched too often",
    "long-run": "off for a rest after running {ran_s} without a pause",
    "much-running": "off for a rest after running {ran_s} of the last hour",
    "locked-out": "locked out for {left_s} more after running too long",
    "starts-used-up": "started as often as it may in an hour; the next start in {left_s}",
    "running-used-up": "has run as long as it may in an hour; the next start in {left_s}",
    "settling": "waiting {left_s} for the last dose to spread",
    "waits-for-humidifier": "the humidifier is on",
    "waits-for-airing": "the exhaust fan is on",
    "waits-for-cooling": "cooling is on",
    "waits-for-heater": "the heater is on",
    # the program itself
    "started": "off until the first trusted reading after a start",
}


def say(because: Because, units: Units) -> str:
    """Return the reason as a sentence part in the keeper's units, without a full stop."""
    figures = {name: say_figure(name, value, units) for name, value in because.figures.items()}
    return REASONS[because.code].format(**figures)


def say_figure(name: str, value: float, units: Units) -> str:
    """Return one figure in the keeper's units; its name tells the unit it is kept in."""
    if name.endswith("_pct"):
        return f"{value:.1f} %"
    if name.endswith("_g_per_m3"):
        return f"{value:.1f} g/m³"
    if name.endswith("_c"):
        return say_temperature(value, units)
    return say_duration(value)
