"""The temperature inside a stick over time, with the hold that a table counts marked on it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import ceil, floor
from zoneinfo import ZoneInfo

from markupsafe import Markup

from hangroom.units import Units, temperature_shown
from hangroom_web.dates import say_clock
from hangroom_web.draw.svg import drawing, line, n, path, rect, text
from hangroom_web.words import _

LEFT, RIGHT, WIDTH = 34.0, 330.0, 336.0
TOP, HEIGHT = 24.0, 120.0
# Readings further apart than this are not joined: nothing is known between them.
BREAK = timedelta(minutes=10)
# Labels of time nearer than this would touch.
LABEL_PX = 48.0
STEPS_MIN = (1, 2, 5, 10, 15, 30, 60, 120, 240, 480, 1440)


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """A stay at or above a table's row, from its first reading to its last."""

    row_c: float
    from_at: datetime
    to_at: datetime
    said: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """A temperature worth a line across, degC, and its words."""

    temperature_c: float
    said: str


def draw_series(
    points: Sequence[tuple[datetime, float]],
    *,
    held: Held | None = None,
    levels: Sequence[Level] = (),
    label: str,
    units: Units,
    zone: ZoneInfo,
) -> Markup:
    """Return the picture of readings in degC, oldest first; '' where there is none."""
    if not points:
        return Markup("")
    since, until = points[0][0], max(points[-1][0], points[0][0] + timedelta(minutes=1))
    shown = [temperature_shown(t_c, units) for _at, t_c in points]
    shown += [temperature_shown(level.temperature_c, units) for level in levels]
    low, high = 10.0 * floor(min(shown) / 10.0), 10.0 * ceil((max(shown) + 0.1) / 10.0)

    def x(at: datetime) -> float:
        return LEFT + (RIGHT - LEFT) * float((at - since) / (until - since))

    def y(temperature_c: float) -> float:
        figure = temperature_shown(temperature_c, units)
        return TOP + HEIGHT * (high - figure) / (high - low)

    foot = TOP + HEIGHT
    parts = [
        text(LEFT, 12.0, _("Inside the stick, °{}").format(units.temperature), css="small t-word"),
        line(LEFT, TOP, RIGHT, TOP, css="rule"),
        line(LEFT, foot, RIGHT, foot, css="thin"),
        text(LEFT - 5.0, TOP + 5.0, f"{high:g}", css="small", anchor="end"),
        text(LEFT - 5.0, foot + 4.0, f"{low:g}", css="small", anchor="end"),
        *_times(since, until, zone, x),
    ]
    for level in levels:
        at_y = y(level.temperature_c)
        parts.append(line(LEFT, at_y, RIGHT, at_y, css="limit"))
        parts.append(text(RIGHT, at_y - 4.0, level.said, css="small halo", anchor="end"))
    if held is not None:
        left, right, row = x(held.from_at), x(held.to_at), y(held.row_c)
        parts.append(rect(left, TOP, max(right - left, 2.0), HEIGHT, css="held"))
        parts.append(line(LEFT, row, RIGHT, row, css="target"))
        # Above its line, or below where it would run into the top.
        words_y = row - 5.0 if row > TOP + 16.0 else row + 15.0
        parts.append(text(LEFT + 4.0, words_y, held.said, css="small y-word halo"))
    for stretch in _stretches(points):
        dots = [(x(at), y(t_c)) for at, t_c in stretch]
        parts.append(Markup('<path class="trace t" d="{}"/>').format(path(dots)))
        if len(points) <= 40:  # noqa: PLR2004 - more dots than that are a thick line
            parts.extend(
                Markup('<circle class="reading" cx="{}" cy="{}" r="2.2"/>').format(n(px), n(py))
                for px, py in dots
            )
    return drawing(parts, width=WIDTH, height=foot + 22.0, label=label, css="yields")


def _stretches(
    points: Sequence[tuple[datetime, float]],
) -> list[list[tuple[datetime, float]]]:
    stretches: list[list[tuple[datetime, float]]] = []
    for point in points:
        if stretches and point[0] - stretches[-1][-1][0] <= BREAK:
            stretches[-1].append(point)
        else:
            stretches.append([point])
    return stretches


def _times(
    since: datetime, until: datetime, zone: ZoneInfo, x: Callable[[datetime], float]
) -> list[Markup]:
    """Return marks at round local times, as close as their words allow."""
    long_min = (until - since) / timedelta(minutes=1)
    most = (RIGHT - LEFT) / LABEL_PX
    step_min = next((step for step in STEPS_MIN if long_min / step <= most), STEPS_MIN[-1])
    at = since.astimezone(zone).replace(hour=0, minute=0, second=0, microsecond=0)
    at += timedelta(minutes=step_min) * ceil((since - at) / timedelta(minutes=step_min))
    parts, foot = [], TOP + HEIGHT
    while at <= until:
        parts.append(line(x(at), TOP, x(at), foot + 4.0, css="rule"))
        if x(at) < RIGHT - 14.0:
            parts.append(
                text(x(at), foot + 17.0, say_clock(at, zone), css="small", anchor="middle")
            )
        at += timedelta(minutes=step_min)
    return parts
