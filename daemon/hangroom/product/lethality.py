"""Integrated lethality: heat summed over a whole cook, shown as information and never as a check.

Crediting the way up and down is a process authority's calculation, not the published table.
"""

import itertools
from collections.abc import Iterable

from hangroom.product.inputs import require_above_zero
from hangroom.product.temperatures import Point, in_order


def equivalent_holds_s(points: Iterable[Point], *, reference_c: float, z_k: float) -> list[float]:
    """Running seconds at the reference temperature with the same effect, one per reading.

    F = sum of dt x (10^((T1 - Tref)/z) + 10^((T0 - Tref)/z)) / 2, the trapezoid; `z_k` is the
    rise that speeds killing tenfold. Raises InputError for z of 0 or less or readings out of order.
    """
    require_above_zero("z in kelvin", z_k)
    series = in_order(points)
    rates = [10.0 ** ((point.temperature_c - reference_c) / z_k) for point in series]
    steps_s = (
        (later.at_s - earlier.at_s) * (rate_before + rate_after) / 2.0
        for (earlier, later), (rate_before, rate_after) in zip(
            itertools.pairwise(series), itertools.pairwise(rates), strict=True
        )
    )
    return list(itertools.accumulate(steps_s, initial=0.0)) if series else []
