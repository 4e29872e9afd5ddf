"""Published growth/no-growth equations, as warnings only.

They hold for vacuum packs at 21 degC, their cut-off for "no growth" was not readable, and the one
for S. aureus over-warns near pH 6. So they may raise a doubt and never settle one.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

from hangroom.product.findings import Answer, Finding, Source, Standing
from hangroom.product.inputs import require_within

_STAPHYLOCOCCUS_SOURCE = Source(
    "Borneman, Ingham & Ané 2009, J. Food Prot. 72: S. aureus, vacuum packs, 21 °C (abstract)",
    Standing.SEEN,
)
_LISTERIA_SOURCE = Source(
    "Ingham, Borneman, Ané & Ingham 2010, J. Food Prot. 73:708: L. monocytogenes, vacuum packs,"
    " 21 °C (abstract)",
    Standing.SEEN,
)


def _probability(logit: float) -> float:
    return 1.0 / (1.0 + math.exp(-logit))


def _check(ph: float, aw: float) -> None:
    require_within("the pH", ph, 3.0, 8.0)
    require_within("the water activity", aw, 0.5, 1.0)


def staphylococcus_growth_ratio(ph: float, aw: float) -> float:
    """Probability, 0 to 1, that S. aureus grows; raises InputError outside pH 3-8, aw 0.5-1."""
    _check(ph, aw)
    return _probability(-59.36 + 5.75 * ph + 28.73 * aw)


def listeria_growth_ratio(ph: float, aw: float) -> float:
    """Probability, 0 to 1, that L. monocytogenes grows; InputError outside pH 3-8, aw 0.5-1."""
    _check(ph, aw)
    return _probability(-59.58 + 4.67 * ph + 35.05 * aw)


@dataclass(frozen=True, slots=True)
class _Equation:
    organism: str
    growth_ratio: Callable[[float, float], float]
    source: Source


_EQUATIONS = (
    _Equation("S. aureus", staphylococcus_growth_ratio, _STAPHYLOCOCCUS_SOURCE),
    _Equation("L. monocytogenes", listeria_growth_ratio, _LISTERIA_SOURCE),
)
# One chance in twenty; the papers' own cut-off was not readable.
WARN_FROM_RATIO = 0.05


def growth_warnings(measured_ph: float, measured_aw: float) -> tuple[Finding, ...]:
    """Warn of each organism whose equation gives 0.05 or more; an empty tuple clears nothing.

    Takes measured values only. Raises InputError outside pH 3-8, aw 0.5-1.
    """
    warnings = []
    for equation in _EQUATIONS:
        growth_ratio = equation.growth_ratio(measured_ph, measured_aw)
        if growth_ratio >= WARN_FROM_RATIO:
            warnings.append(
                Finding(
                    answer=Answer.NOT_SHOWN,
                    what=f"no growth of {equation.organism} at room temperature",
                    because=(
                        f"At pH {measured_ph:.1f} and water activity {measured_aw:.2f} the equation"
                        f" gives growth a probability of {growth_ratio:.2f}. It holds for vacuum"
                        " packs at 21 °C and can warn, not clear."
                    ),
                    source=equation.source,
                    would_settle=(
                        "A lower measured pH or water activity; until then keep the sticks at"
                        " 41 °F (5 °C) or colder."
                    ),
                )
            )
    return tuple(warnings)
