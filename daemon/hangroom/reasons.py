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
    "humidity-hard-limit": "{seen_pct} is at or above the hard limit of {limit_pct}",
    "humidity-low-limit": "{seen_pct} is at or below the low limit of {limit_pct}",
    # temperature
    "too-warm": "{seen_c} is at or above {limit_c}, where cooling starts",
    "still-cooling": "{seen_c} has not come down to {limit_c} yet, where cooling stops",
    "cool-enough": "{seen_c} is below {limit_c}, where cooling would start",
    "too-cold": "{seen_c} is at or below {limit_c}, where heating starts",
    "still-heating": "{seen_c} has not reached {limit_c} yet, where heating stops",
    "warm-enough": "{seen_c} is above {limit_c}, where heating would start",
    "heat-hard-limit": "{seen_c} is at or above the high limit of {limit_c}",
    "cold-hard-limit": "{seen_c} is at or below the low limit of {limit_c}",
    # fans
    "circulating": "stirring the air for {left_s} more",
    "between-stirs": "next stir in {left_s}",
    "airing-stage": "the stage airs all the time",
    # no basis to act
    "no-reading": "no reading yet since the controller started",
    "stale-reading": "the last good reading is {age_s} old",
    "implausible-reading": "the sensor gives values that cannot be",
    "no-target": "nothing is asked of it in these settings",
    "stage-forbids": "the room's stage does not use it",
    # guards and interlocks
    "resting": "resting for {left_s} more after it was switched off",
    "minimum-run": "runs {left_s} more so that it is not switched too often",
    "long-run": "off for a rest after running {ran_s} without a pause",
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
    figures = {name: _figure(name, value, units) for name, value in because.figures.items()}
    return REASONS[because.code].format(**figures)


def _figure(name: str, value: float, units: Units) -> str:
    if name.endswith("_pct"):
        return f"{value:.1f} %"
    if name.endswith("_c"):
        return say_temperature(value, units)
    return say_duration(value)
