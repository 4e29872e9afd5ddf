"""How far a room keeps off its plan, learned from what its own sensor said.

Measured less planned is taken apart into an offset that stays, a daily wave, and the moisture (or
warmth) of fresh sticks that fades within hours: a ridge regression, which is to say that each of
them is believed small until the air says otherwise. Only the offset is carried on.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from hangroom.forecast.particles import Floats
from hangroom.product.forecast import AirPlanned, AirSeen

DAY_H, FADES_H = 24.0, 5.0
BIN_H = 1.0
# A room needs so long to follow a new setpoint; until then it is not off it. Judgement.
FOLLOWS_WITHIN_H = 3.0
# Farther off no room keeps: it was not yet run by this plan, or does not follow it at all.
BEYOND_SDS = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Off:
    """An offset, measured less planned, and how surely it stays; in %RH or K.

    `beyond`: measured so far off that the plan cannot have been in force; `mean` is 0 then.
    """

    mean: float
    sd: float
    beyond: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Beliefs:
    """Standard deviations before anything was measured, and what the air does of itself.

    `wanders`: of one hour's mean beside all that; neighbours are alike, so that it stands for more
    than a sensor's noise. `stays`: how far the offset itself may move later on.
    """

    offset: float
    daily: float
    fresh: float
    wanders: float
    stays: float


# Judgement: rooms that are kept by a controller, with a sensor's own noise.
HUMIDITY_PCT = Beliefs(offset=1.5, daily=2.0, fresh=8.0, wanders=2.5, stays=0.3)
TEMPERATURE_C = Beliefs(offset=0.5, daily=0.7, fresh=2.0, wanders=0.8, stays=0.1)


def off_plan(
    air: Sequence[AirSeen], plan: Sequence[AirPlanned], *, now_h: float
) -> tuple[Off, Off]:
    """Return the offsets of humidity in %RH and of temperature in K."""
    return (
        _off(air, plan, HUMIDITY_PCT, now_h, lambda each: each.humidity_pct),
        _off(air, plan, TEMPERATURE_C, now_h, lambda each: each.temperature_c),
    )


def _off(
    air: Sequence[AirSeen],
    plan: Sequence[AirPlanned],
    beliefs: Beliefs,
    now_h: float,
    of: Callable[[AirSeen | AirPlanned], float],
) -> Off:
    ordered = sorted(plan, key=lambda each: each.from_h)
    starts_h = [each.from_h for each in ordered]
    known = [
        seen
        for seen in air
        if ordered
        and seen.at_h >= starts_h[0]
        # What was set before hanging is followed already.
        and not any(0.0 < start_h <= seen.at_h < start_h + FOLLOWS_WITHIN_H for start_h in starts_h)
    ]
    if not known:
        return Off(mean=0.0, sd=beliefs.offset)
    at_h = np.array([seen.at_h for seen in known])
    which = np.searchsorted(starts_h, at_h, side="right") - 1
    apart = np.array([of(seen) for seen in known]) - np.array([of(each) for each in ordered])[which]
    hour, at_h, apart = _hourly(at_h, apart)
    columns = np.column_stack(
        [
            np.full(len(hour), beliefs.offset),
            beliefs.daily * np.sin(2.0 * np.pi * at_h / DAY_H),
            beliefs.daily * np.cos(2.0 * np.pi * at_h / DAY_H),
            beliefs.fresh * np.exp(-np.maximum(at_h, 0.0) / FADES_H),
        ]
    )
    # What was long ago tells less of what the room does now.
    noise = beliefs.wanders * np.sqrt(1.0 + (now_h - at_h) / 72.0)
    scaled = columns / noise[:, None]
    precision = np.eye(columns.shape[1]) + scaled.T @ scaled
    weights = np.linalg.solve(precision, scaled.T @ (apart / noise))
    variance = beliefs.offset**2 * float(np.linalg.inv(precision)[0, 0])
    mean = beliefs.offset * float(weights[0])
    if abs(mean) > BEYOND_SDS * beliefs.offset:
        return Off(mean=0.0, sd=2.0 * beliefs.offset, beyond=mean)
    return Off(mean=mean, sd=float(np.sqrt(variance + beliefs.stays**2)))


def _hourly(at_h: Floats, values: Floats) -> tuple[Floats, Floats, Floats]:
    """Hours, mean moments and mean values of each hour that has readings."""
    hour, which, counts = np.unique(np.floor(at_h / BIN_H), return_inverse=True, return_counts=True)
    return (
        hour,
        np.bincount(which, weights=at_h) / counts,
        np.bincount(which, weights=values) / counts,
    )
