"""What a group is made of over its yield: water, moisture:protein, and water activity as a range.

Drying runs from left to right. Three strips share one axis; where there is no estimate of water
activity the strip is hatched, not bridged.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil, floor

from markupsafe import Markup

from hangroom_web.draw.svg import drawing, line, n, path, text
from hangroom_web.words import _

LEFT, RIGHT, WIDTH = 34.0, 330.0, 336.0
TOP, STRIP, BETWEEN = 40.0, 56.0, 26.0
# Marks nearer than this have their words one above the other.
WORDS_PX = 96.0
# The strip of water activity reaches at least down to the first.
LEAST_AW, MOST_AW = 0.90, 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class AtYield:
    """The makeup at one yield on green weight, %; `aw` is a range, None where there is none."""

    yield_pct: float
    water_pct: float
    moisture_protein_ratio: float | None
    aw: tuple[float, float] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Axis:
    """Where a figure of one strip lies, and what its ends are called."""

    words: str
    css: str
    top: float
    low: float
    high: float
    form: str

    def y(self, figure: float) -> float:
        """Return the height of a figure, px."""
        return self.top + STRIP * (self.high - figure) / (self.high - self.low)


def draw_composition(
    along: Sequence[AtYield], *, now: AtYield | None, target: AtYield, title: str
) -> Markup:
    """Return the picture; `along` runs from the green batch down, `title` tells it from others."""
    first_pct, last_pct = along[0].yield_pct, along[-1].yield_pct

    def x(yield_pct: float) -> float:
        share = (first_pct - yield_pct) / max(first_pct - last_pct, 1.0)
        return LEFT + (RIGHT - LEFT) * min(1.0, max(0.0, share))

    water, ratio, aw = _axes(along)
    foot = aw.top + STRIP
    parts = [
        _hatch_pattern(title),
        *_grid(first_pct, last_pct, x, foot),
        *(_frame(axis) for axis in (water, ratio, aw)),
        _curve([(x(p.yield_pct), water.y(p.water_pct)) for p in along], "h"),
        _curve(
            [
                (x(p.yield_pct), ratio.y(p.moisture_protein_ratio))
                for p in along
                if p.moisture_protein_ratio is not None
            ],
            "t",
        ),
        *_aw_band(along, x, aw, title),
    ]
    marks = [(target, "target", "y-word", _("target {pct:.1f} %"))]
    if now is not None:
        marks.insert(0, (now, "today", "", _("now {pct:.1f} %")))
    for place, (at, css, word, said) in enumerate(marks):
        px = x(at.yield_pct)
        parts.append(line(px, TOP - 12.0, px, foot + 4.0, css=css))
        parts.append(_said(px, place, said.format(pct=at.yield_pct), word))
        parts.append(_dot(px, water.y(at.water_pct)))
        if at.moisture_protein_ratio is not None:
            parts.append(_dot(px, ratio.y(at.moisture_protein_ratio)))
    parts.append(text(RIGHT, foot + 34.0, _("yield, % of green weight"), css="small", anchor="end"))
    return drawing(
        parts,
        width=WIDTH,
        height=foot + 40.0,
        label=_label(along, now=now, target=target),
        css="yields",
    )


def _axes(along: Sequence[AtYield]) -> tuple[_Axis, _Axis, _Axis]:
    waters = [p.water_pct for p in along]
    ratios = [p.moisture_protein_ratio for p in along if p.moisture_protein_ratio is not None]
    lowest_aw = min([LEAST_AW, *(p.aw[0] for p in along if p.aw)])
    tops = [TOP + place * (STRIP + BETWEEN) + 12.0 for place in range(3)]
    return (
        _Axis(
            words=_("Water, % of weight"),
            css="h-word",
            top=tops[0],
            low=10.0 * floor(min(waters) / 10.0),
            high=10.0 * ceil(max(waters) / 10.0),
            form="{:g}",
        ),
        _Axis(
            words=_("Moisture:protein"),
            css="t-word",
            top=tops[1],
            low=0.0,
            high=float(ceil(max(ratios, default=1.0))),
            form="{:g}",
        ),
        _Axis(
            words=_("Water activity, estimated range"),
            css="y-word",
            top=tops[2],
            low=0.05 * floor(lowest_aw / 0.05),
            high=MOST_AW,
            form="{:.2f}",
        ),
    )


def _frame(axis: _Axis) -> Markup:
    foot = axis.top + STRIP
    return Markup("").join(
        (
            line(LEFT, axis.top, RIGHT, axis.top, css="rule"),
            line(LEFT, foot, RIGHT, foot, css="rule"),
            text(LEFT, axis.top - 6.0, axis.words, css=f"small halo {axis.css}"),
            text(
                LEFT - 5.0, axis.top + 5.0, axis.form.format(axis.high), css="small", anchor="end"
            ),
            text(LEFT - 5.0, foot + 4.0, axis.form.format(axis.low), css="small", anchor="end"),
        )
    )


def _grid(
    first_pct: float, last_pct: float, x: Callable[[float], float], foot: float
) -> list[Markup]:
    parts = []
    for pct in range(10 * ceil(last_pct / 10.0), round(first_pct) + 1, 10):
        place = x(pct)
        parts.append(line(place, TOP, place, foot + 4.0, css="rule"))
        anchor = "middle" if place < RIGHT - 8.0 else "end"
        parts.append(text(place, foot + 17.0, str(pct), css="small", anchor=anchor))
    return parts


def _curve(points: Sequence[tuple[float, float]], css: str) -> Markup:
    return Markup('<path class="trace {}" d="{}"/>').format(css, path(points))


def _aw_band(
    along: Sequence[AtYield], x: Callable[[float], float], axis: _Axis, title: str
) -> list[Markup]:
    """Return the range where there is one, and hatching over the rest."""
    known = [(p.yield_pct, p.aw) for p in along if p.aw is not None]
    foot = axis.top + STRIP
    if not known:
        return [_hatched(LEFT, RIGHT, axis.top, title)]
    left, right = x(known[0][0]), x(known[-1][0])
    upper = [(x(pct), axis.y(aw[1])) for pct, aw in known]
    lower = [(x(pct), axis.y(aw[0])) for pct, aw in known]
    parts = [
        Markup('<path class="range" d="{}"/>').format(path([*upper, *reversed(lower)], closed=True))
    ]
    parts += [
        _hatched(a, b, axis.top, title) for a, b in ((LEFT, left), (right, RIGHT)) if b - a > 1.0
    ]
    parts.append(line(left, axis.top, left, foot, css="rule"))
    return parts


def _hatch_pattern(title: str) -> Markup:
    return Markup(
        '<defs><pattern id="unknown-{}" width="6" height="6" patternUnits="userSpaceOnUse">'
        '<path class="hatch" d="M-1 7L7-1M-1 1L1-1M5 7L7 5"/></pattern></defs>'
    ).format(title)


def _hatched(left: float, right: float, top: float, title: str) -> Markup:
    words = Markup("")
    if right - left > WORDS_PX:
        words = text(
            (left + right) / 2.0,
            top + STRIP / 2.0 + 4.0,
            _("no estimate"),
            css="small halo",
            anchor="middle",
        )
    return Markup('<rect fill="url(#unknown-{})" x="{}" y="{}" width="{}" height="{}"/>{}').format(
        title, n(left), n(top), n(right - left), n(STRIP), words
    )


def _said(px: float, place: int, words: str, css: str) -> Markup:
    """Return the words of a mark, on its own line, on the side where there is room."""
    room_right = px + WORDS_PX < RIGHT
    return text(
        px + (4.0 if room_right else -4.0),
        14.0 + 16.0 * place,
        words,
        css=f"small halo {css}",
        anchor="start" if room_right else "end",
    )


def _dot(px: float, py: float) -> Markup:
    return Markup('<circle class="bar" cx="{}" cy="{}" r="3.5"/>').format(n(px), n(py))


def _label(along: Sequence[AtYield], *, now: AtYield | None, target: AtYield) -> str:
    said = [_say("target", target)] if now is None else [_say("now", now), _say("target", target)]
    return _("Makeup while it dries, from {first:g} to {last:g} % of green weight. {said}.").format(
        first=along[0].yield_pct, last=along[-1].yield_pct, said="; ".join(said)
    )


def _say(mark: str, at: AtYield) -> str:
    words = _("{mark} {pct:.1f} %: water {water:.1f} %").format(
        mark=mark, pct=at.yield_pct, water=at.water_pct
    )
    if at.moisture_protein_ratio is not None:
        words += _(", moisture:protein {ratio:.2f}").format(ratio=at.moisture_protein_ratio)
    if at.aw is None:
        return words + _(", no estimate of water activity")
    return words + _(", water activity estimated {low:.2f} to {high:.2f}").format(
        low=at.aw[0], high=at.aw[1]
    )
