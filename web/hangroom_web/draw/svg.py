"""Small helpers to write SVG as text: rounded numbers, escaped words."""

from collections.abc import Iterable

from markupsafe import Markup


def n(value: float) -> str:
    """Return a coordinate with at most one decimal and no needless zero."""
    rounded = f"{value:.1f}".removesuffix(".0")
    return "0" if rounded == "-0" else rounded


def path(points: Iterable[tuple[float, float]], *, closed: bool = False) -> str:
    """Return path data through points, in whole tenths, each step relative to the one before."""
    parts: list[str] = []
    at_x = at_y = 0
    for x, y in points:
        to_x, to_y = round(x * 10), round(y * 10)
        if not parts:
            parts.append(f"M{_tenths(to_x)} {_tenths(to_y)}l")
        else:
            dy = _tenths(to_y - at_y)
            parts.append(f"{_tenths(to_x - at_x)}{'' if dy.startswith('-') else ' '}{dy} ")
        at_x, at_y = to_x, to_y
    return "".join(parts).rstrip(" l") + ("z" if closed else "")


def text(x: float, y: float, words: str, *, css: str = "", anchor: str = "start") -> Markup:
    """Return a text element."""
    return Markup('<text x="{}" y="{}" class="{}" text-anchor="{}">{}</text>').format(
        n(x), n(y), css, anchor, words
    )


def line(x1: float, y1: float, x2: float, y2: float, *, css: str) -> Markup:
    """Return a line element."""
    return Markup('<path class="{}" d="M{} {}L{} {}"/>').format(css, n(x1), n(y1), n(x2), n(y2))


def rect(x: float, y: float, width: float, height: float, *, css: str) -> Markup:
    """Return a rectangle element."""
    return Markup('<rect class="{}" x="{}" y="{}" width="{}" height="{}"/>').format(
        css, n(x), n(y), n(max(width, 0.0)), n(max(height, 0.0))
    )


def drawing(
    parts: Iterable[Markup], *, width: float, height: float, label: str, css: str = ""
) -> Markup:
    """Return a whole picture with one sentence for those who cannot see it."""
    return Markup(
        '<svg class="{}" viewBox="0 0 {} {}" width="{}" height="{}" role="img" aria-label="{}">'
        "{}</svg>"
    ).format(css, n(width), n(height), n(width), n(height), label, Markup("").join(parts))


def _tenths(value: int) -> str:
    whole, tenth = divmod(abs(value), 10)
    digits = f"{whole}.{tenth}" if tenth else str(whole)
    if whole == 0 and tenth:
        digits = f".{tenth}"
    return f"-{digits}" if value < 0 else digits
