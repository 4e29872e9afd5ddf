"""The picture of a room's past: two strips of air, marks, relays, one time axis up to its end."""

from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from markupsafe import Markup

from hangroom.store.relay_times import RelayTime
from hangroom.store.room_past import MarkKind
from hangroom_web.draw.svg import drawing, line, n, path, rect, text
from hangroom_web.history.past import Past, Quantity
from hangroom_web.history.ticks import ticks
from hangroom_web.history.words import say_relay
from hangroom_web.words import _

LEFT, RIGHT, WIDTH = 34.0, 330.0, 336.0
TOP = 20.0
STRIP = 104.0
BETWEEN = 24.0
BAR = 14.0
LANE = 20.0
LEAST_GAP = 1.5  # what is narrower would not be seen

# A mark's outline around its middle, 10 wide: told apart by shape, also where it is small.
SHAPES = {
    MarkKind.ALARM: "M0-5.5L5.5 4.5H-5.5z",
    MarkKind.DOOR: "M-3.5-5.5h7v11h-7zM1.2-.5v1",
    MarkKind.INSPECTION: "M5 0A5 5 0 1 1-5 0A5 5 0 1 1 5 0z",
    MarkKind.SETPOINT: "M0-5.5L5.5 0L0 5.5L-5.5 0z",
    MarkKind.STAGE: "M-4.5-4.5h9v9h-9z",
}
FILLED = frozenset({MarkKind.ALARM, MarkKind.STAGE})

X = Callable[[datetime], float]


def draw_history(past: Past, *, label: str, zone: ZoneInfo) -> Markup:
    """Return the picture; `label` says the same in words."""
    window = past.window

    def x(at: datetime) -> float:
        share = (at - window.since) / (window.until - window.since)
        return LEFT + (RIGHT - LEFT) * min(1.0, max(0.0, share))

    parts: list[Markup] = [
        Markup(
            '<defs><pattern id="hatch" width="6" height="6" patternUnits="userSpaceOnUse">'
            '<path class="hatch" d="M-1 7L7-1M-1 1L1-1M5 7L7 5"/></pattern></defs>'
        )
    ]
    y = TOP
    for quantity in past.quantities:
        parts.append(_strip(quantity, past, y, x))
        y += STRIP + BETWEEN
    foot_of_air = y - BETWEEN
    parts.extend(
        # Over the curves: none of them goes through a time in which nothing was read.
        Markup('<path class="gap" d="{0}"/><path fill="url(#hatch)" d="{0}"/>').format(
            f"M{n(x(gap.from_at))} {n(TOP)}h{n(max(x(gap.to_at) - x(gap.from_at), LEAST_GAP))}"
            f"V{n(foot_of_air)}H{n(x(gap.from_at))}z"
        )
        for gap in past.gaps
    )
    y = foot_of_air + LANE / 2 + 2.0
    parts.extend(
        Markup('<g transform="translate({} {})">{}</g>').format(
            n(x(mark.at)), n(y), mark_shape(mark.kind)
        )
        for mark in past.marks
    )
    y += LANE / 2
    for relay, times in past.relays.items():
        parts.append(text(LEFT, y + 8.0, say_relay(relay, times), css="small"))
        y += 14.0 + BAR
        parts.append(line(LEFT, y, RIGHT, y, css="rule"))
        parts.append(Markup('<path class="run" d="{}"/>').format(_bars(times, past, y, x)))
        y += 10.0
    # Below the data, so that no rule crosses a curve.
    parts.insert(1, _axis(past, y, zone, x))
    return drawing(parts, width=WIDTH, height=y + 22.0, label=label, css="day history")


def mark_shape(kind: MarkKind) -> Markup:
    """Return a mark around the middle of where it stands."""
    css = "event full" if kind in FILLED else "event"
    return Markup('<path class="{}" d="{}"/>').format(css, SHAPES[kind])


def mark_alone(kind: MarkKind) -> Markup:
    """Return a mark as a picture of its own, for a line of text that names it."""
    return Markup(
        '<svg class="mark-alone" viewBox="-7 -7 14 14" width="14" height="14"'
        ' aria-hidden="true">{}</svg>'
    ).format(mark_shape(kind))


def _strip(quantity: Quantity, past: Past, top: float, x: X) -> Markup:
    low, high = quantity.span

    def y(value: float) -> float:
        return top + STRIP * (high - min(max(value, low), high)) / (high - low)

    parts = []
    for band in quantity.bands:
        left, right = x(band.from_at), x(band.to_at)
        upper, lower = y(band.high), y(band.low)
        parts.append(rect(left, upper, right - left, lower - upper, css="wanted"))
        parts.append(line(left, y(band.setpoint), right, y(band.setpoint), css="set"))
    parts.extend(line(LEFT, edge, RIGHT, edge, css="rule") for edge in (top, top + STRIP))
    for first, end in stretches_read(quantity.mean):
        lows, means, highs = (
            _through(values, (first, end), past, x, y)
            for values in (quantity.low, quantity.mean, quantity.high)
        )
        parts.append(
            Markup('<path class="spread {}" d="{}"/>').format(
                quantity.css, path([*highs, *reversed(lows)], closed=True)
            )
        )
        parts.append(Markup('<path class="mean {}" d="{}"/>').format(quantity.css, path(means)))
    words = f"{quantity.name}, {quantity.unit}"
    parts.append(text(LEFT + 26.0, top - 6.0, words, css=f"small {quantity.css}-word"))
    parts.append(line(LEFT, top - 10.0, LEFT + 22.0, top - 10.0, css=f"mean {quantity.css}"))
    parts.append(text(LEFT - 5.0, top + 5.0, f"{high:g}", css="small", anchor="end"))
    parts.append(text(LEFT - 5.0, top + STRIP + 4.0, f"{low:g}", css="small", anchor="end"))
    return Markup("").join(parts)


def stretches_read(values: Sequence[float | None]) -> Iterator[tuple[int, int]]:
    """Yield first and end of each run of stretches with readings; a gap is never bridged."""
    first: int | None = None
    for place, value in enumerate((*values, None)):
        if value is not None and first is None:
            first = place
        elif value is None and first is not None:
            yield first, place
            first = None


def _through(
    values: Sequence[float | None],
    run: tuple[int, int],
    past: Past,
    x: X,
    y: Callable[[float], float],
) -> list[tuple[float, float]]:
    """Return points at the middle of each stretch, and at both ends of the run of them."""
    first, end = run
    half = past.window.stretch / 2
    inside = [
        (x(past.starts(first + place) + half), y(value))
        for place, value in enumerate(values[first:end])
        if value is not None
    ]
    return [(x(past.starts(first)), inside[0][1]), *inside, (x(past.starts(end)), inside[-1][1])]


def _bars(times: Sequence[RelayTime], past: Past, foot: float, x: X) -> str:
    """Return one bar per stretch, as high as the share of it that the relay was on."""
    parts = []
    for place, time in enumerate(times):
        if not time.on_ms:
            continue
        left, right = x(past.starts(place)), x(past.starts(place + 1))
        height, width = n(max(BAR * (time.on_ratio or 0.0), 1.0)), n(right - left)
        parts.append(f"M{n(left)} {n(foot)}v-{height}h{width}v{height}z")
    return "".join(parts)


def _axis(past: Past, foot: float, zone: ZoneInfo, x: X) -> Markup:
    parts = [line(LEFT, foot, RIGHT, foot, css="thin")]
    for tick in ticks(past.window.since, past.window.until, zone):
        at = x(tick.at)
        top = TOP if tick.words else foot
        parts.append(line(at, top, at, foot + (5.0 if tick.words else 3.0), css="rule"))
        if tick.words and LEFT + 8.0 < at < RIGHT - (48.0 if past.window.live else 12.0):
            parts.append(text(at, foot + 17.0, tick.words, css="small", anchor="middle"))
    parts.append(line(RIGHT, TOP, RIGHT, foot + 5.0, css="thin"))
    if past.window.live:
        parts.append(text(RIGHT + 5.0, foot + 17.0, _("now"), css="small", anchor="end"))
    return Markup("").join(parts)
