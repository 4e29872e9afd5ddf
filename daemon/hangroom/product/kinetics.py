"""Palumbo's law of drying: two figures, fitted on early weights, give the later ones."""

import math

from hangroom.product.inputs import require_above_zero, require_within


def _progress_pct(kept_pct: float, final_pct: float) -> float:
    above_pct = kept_pct - final_pct
    return above_pct + 2.0 * final_pct * math.log(above_pct) - final_pct**2 / above_pct


def palumbo_time_h(
    start_pct: float, wanted_pct: float, *, final_pct: float, rate_pct_per_h: float
) -> float | None:
    """Hours from one yield in % to a lower one; None where the law never gets there.

    dx/dt = -k ((x - c) / x)^2, integrated: k t = G(x0) - G(x), G = u + 2 c ln u - c^2 / u with
    u = x - c; c is the yield after endless time. Raises InputError for a start at or below c or
    a rate of 0 or less. Source: Palumbo, Komanowsky, Metzger & Smith 1977, J. Food Sci. 42:1029.
    """
    require_within("the final yield in %", final_pct, 0.0, 100.0)
    require_above_zero("the start's distance from the final yield", start_pct - final_pct)
    require_above_zero("the drying rate in % an hour", rate_pct_per_h)
    require_within("the wanted yield in %", wanted_pct, 0.0, start_pct)
    if wanted_pct <= final_pct:
        return None
    fall_pct = _progress_pct(start_pct, final_pct) - _progress_pct(wanted_pct, final_pct)
    return fall_pct / rate_pct_per_h
