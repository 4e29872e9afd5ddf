"""A product's temperature over time, and what can be said from readings with gaps between them.

Nothing is interpolated. Between two readings the product may have crossed a temperature at any
moment, so a duration comes as the shortest and the longest it can have been.
"""

import itertools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from hangroom.errors import InputError


def fahrenheit(temperature_c: float) -> float:
    """Exact conversion of degC to degF, the rounding of floats taken off again."""
    return round(temperature_c * 9.0 / 5.0 + 32.0, 6)


def celsius(temperature_f: float) -> float:
    """Exact conversion of degF to degC."""
    return (temperature_f - 32.0) * 5.0 / 9.0


def in_both(temperature_f: float) -> str:
    """A published limit as text, in degF as printed and in degC."""
    return f"{temperature_f:g} °F ({celsius(temperature_f):.1f} °C)"


@dataclass(frozen=True, slots=True)
class Point:
    """One reading: seconds since any fixed moment, and degC at the product's coldest place."""

    at_s: float
    temperature_c: float


def in_order(points: Iterable[Point]) -> tuple[Point, ...]:
    """Return the readings as they are; raises InputError for no number, or one not later.

    They are not sorted: a series out of order is a slip to be looked at, such as two probes mixed.
    """
    series = tuple(points)
    for number, point in enumerate(series, start=1):
        if not (math.isfinite(point.at_s) and math.isfinite(point.temperature_c)):
            raise InputError(
                f"Reading {number} is not a number. Leave it out; a missing reading is no reading."
            )
    for number, (earlier, later) in enumerate(itertools.pairwise(series), start=2):
        if later.at_s <= earlier.at_s:
            raise InputError(
                f"Reading {number} was taken at {later.at_s:g} s, not after the one before it at"
                f" {earlier.at_s:g} s. Put the series in order; if two probes are mixed, enter each"
                " by itself and judge the coldest."
            )
    return series


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A duration between the shortest and the longest that the readings allow, s."""

    shortest_s: float
    longest_s: float


def holds_at(series: Sequence[Point], row_f: float, longest_gap_s: float) -> list[Span]:
    """Each unbroken stay at or above a temperature: shown by readings, and possible around them.

    Shown: from the first to the last reading of the stay, broken where readings lie further apart
    than the gap. Possible: out to the cooler readings on either side; endless where there is none.
    """
    stays = []
    hot = [fahrenheit(point.temperature_c) >= row_f for point in series]
    for is_hot, run in itertools.groupby(range(len(series)), key=hot.__getitem__):
        if not is_hot:
            continue
        stay = list(run)
        before_s = series[stay[0] - 1].at_s if stay[0] > 0 else -math.inf
        after_s = series[stay[-1] + 1].at_s if stay[-1] + 1 < len(series) else math.inf
        shown_s = longest_s = 0.0
        for earlier, later in itertools.pairwise(stay):
            step_s = series[later].at_s - series[earlier].at_s
            shown_s = shown_s + step_s if step_s <= longest_gap_s else 0.0
            longest_s = max(longest_s, shown_s)
        stays.append(Span(shortest_s=longest_s, longest_s=after_s - before_s))
    return stays


def cooling_span(series: Sequence[Point], from_f: float, to_f: float) -> Span | None:
    """Time from leaving one temperature downwards to staying at or below a lower one.

    `longest_s` is endless where the lower one was not shown to be reached or the upper one was
    left before the first reading; None without any reading below the upper temperature.
    """
    heat_f = [fahrenheit(point.temperature_c) for point in series]
    left = next((i for i, now_f in enumerate(heat_f) if now_f < from_f), None)
    if left is None:
        return None
    left_earliest_s = series[left - 1].at_s if left > 0 else -math.inf
    last_above = max((i for i, now_f in enumerate(heat_f) if now_f > to_f), default=-1)
    reached_earliest_s = series[last_above].at_s if last_above >= 0 else -math.inf
    reached_latest_s = series[last_above + 1].at_s if last_above + 1 < len(series) else math.inf
    return Span(
        shortest_s=max(0.0, reached_earliest_s - series[left].at_s),
        longest_s=reached_latest_s - left_earliest_s,
    )
