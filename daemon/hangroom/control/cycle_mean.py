"""The mean of a cooled room's humidity over its compressor's cycle.

Each run of a compressor lowers temperature by a degree or two, and at the same vapour humidity by
some 5 % with every degree the other way; the coil takes vapour too. No humidifier can follow that,
and none should try: what the sticks feel over days is the mean. Twenty minutes are about one cycle
of a small fridge (common practice, no source).

Kept are the means of single minutes, so that a tick costs the same however long the cycle is.
"""

from dataclasses import dataclass, replace

CYCLE_S = 1200.0
MINUTE_S = 60.0
MINUTES = round(CYCLE_S / MINUTE_S)
# After so long without a look what was before says nothing of now.
LONGEST_GAP_S = 300.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CycleMean:
    """Humidity over the last cycle, None until there has been a whole one; moments are monotonic.

    `minutes_pct`: means of the minutes that are over, oldest first. `sum_pct` of `looks`: the
    minute under way, which began at `began_uptime_s`.
    """

    humidity_pct: float | None = None
    minutes_pct: tuple[float, ...] = ()
    sum_pct: float = 0.0
    looks: int = 0
    began_uptime_s: float
    looked_uptime_s: float

    def left_s(self, uptime_s: float) -> float:
        """Return how long it takes at least until there is a mean."""
        wanted_s = CYCLE_S - MINUTE_S * len(self.minutes_pct)
        return max(0.0, wanted_s - (uptime_s - self.began_uptime_s))


def looked(mean: CycleMean | None, *, seen_pct: float, uptime_s: float) -> CycleMean:
    """Return the mean after one more look at the humidity."""
    if mean is None or uptime_s - mean.looked_uptime_s > LONGEST_GAP_S:
        mean = CycleMean(began_uptime_s=uptime_s, looked_uptime_s=uptime_s)
    elif uptime_s - mean.began_uptime_s >= MINUTE_S:
        mean = _minute_over(mean, uptime_s)
    return replace(
        mean, sum_pct=mean.sum_pct + seen_pct, looks=mean.looks + 1, looked_uptime_s=uptime_s
    )


def _minute_over(mean: CycleMean, uptime_s: float) -> CycleMean:
    minutes_pct = (*mean.minutes_pct, mean.sum_pct / mean.looks)[-MINUTES:]
    whole = len(minutes_pct) == MINUTES
    return CycleMean(
        humidity_pct=sum(minutes_pct) / MINUTES if whole else None,
        minutes_pct=minutes_pct,
        began_uptime_s=uptime_s,
        looked_uptime_s=uptime_s,
    )
