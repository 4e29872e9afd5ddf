"""The rail: tagged sticks to scale, each with the dashed outline of its size as hung.

The gap between outline and stick is the loss. Everything is 2 px to the millimetre; since a stick
is some fifteen times as long as it is thick, the same length is left out of the middle of every
one, as on a workshop drawing, so that differences in length stay true.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from hangroom.units import Units, say_length
from hangroom_web.draw.svg import drawing, line, n, text
from hangroom_web.rail import Drawn
from hangroom_web.words import _

PX_PER_MM = 2.0
PITCH = 62.0
GROUP_GAP = 14.0
LEAST_WIDTH = 324.0  # so that the scale's words have room below
BAR_Y = 62.0
HANG_Y = BAR_Y + 16.0
SHOWN_MM = 78.0  # of the longest stick, once the middle is left out
BREAK_SHARE = 0.62  # where along the stick the break lies
BREAK_GAP = 7.0
SPREAD_PX = 16.0  # a line more below each stick
WAVES = (14.0, 11.0, 16.0, 12.0)  # lengths of the wrinkles along an edge; no two alike beside
COIN_PX_PER_MM = 2.6
WRINKLES_DRAWN = 3.0  # wrinkle depth is drawn this many times as deep, or none could see it
USUAL_DIAMETER_MM = 20.0
USUAL_LENGTH_MM = 250.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RailGroup:
    """A group for the drawing: what stands over its bracket, and its sticks."""

    title: str
    window: str
    sticks: Sequence[Drawn]


def rail(groups: Sequence[RailGroup], units: Units) -> Markup:
    """Return the drawing of one room's rail; groups in hook order."""
    sticks = [stick for group in groups for stick in group.sticks]
    lengths = [stick.length_mm or USUAL_LENGTH_MM for stick in sticks]
    left_out_mm = max(0.0, 10.0 * math.floor((max(lengths) - SHOWN_MM) / 10.0))
    foot = HANG_Y + PX_PER_MM * (max(lengths) - left_out_mm) + 4.0
    spread_px = SPREAD_PX if any(stick.spread_pct is not None for stick in sticks) else 0.0
    parts, x = [], 10.0
    for group in groups:
        width = max(PITCH * len(group.sticks), 7.6 * max(len(group.title), len(group.window)))
        parts.append(_bracket(x, width, group))
        pitch = width / max(len(group.sticks), 1)
        for place, stick in enumerate(group.sticks):
            centre = x + pitch * (place + 0.5)
            parts.append(_stick(centre, stick, left_out_mm))
            parts.append(_words(centre, foot, stick))
        x += width + GROUP_GAP
    width = max(x - GROUP_GAP + 10.0, LEAST_WIDTH)
    parts.insert(0, _bar(width))
    parts.append(_scale(10.0, foot + 56.0 + spread_px, left_out_mm, units))
    height = foot + 76.0 + spread_px
    return drawing(parts, width=width, height=height, label=_summary(groups), css="rail")


def coin(stick: Drawn) -> Markup:
    """Return one stick cut across: dashed ring as hung, filled disc now."""
    hung_mm = stick.hung_diameter_mm or USUAL_DIAMETER_MM
    side = COIN_PX_PER_MM * hung_mm + 6.0
    centre = side / 2.0
    now_mm = stick.diameter_mm or hung_mm
    disc = "meat cut" if stick.weighed else "unweighed"
    parts = [
        _circle(centre, COIN_PX_PER_MM * hung_mm / 2.0, "ghost"),
        _circle(centre, COIN_PX_PER_MM * now_mm / 2.0, disc),
    ]
    label = _("Stick {tag} cut across").format(tag=stick.tag)
    return drawing(parts, width=side, height=side, label=label, css="coin")


def _circle(centre: float, radius: float, css: str) -> Markup:
    return Markup('<circle class="{}" cx="{}" cy="{}" r="{}"/>').format(
        css, n(centre), n(centre), n(radius)
    )


def _bar(width: float) -> Markup:
    return Markup('<rect class="bar" x="2" y="{}" width="{}" height="6" rx="1"/>').format(
        n(BAR_Y), n(width - 4.0)
    ) + Markup("").join(
        Markup('<circle class="bolt" cx="{}" cy="{}" r="2"/>').format(n(x), n(BAR_Y + 3.0))
        for x in (7.0, width - 7.0)
    )


def _bracket(x: float, width: float, group: RailGroup) -> Markup:
    left, right, top = x + 4.0, x + width - 4.0, 42.0
    d = f"M{n(left)} {n(top + 9)}V{n(top)}H{n(right)}V{n(top + 9)}"
    return Markup("").join(
        (
            text(left, 16.0, group.title, css="strong"),
            text(left, 34.0, group.window, css="small"),
            Markup('<path class="thin" d="{}"/>').format(d),
        )
    )


def _stick(centre: float, stick: Drawn, left_out_mm: float) -> Markup:
    hung_mm = stick.hung_diameter_mm or stick.diameter_mm or USUAL_DIAMETER_MM
    now_mm = stick.diameter_mm or hung_mm
    length = PX_PER_MM * ((stick.length_mm or USUAL_LENGTH_MM) - left_out_mm)
    depth = WRINKLES_DRAWN * PX_PER_MM * stick.wrinkle_mm
    body = "meat" if stick.weighed else "unweighed"
    knot = Markup('<path class="twine" d="M{} {}V{}"/>').format(n(centre), n(BAR_Y), n(HANG_Y + 1))
    ghost = _outline(centre, PX_PER_MM * hung_mm, length, depth=0.0)
    flesh = _outline(centre, PX_PER_MM * now_mm, length, depth=depth)
    parts = [
        knot,
        Markup('<path class="{}" d="{}"/>').format(body, flesh),
        Markup('<path class="ghost" d="{}"/>').format(ghost),
    ]
    if left_out_mm > 0:
        parts.append(_break(centre, PX_PER_MM * max(hung_mm, now_mm), length))
    return Markup("").join(parts)


def _outline(centre: float, width: float, length: float, *, depth: float) -> str:
    """Return a stick's outline: rounded ends, sides waving inwards by `depth` px at the deepest."""
    half, end = width / 2.0, min(width / 2.0, 9.0)
    side = length - 2.0 * end
    inwards = min(depth, width * 0.3)
    arc = f"a{n(half)} {n(end)} 0 0 1"
    down, up = (_side(side, inwards, way) if inwards else f"v{n(way * side)}" for way in (1, -1))
    return f"M{n(centre - half)} {n(HANG_Y + end)}{arc} {n(width)} 0{down}{arc} {n(-width)} 0{up}z"


def _side(side: float, inwards: float, way: int) -> str:
    """Return one wrinkled side, downwards (1) or upwards (-1), in waves that end where it ends."""
    count = max(1, round(side / WAVES[0]))
    lengths = [WAVES[place % len(WAVES)] for place in range(count)]
    parts = []
    for wave in lengths:
        half = way * wave * side / sum(lengths) / 2.0
        parts += [
            f"c0 {n(half / 2)} {n(x)} {n(half / 2)} {n(x)} {n(half)}"
            for x in (-way * inwards, way * inwards)
        ]
    return "".join(parts)


def _break(centre: float, width: float, length: float) -> Markup:
    """Return the two wavy cuts of a workshop drawing, paper between them."""
    half = width / 2.0 + 4.0
    y = HANG_Y + length * BREAK_SHARE
    wave = f"q{n(half / 2)} -6 {n(half)} 0t{n(half)} 0"
    back = f"q{n(-half / 2)} 6 {n(-half)} 0t{n(-half)} 0"
    gap = f"M{n(centre - half)} {n(y)}{wave}v{n(BREAK_GAP)}{back}z"
    cuts = "".join(f"M{n(centre - half)} {n(edge)}{wave}" for edge in (y, y + BREAK_GAP))
    return Markup('<path class="gap" d="{}"/><path class="thin" d="{}"/>').format(gap, cuts)


def _words(centre: float, foot: float, stick: Drawn) -> Markup:
    told = _("not weighed") if stick.yield_pct is None else f"{stick.yield_pct:.1f} %"
    words = text(centre, foot + 18.0, stick.tag, css="strong", anchor="middle") + text(
        centre, foot + 36.0, told, css="small", anchor="middle"
    )
    if stick.spread_pct is None:
        return words
    spread = _("± {:.1f}").format(stick.spread_pct)
    return words + text(centre, foot + 36.0 + SPREAD_PX, spread, css="small", anchor="middle")


def _scale(x: float, y: float, left_out_mm: float, units: Units) -> Markup:
    long_mm = 20.0
    right = x + PX_PER_MM * long_mm
    words = say_length(long_mm, units).replace(".0 ", " ")
    if left_out_mm:
        words = _("{bar}; {left_out} left out of each middle").format(
            bar=words, left_out=say_length(left_out_mm, units).replace(".0 ", " ")
        )
    return Markup("").join(
        (
            line(x, y, right, y, css="thin"),
            line(x, y - 4, x, y + 4, css="thin"),
            line(right, y - 4, right, y + 4, css="thin"),
            text(right + 8.0, y + 5.0, words, css="small"),
        )
    )


def _summary(groups: Sequence[RailGroup]) -> str:
    told = []
    for group in groups:
        yields = [s.yield_pct for s in group.sticks if s.yield_pct is not None]
        between = (
            _("yield {low:.1f} to {high:.1f} %").format(low=min(yields), high=max(yields))
            if yields
            else _("not weighed")
        )
        told.append(f"{group.title}: {len(group.sticks)} {_('tagged')}, {between}, {group.window}")
    return _("The rail. {groups}.").format(groups="; ".join(told))
