"""The picture of a room's last 24 hours: two strips of air, gaps hatched, relays below, to now."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from markupsafe import Markup

from hangroom_web.dates import say_clock
from hangroom_web.day import BUCKET, HOURS, Day, RelayDay, Strip, say_day, stretches
from hangroom_web.draw.svg import drawing, line, n, path, rect, text
from hangroom_web.words import _

LEFT, RIGHT, WIDTH = 34.0, 330.0, 336.0
TOP = 18.0
STRIP = 74.0
BAR = 12.0


def draw_day(day: Day, *, title: str, zone: ZoneInfo) -> Markup:
    """Return the picture."""
    parts: list[Markup] = [
        Markup(
            '<defs><pattern id="hatch-{}" width="6" height="6" patternUnits="userSpaceOnUse">'
            '<path class="hatch" d="M-1 7L7-1M-1 1L1-1M5 7L7 5"/></pattern></defs>'
        ).format(title)
    ]
    y = TOP
    for strip in day.strips:
        parts.append(_strip(strip, day, y))
        y += STRIP + 24.0
    foot_of_air = y - 24.0
    parts.extend(
        Markup('<rect fill="url(#hatch-{})" x="{}" y="{}" width="{}" height="{}"/>').format(
            title, n(_x(a, day)), n(TOP), n(_x(b, day) - _x(a, day)), n(foot_of_air - TOP)
        )
        for a, b in day.gaps
    )
    for relay in day.relays:
        parts.append(text(LEFT, y + 4.0, relay.name, css="small"))
        y += 10.0 + BAR
        parts.append(line(LEFT, y, RIGHT, y, css="rule"))
        parts.append(Markup('<path class="run" d="{}"/>').format(_bars(relay, day, y)))
        y += 16.0
    # Below the data, so that no rule crosses a curve.
    parts.insert(1, _hours(day, y, TOP, zone))
    return drawing(
        parts,
        width=WIDTH,
        height=y + 20.0,
        label=_("Last 24 hours: {told}").format(told=say_day(day)),
        css="day",
    )


def _strip(strip: Strip, day: Day, top: float) -> Markup:
    low, high = _span(strip)

    def y(value: float) -> float:
        return top + STRIP * (high - value) / (high - low)

    parts = []
    if strip.wanted is not None:
        upper, lower = min(strip.wanted[1], high), max(strip.wanted[0], low)
        parts.append(rect(LEFT, y(upper), RIGHT - LEFT, y(lower) - y(upper), css="wanted"))
    parts.extend(line(LEFT, edge, RIGHT, edge, css="rule") for edge in (top, top + STRIP))
    for stretch in stretches(strip.low_high):
        last_at, last_low, last_high = stretch[-1]
        to_its_end = [*stretch, (last_at + BUCKET, last_low, last_high)]
        upper_edge = [(_x(at, day), y(top_value)) for at, _low, top_value in to_its_end]
        lower_edge = [(_x(at, day), y(bottom)) for at, bottom, _high in to_its_end]
        parts.append(
            Markup('<path class="air {}" d="{}"/>').format(
                strip.css, path([*upper_edge, *reversed(lower_edge)], closed=True)
            )
        )
    parts.append(
        text(LEFT, top - 6.0, f"{strip.name}, {strip.unit}", css=f"small {strip.css}-word")
    )
    parts.append(text(LEFT - 5.0, top + 5.0, f"{high:g}", css="small", anchor="end"))
    parts.append(text(LEFT - 5.0, top + STRIP + 4.0, f"{low:g}", css="small", anchor="end"))
    return Markup("").join(parts)


def _span(strip: Strip) -> tuple[float, float]:
    values = [v for _at, low, high in strip.low_high for v in (low, high)]
    values += list(strip.wanted or ())
    if not values:
        return 0.0, strip.least_span
    low, high = min(values), max(values)
    spare = max(0.0, strip.least_span - (high - low)) / 2.0
    low_edge, high_edge = float((low - spare) // 1), float(-(-(high + spare) // 1))
    return (low_edge, min(high_edge, 100.0) if strip.css == "h" else high_edge)


def _bars(relay: RelayDay, day: Day, foot: float) -> str:
    """Return one bar per bucket, as high as the share of it that the relay was on."""
    parts = []
    for at, share in relay.shares:
        left, right = _x(at, day), _x(at + BUCKET, day)
        height, width = n(max(BAR * share, 1.0)), n(right - left)
        parts.append(f"M{n(left)} {n(foot)}v-{height}h{width}v{height}z")
    return "".join(parts)


def _x(at: datetime, day: Day) -> float:
    share = (at - day.since) / (day.until - day.since)
    return LEFT + (RIGHT - LEFT) * min(1.0, max(0.0, share))


def _hours(day: Day, foot: float, top: float, zone: ZoneInfo) -> Markup:
    """Return the axis: a mark at every sixth local hour, and 'now' at its end."""
    parts = [line(LEFT, foot, RIGHT, foot, css="thin")]
    first = day.since.astimezone(zone).replace(minute=0, second=0, microsecond=0)
    for hour in range(1, HOURS + 1):
        at = first.astimezone(zone) + timedelta(hours=hour)
        x = _x(at, day)
        if at.hour % 6 or at > day.until:
            continue
        parts.append(line(x, top, x, foot + 4.0, css="rule"))
        if x < RIGHT - 62.0:
            parts.append(text(x, foot + 16.0, f"{at:%H:%M}", css="small", anchor="middle"))
    parts.append(line(RIGHT, top, RIGHT, foot + 4.0, css="thin"))
    parts.append(
        text(RIGHT + 5.0, foot + 16.0, say_clock(day.until, zone), css="small", anchor="end")
    )
    return Markup("").join(parts)
