"""What a keeper would do with a ruler: a straight line, and an exponential through all weights.

Both go by the mean yield on green weight of the weighed sticks.
"""

from math import log

import numpy as np
from bench.drying_truth.meat import Floats
from scipy.optimize import least_squares

from hangroom.product.forecast import Question


def mean_yields(question: Question) -> list[tuple[float, float]]:
    """Return hours and mean yield, as hung first."""
    green_g = {stick.tag: stick.green_weight_g for stick in question.tagged}
    points: dict[float, list[float]] = {}
    for stick in question.tagged:
        if stick.hang_weight_g is not None:
            points.setdefault(0.0, []).append(stick.hang_weight_g / stick.green_weight_g)
    for weighing in question.weighings:
        if weighing.weight_g is not None:
            points.setdefault(weighing.at_h, []).append(weighing.weight_g / green_g[weighing.tag])
    return [(at_h, sum(ratios) / len(ratios)) for at_h, ratios in sorted(points.items())]


def straight_line_h(question: Question) -> float | None:
    """Go on from the last two points; None where there are none or the weight does not fall."""
    points = mean_yields(question)
    if len(points) < 2:
        return None
    (first_h, first), (last_h, last) = points[-2:]
    if last >= first:
        return None
    return last_h + (last - question.target_yield_ratio) * (last_h - first_h) / (first - last)


def exponential_h(question: Question) -> float | None:
    """Fit L = L_end (1 - exp(-t / tau)) by least squares; None where it never gets there."""
    points = mean_yields(question)
    if len(points) < 3:
        return None
    hung = points[0][1]
    at_h = np.array([point[0] for point in points[1:]])
    lost = np.array([hung - point[1] for point in points[1:]])
    wanted = hung - question.target_yield_ratio
    rate = max(lost[-1] / at_h[-1], 1e-6)

    def off(logs: Floats) -> Floats:
        end, tau_h = np.exp(logs)
        missed: Floats = end * -np.expm1(-at_h / tau_h) - lost
        return missed

    starts = ([log(0.4), log(0.4 / rate)], [log(0.8), log(0.8 / rate)])
    bounds = ([log(0.01), log(1.0)], [log(5.0), log(1e5)])
    best = min(
        (
            least_squares(off, np.clip(start, *bounds), bounds=bounds, x_scale=0.1)
            for start in starts
        ),
        key=lambda fit: fit.cost,
    )
    end, tau_h = np.exp(best.x)
    if wanted >= end:
        return None
    return float(-tau_h * log(1.0 - wanted / end))
