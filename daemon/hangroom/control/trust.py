"""Which readings may be acted on. A bad reading is absent: never zero, never an old one."""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from hangroom.terms import AirReading, Because

# What a room sensor can plausibly report. Below and above lie the classic faults: an all-zero
# frame passes the DHT22's checksum, a soaked element sits at 99.9 %, negative clones give -3276.
PLAUSIBLE_TEMPERATURE_C = (-10.0, 50.0)
PLAUSIBLE_HUMIDITY_PCT = (1.0, 99.8)

# Decisions are dated to the tick that was due; a reading may have come while it was late.
SEEN_LATE_S = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Air:
    """The air of a room as control believes it, from all its usable sensors."""

    temperature_c: float
    humidity_pct: float


def judge(
    readings: Sequence[AirReading | None], *, uptime_s: float, expires_s: float
) -> Air | Because:
    """Return the median of the fresh and plausible readings, or why there is none."""
    there = [reading for reading in readings if reading is not None]
    if not there:
        return Because("no-reading")
    fresh = [r for r in there if -SEEN_LATE_S <= uptime_s - r.taken_uptime_s <= expires_s]
    if not fresh:
        youngest_s = min(uptime_s - r.taken_uptime_s for r in there)
        return Because("stale-reading", {"age_s": max(0.0, youngest_s)})
    usable = [r for r in fresh if _plausible(r)]
    if not usable:
        return Because("implausible-reading")
    return Air(
        temperature_c=median(r.temperature_c for r in usable),
        humidity_pct=median(r.humidity_pct for r in usable),
    )


def _plausible(reading: AirReading) -> bool:
    # Written as "inside" so that a NaN, for which every comparison is false, falls out.
    coldest_c, warmest_c = PLAUSIBLE_TEMPERATURE_C
    driest_pct, wettest_pct = PLAUSIBLE_HUMIDITY_PCT
    return (
        coldest_c <= reading.temperature_c <= warmest_c
        and driest_pct <= reading.humidity_pct <= wettest_pct
    )
