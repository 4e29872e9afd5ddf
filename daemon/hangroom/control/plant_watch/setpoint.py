"""The setpoint: whether the air stays off it, and why.

Judged on the mean of about half an hour, so that a compressor's cycle or an opened door is none of
its business. How long is too long, the alarm's own delay says.
"""

from collections.abc import Container, Iterator, Mapping
from dataclasses import dataclass, field
from math import exp

from hangroom.control.alarms.delays import Raw, Side, above, below
from hangroom.control.plant_watch.view import View
from hangroom.terms import Because, RelayKind

MEAN_OVER_S = 1800.0
SHARE_OVER_S = 3600.0
# So far beyond the band the mean must be, since no sensor repeats itself better; back in the band
# it is back.
OUTSIDE_BAND_C = 0.3
OUTSIDE_BAND_PCT = 1.0
# Air outside that holds no less water than this below the room's dries nothing.
LEAST_DIFFERENCE_G_PER_M3 = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Means:
    """Means of the last half hour, and each relay's share of the last hour.

    As exponential means: what is older counts less and less. None before the first sample.
    """

    temperature_c: float | None = None
    humidity_pct: float | None = None
    on_ratio: Mapping[RelayKind, float] = field(default_factory=dict)
    since_uptime_s: float = 0.0
    looked_uptime_s: float = 0.0


def looked_at(means: Means, view: View) -> Means:
    """Return the means after one more look."""
    newest = view.now[-1]
    mean_c, mean_pct = means.temperature_c, means.humidity_pct
    if mean_c is None or mean_pct is None:
        return Means(
            temperature_c=newest.temperature_c,
            humidity_pct=newest.humidity_pct,
            on_ratio={kind: float(switch.closed) for kind, switch in view.switches.items()},
            since_uptime_s=view.uptime_s,
            looked_uptime_s=view.uptime_s,
        )
    passed_s = view.uptime_s - means.looked_uptime_s
    # At first a plain mean of all there is.
    all_ratio = passed_s / (view.uptime_s - means.since_uptime_s)
    mean_ratio = max(all_ratio, 1.0 - exp(-passed_s / MEAN_OVER_S))
    share_ratio = max(all_ratio, 1.0 - exp(-passed_s / SHARE_OVER_S))
    on_ratio = {}
    for kind, switch in view.switches.items():
        was_ratio = means.on_ratio.get(kind, 0.0)
        on_ratio[kind] = was_ratio + share_ratio * (switch.closed - was_ratio)
    return Means(
        temperature_c=mean_c + mean_ratio * (newest.temperature_c - mean_c),
        humidity_pct=mean_pct + mean_ratio * (newest.humidity_pct - mean_pct),
        on_ratio=on_ratio,
        since_uptime_s=means.since_uptime_s,
        looked_uptime_s=view.uptime_s,
    )


def unreachable(means: Means, view: View, *, failing: Container[RelayKind]) -> Raw:
    """Return the raw condition of a setpoint that is not reached, with the reason's code.

    Not known in the first half hour, nor where the relay that should help has a finding of its own:
    `failing`.
    """
    mean_c, mean_pct = means.temperature_c, means.humidity_pct
    new = view.uptime_s - means.since_uptime_s < MEAN_OVER_S
    if mean_c is None or mean_pct is None or new:
        return Raw(Side.UNKNOWN)
    off = [*_off_temperature(mean_c, means, view), *_off_humidity(mean_pct, means, view)]
    for wanted in (Side.BEYOND, Side.DEADBAND):
        for helper, side, because in off:
            if side is wanted:
                if helper in failing:
                    return Raw(Side.UNKNOWN)
                return Raw(side, because.figures, because.code)
    return Raw(Side.WITHIN)


Off = Iterator[tuple[RelayKind, Side, Because]]
"""The relay that should help, on which side of its limit the mean is, and why it does not help."""


def _off_temperature(mean_c: float, means: Means, view: View) -> Off:
    target = view.temperature
    if target is None:
        return
    off_by_c = target.band_c + OUTSIDE_BAND_C
    side = above(mean_c, limit=target.setpoint_c + off_by_c, deadband=OUTSIDE_BAND_C)
    if side is not Side.WITHIN:
        yield RelayKind.COOLING, side, _too_warm(mean_c, means, view)
    side = below(mean_c, limit=target.setpoint_c - off_by_c, deadband=OUTSIDE_BAND_C)
    if side is not Side.WITHIN:
        yield RelayKind.HEATER, side, _too_cold(mean_c, means, view)


def _off_humidity(mean_pct: float, means: Means, view: View) -> Off:
    target = view.humidity
    if target is None:
        return
    off_by_pct = target.band_pct + OUTSIDE_BAND_PCT
    side = above(mean_pct, limit=target.setpoint_pct + off_by_pct, deadband=OUTSIDE_BAND_PCT)
    if side is not Side.WITHIN:
        has_fan = RelayKind.EXHAUST_FAN in view.switches
        helper = RelayKind.EXHAUST_FAN if has_fan else RelayKind.COOLING
        yield helper, side, _too_humid(mean_pct, means, view)
    side = below(mean_pct, limit=target.setpoint_pct - off_by_pct, deadband=OUTSIDE_BAND_PCT)
    if side is not Side.WITHIN:
        yield RelayKind.HUMIDIFIER, side, _too_dry(mean_pct, means, view)


def _too_warm(mean_c: float, means: Means, view: View) -> Because:
    if RelayKind.COOLING in view.switches:
        on_pct = _on_pct(means, RelayKind.COOLING)
        return Because("cooling-at-its-limit", {"seen_c": mean_c, "on_pct": on_pct})
    if view.outside is not None and view.outside.temperature_c > mean_c - OUTSIDE_BAND_C:
        outside_c = view.outside.temperature_c
        return Because("as-warm-outside", {"seen_c": mean_c, "outside_c": outside_c})
    return Because("nothing-cools", {"seen_c": mean_c})


def _too_cold(mean_c: float, means: Means, view: View) -> Because:
    if RelayKind.HEATER in view.switches:
        on_pct = _on_pct(means, RelayKind.HEATER)
        return Because("heating-at-its-limit", {"seen_c": mean_c, "on_pct": on_pct})
    return Because("nothing-heats", {"seen_c": mean_c})


def _too_humid(mean_pct: float, means: Means, view: View) -> Because:
    if RelayKind.EXHAUST_FAN in view.switches:
        outside, outside_g_per_m3 = view.outside, view.outside_g_per_m3
        dry_g_per_m3 = view.now[-1].vapour_g_per_m3 - LEAST_DIFFERENCE_G_PER_M3
        if outside is not None and outside_g_per_m3 is not None and outside_g_per_m3 > dry_g_per_m3:
            outside_c, outside_pct = outside.temperature_c, outside.humidity_pct
            return Because(
                "as-wet-outside",
                {"seen_pct": mean_pct, "outside_c": outside_c, "outside_pct": outside_pct},
            )
        on_pct = _on_pct(means, RelayKind.EXHAUST_FAN)
        return Because("airing-at-its-limit", {"seen_pct": mean_pct, "on_pct": on_pct})
    if RelayKind.COOLING in view.switches:
        on_pct = _on_pct(means, RelayKind.COOLING)
        return Because("coil-at-its-limit", {"seen_pct": mean_pct, "on_pct": on_pct})
    return Because("nothing-dries", {"seen_pct": mean_pct})


def _too_dry(mean_pct: float, means: Means, view: View) -> Because:
    if RelayKind.HUMIDIFIER in view.switches:
        on_pct = _on_pct(means, RelayKind.HUMIDIFIER)
        return Because("humidifying-at-its-limit", {"seen_pct": mean_pct, "on_pct": on_pct})
    return Because("nothing-humidifies", {"seen_pct": mean_pct})


def _on_pct(means: Means, kind: RelayKind) -> float:
    return 100.0 * means.on_ratio[kind]
