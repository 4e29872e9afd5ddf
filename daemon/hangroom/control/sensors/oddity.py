"""What is odd about one reading taken by itself, without a memory."""

from math import isfinite

from hangroom.terms import AirReading, Because

# What the air of a room can plausibly be. Our judgement: from the coldest fridge to beyond the
# warmest closet. Sensors that report cold as a two's complement come out near -3276 degC, which a
# driver may not check; failed elements are known to stick at 1 %RH.
PLAUSIBLE_TEMPERATURE_C = (-10.0, 50.0)
DRIEST_PLAUSIBLE_PCT = 1.0

# What the element can measure by its maker's data sheet; a value beyond it is no measurement.
MEASURABLE_TEMPERATURE_C = (-40.0, 80.0)

# From here up a reading says nothing: a wet or worn DHT22 sits at 99.9 % and stays there (reports
# of some 20 units: opendata-stuttgart/sensors-software, issues 170, 783 and 848).
TOP_OF_SCALE_PCT = 99.8

# Frames whose checksum is right all the same, as temperature in degC and humidity in %. All zero
# bits: a data line held low. Both low bytes all ones: seen now and then on healthy sensors
# (forum.arduino.cc, thread 1035449); no room a stick hangs in is both so warm and so dry.
GLITCHES = frozenset({(0.0, 0.0), (25.5, 25.5)})


def oddity(reading: AirReading) -> Because | None:
    """Say why a reading cannot be the air of a room, or None where nothing speaks against it."""
    seen_c, seen_pct = reading.temperature_c, reading.humidity_pct
    coldest_c, warmest_c = PLAUSIBLE_TEMPERATURE_C
    # Written as "inside", so that no NaN passes; a glitch lies inside too.
    if (
        coldest_c <= seen_c <= warmest_c
        and DRIEST_PLAUSIBLE_PCT <= seen_pct < TOP_OF_SCALE_PCT
        and (seen_c, seen_pct) not in GLITCHES
    ):
        return None
    if not (isfinite(seen_c) and isfinite(seen_pct)):
        return Because("implausible-reading")
    if (seen_c, seen_pct) in GLITCHES:
        return Because("glitch-reading", {"seen_pct": seen_pct, "seen_c": seen_c})
    if seen_pct >= TOP_OF_SCALE_PCT and coldest_c <= seen_c <= warmest_c:
        return Because("top-of-scale", {"seen_pct": seen_pct})
    return Because("out-of-range-reading", {"seen_pct": seen_pct, "seen_c": seen_c})


def may_be_true(odd: AirReading) -> bool:
    """Whether an odd reading may all the same be the air of a room gone wrong: hot, cold, soaked.

    Known glitches, values that are no numbers and values that no element can measure are not.
    """
    coldest_c, warmest_c = MEASURABLE_TEMPERATURE_C
    seen = (odd.temperature_c, odd.humidity_pct)
    return (
        coldest_c <= odd.temperature_c <= warmest_c and seen not in GLITCHES and isfinite(seen[1])
    )
