"""A group's yields over time, stick by stick, with its target as a line and what is foretold."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import ceil
from zoneinfo import ZoneInfo

from markupsafe import Markup

from hangroom.product.doneness import Estimate
from hangroom_web.dates import say_weekday
from hangroom_web.draw.svg import drawing, line, n, path, rect, text
from hangroom_web.forecasts.foretold import Band
from hangroom_web.words import _, sentence

LEFT, RIGHT, WIDTH = 34.0, 330.0, 336.0
TOP, HEIGHT = 22.0, 150.0
# Day labels nearer than this would touch; days' lines nearer than this would be a grey ground.
DAY_LABEL_PX, DAY_LINE_PX = 56.0, 8.0
# A rule for each 5 %, and for more where that would be a grey ground: a slip in a weight.
RULE_PCT, MOST_RULES = 5.0, 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """One stick's yields on green weight, oldest first, %."""

    tag: str
    points: Sequence[tuple[datetime, float]]


def draw_yields(
    curves: Sequence[Curve],
    *,
    target_pct: float,
    told: Estimate | None,
    band: Sequence[Band] = (),
    until: datetime,
    ended: bool = False,
    zone: ZoneInfo,
) -> Markup:
    """Return the picture: `band` as an area with its middle, else `told` as a dashed line.

    `until` is now, or when the group was pulled where it has `ended`.
    """
    window = told.window if told and not band else None
    moments = [at for curve in curves for at, _y in curve.points]
    values = [pct for curve in curves for _at, pct in curve.points]
    if not moments and not band:
        return Markup("")
    since = min([*moments, *(one.at for one in band[:1])])
    right_at = max(
        [until, *moments, *(one.at for one in band), *((window.latest_at,) if window else ())]
    )
    right_at = min(right_at, until + timedelta(days=10)) + timedelta(hours=4)
    band = [one for one in band if since <= one.at <= right_at]
    values += [pct for one in band for pct in (one.low_pct, one.high_pct)]
    low = 5.0 * ((min([*values, target_pct]) - 1.0) // 5.0)
    high = 5.0 * -(-(max([*values, target_pct]) + 1.0) // 5.0)

    def x(at: datetime) -> float:
        return LEFT + (RIGHT - LEFT) * float(min(1.0, (at - since) / (right_at - since)))

    def y(pct: float) -> float:
        return TOP + HEIGHT * (high - pct) / (high - low)

    parts = [text(LEFT, 12.0, _("Yield, % of green weight"), css="small")]
    apart_pct = RULE_PCT * ceil((high - low) / (RULE_PCT * MOST_RULES))
    for step in range(int((high - low) / apart_pct) + 1):
        pct = low + apart_pct * step
        parts.append(line(LEFT, y(pct), RIGHT, y(pct), css="rule"))
        parts.append(text(LEFT - 5.0, y(pct) + 4.0, f"{pct:g}", css="small", anchor="end"))
    parts.extend(_days(since, right_at, zone, x))
    if band:
        low_edge = [(x(one.at), y(one.low_pct)) for one in band]
        high_edge = [(x(one.at), y(one.high_pct)) for one in band]
        area = path([*high_edge, *reversed(low_edge)], closed=True)
        middle = path([(x(one.at), y(one.middle_pct)) for one in band])
        parts.append(Markup('<path class="band" d="{}"/>').format(area))
        parts.append(Markup('<path class="expected" d="{}"/>').format(middle))
    if window is not None:
        left, right = x(window.earliest_at), x(window.latest_at)
        parts.append(rect(left, y(target_pct) - 6.0, right - left, 12.0, css="window"))
        if told is not None and window.likely_at is not None:
            last = (x(max(moments)), y(told.yield_pct))
            parts.append(line(*last, x(window.likely_at), y(target_pct), css="expected"))
    parts.append(line(LEFT, y(target_pct), RIGHT, y(target_pct), css="target"))
    parts.append(
        text(
            LEFT + 4.0,
            y(target_pct) - 6.0,
            _("target {pct:g} %").format(pct=target_pct),
            css="small y-word",
        )
    )
    for curve in curves:
        dots = [(x(at), y(pct)) for at, pct in curve.points]
        parts.append(Markup('<path class="curve" d="{}"/>').format(path(dots)))
        parts.extend(
            Markup('<circle class="dot" cx="{}" cy="{}" r="3"/>').format(n(px), n(py))
            for px, py in dots
        )
    said = _("pulled") if ended else _("now")
    parts.append(line(x(until), TOP, x(until), TOP + HEIGHT, css="today"))
    parts.append(text(x(until), TOP + HEIGHT + 32.0, said, css="small", anchor="middle"))
    label = _label(curves, band, target_pct=target_pct)
    return drawing(parts, width=WIDTH, height=TOP + HEIGHT + 40.0, label=label, css="yields")


def _label(curves: Sequence[Curve], band: Sequence[Band], *, target_pct: float) -> str:
    values = [pct for curve in curves for _at, pct in curve.points]
    said = []
    if values:
        said.append(
            _("Yields from {first:.1f} down to {last:.1f} %").format(
                first=max(values), last=min(values)
            )
        )
    if band:
        said.append(
            _("the forecast ends between {low:.1f} and {high:.1f} %").format(
                low=band[-1].low_pct, high=band[-1].high_pct
            )
        )
    said.append(_("target {target:g} % of green weight").format(target=target_pct))
    return sentence("; ".join(said)) + "."


def _days(
    since: datetime, until: datetime, zone: ZoneInfo, x: Callable[[datetime], float]
) -> list[Markup]:
    parts: list[Markup] = []
    last_label, last_line = -DAY_LABEL_PX, -DAY_LINE_PX
    midnight = since.astimezone(zone).replace(hour=0, minute=0, second=0, microsecond=0)
    while (midnight := midnight + timedelta(days=1)) < until:
        place = x(midnight)
        if place - last_line < DAY_LINE_PX:
            continue
        last_line = place
        parts.append(line(place, TOP, place, TOP + HEIGHT + 4.0, css="rule"))
        if place - last_label >= DAY_LABEL_PX and place < RIGHT - 20.0:
            parts.append(
                text(
                    place,
                    TOP + HEIGHT + 17.0,
                    say_weekday(midnight, zone),
                    css="small",
                    anchor="middle",
                )
            )
            last_label = place
    return parts
