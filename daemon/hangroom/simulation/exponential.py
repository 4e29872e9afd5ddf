"""The exact step of a linear store, in a form that conserves."""

from math import expm1

# Below this the series is more exact than the difference of two numbers near 1.
SMALL_EXPONENT = 1e-4


def exact_step(conductance: float, capacity: float, step_s: float) -> tuple[float, float]:
    """How a surplus (inflow less outflow at the step's start) moves the mean and end of a step.

    For C dx/dt = s - g (x - x_0): with z = g dt / C and M = (1 - e^-z) / z, the mean over the
    step lies (1 - M) s / g above x_0, the end M dt s / C. The end is written with the mean, so
    that inflow less mean outflow is the change, to rounding.
    """
    exponent = conductance * step_s / capacity
    if exponent < SMALL_EXPONENT:
        mean = step_s / capacity * (0.5 - exponent / 6.0)
    else:
        mean = (1.0 + expm1(-exponent) / exponent) / conductance
    return mean, step_s * (1.0 - conductance * mean) / capacity
