"""A room's last 24 hours: lowest and highest of its air, gaps, relays by share of time. Pure."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

from hangroom.store.history import Bucket, Switching
from hangroom.terms import RelayKind
from hangroom.units import Units, temperature_shown
from hangroom_web.relays import RELAY_NAMES
from hangroom_web.words import _

HOURS = 24
BUCKET_S = 600
BUCKET = timedelta(seconds=BUCKET_S)

# A strip never shows less than this, or noise would fill it.
LEAST_SPAN_C, LEAST_SPAN_PCT = 4.0, 12.0

Stretch = tuple[datetime, datetime]
LowHigh = tuple[datetime, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """One quantity, in the unit shown: lowest and highest per bucket, and the band wanted."""

    name: str
    unit: str
    css: str
    low_high: Sequence[LowHigh]
    wanted: tuple[float, float] | None
    least_span: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RelayDay:
    """One relay: which share of each bucket it was on (0 to 1), for the buckets where it was."""

    name: str
    shares: Sequence[tuple[datetime, float]]
    on_pct: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """A room's day: strips of air, stretches without any reading, relays."""

    since: datetime
    until: datetime
    strips: Sequence[Strip]
    gaps: Sequence[Stretch]
    relays: Sequence[RelayDay]


def day_of_room(
    buckets: Sequence[Bucket],
    switchings: Sequence[Switching],
    *,
    relays: Sequence[RelayKind],
    until: datetime,
    known: Sequence[Stretch],
    wanted_c: tuple[float, float] | None,
    wanted_pct: tuple[float, float] | None,
    units: Units,
) -> Day:
    """Return a room's day. `known`: when the daemon ran; at other times no relay is known.

    `wanted_c` and `wanted_pct` are setpoint and half band; degC and %RH.
    """
    since = until - timedelta(hours=HOURS)

    def shown(value_c: float) -> float:
        return temperature_shown(value_c, units)

    temperature = Strip(
        name=_("Temperature"),
        unit=f"°{units.temperature}",
        css="t",
        low_high=[(b.starts_at, shown(b.lowest_c), shown(b.highest_c)) for b in buckets],
        wanted=None
        if wanted_c is None
        else (shown(wanted_c[0] - wanted_c[1]), shown(wanted_c[0] + wanted_c[1])),
        least_span=LEAST_SPAN_C,
    )
    humidity = Strip(
        name=_("Humidity"),
        unit="%",
        css="h",
        low_high=[(b.starts_at, b.lowest_pct, b.highest_pct) for b in buckets],
        wanted=None
        if wanted_pct is None
        else (wanted_pct[0] - wanted_pct[1], wanted_pct[0] + wanted_pct[1]),
        least_span=LEAST_SPAN_PCT,
    )
    return Day(
        since=since,
        until=until,
        strips=(temperature, humidity),
        gaps=list(gaps_between([b.starts_at for b in buckets], since, until)),
        relays=[
            _relay_day(
                RELAY_NAMES[kind], [s for s in switchings if s.relay == kind], known, since, until
            )
            for kind in relays
        ],
    )


def say_strip(strip: Strip) -> str:
    """Return for example 'Temperature 11.8 to 13.4 °C', or that there was no reading."""
    if not strip.low_high:
        return _("{name}: no reading").format(name=strip.name)
    return _("{name} {low:.1f} to {high:.1f} {unit}").format(
        name=strip.name,
        low=min(low for _at, low, _high in strip.low_high),
        high=max(high for _at, _low, high in strip.low_high),
        unit=strip.unit,
    )


def say_day(day: Day) -> str:
    """Return lowest and highest of all, each relay's share, and how long nothing was read."""
    dark = sum((b - a for a, b in day.gaps), timedelta())
    told = [say_strip(strip) for strip in day.strips]
    told += [
        _("{relay} on {share:.0f} % of the time").format(relay=relay.name, share=relay.on_pct)
        for relay in day.relays
    ]
    if dark > 2 * BUCKET:
        told.append(_("no readings for {hours:.1f} h").format(hours=dark / timedelta(hours=1)))
    return _("{told}.").format(told="; ".join(told))


def stretches(low_high: Sequence[LowHigh]) -> Iterator[list[LowHigh]]:
    """Yield runs of buckets without a gap between them; a gap is never bridged."""
    stretch: list[LowHigh] = []
    for place in low_high:
        if stretch and place[0] - stretch[-1][0] > BUCKET:
            yield stretch
            stretch = []
        stretch.append(place)
    if stretch:
        yield stretch


def gaps_between(starts: Sequence[datetime], since: datetime, until: datetime) -> Iterator[Stretch]:
    """Yield the stretches of a day that no bucket covers."""
    edges = [(since - BUCKET, since), *((at, at + BUCKET) for at in starts), (until, until)]
    for (_start, end), (following, _end) in pairwise(edges):
        if following - end > BUCKET / 2:
            yield max(end, since), following


def runs(switchings: Sequence[Switching], known: Sequence[Stretch]) -> Iterator[Stretch]:
    """Yield when a relay was closed; each run of the daemon starts with every relay open."""
    for started_at, ended_at in known:
        on_at: datetime | None = None
        for switching in switchings:
            if not started_at <= switching.at <= ended_at:
                continue
            if switching.closed and on_at is None:
                on_at = switching.at
            elif not switching.closed and on_at is not None:
                yield on_at, switching.at
                on_at = None
        if on_at is not None:
            yield on_at, ended_at


def _relay_day(
    name: str,
    switchings: Sequence[Switching],
    known: Sequence[Stretch],
    since: datetime,
    until: datetime,
) -> RelayDay:
    on_by_bucket: dict[int, timedelta] = {}
    for started_at, ended_at in runs(switchings, known):
        at, end = max(started_at, since), min(ended_at, until)
        while at < end:
            place = (at - since) // BUCKET
            edge = min(end, since + (place + 1) * BUCKET)
            on_by_bucket[place] = on_by_bucket.get(place, timedelta()) + (edge - at)
            at = edge
    alive = sum((min(b, until) - max(a, since) for a, b in known if b > since), timedelta())
    on = sum(on_by_bucket.values(), timedelta())
    return RelayDay(
        name=name,
        shares=[
            (since + place * BUCKET, on / BUCKET) for place, on in sorted(on_by_bucket.items())
        ],
        on_pct=100.0 * (on / alive) if alive else 0.0,
    )
