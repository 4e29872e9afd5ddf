"""Where a room's air counts as too cold or too warm for what hangs in it: the alarms' figures."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Annotated

from pydantic import Field

from hangroom.product.findings import Source, Standing
from hangroom.product.storage import COLD_F, STAPHYLOCOCCUS_WARM_F
from hangroom.product.temperatures import celsius
from hangroom.settings.base import Number, Table
from hangroom.terms import TemperatureLimits, TemperatureTarget


@dataclass(frozen=True, slots=True, kw_only=True)
class PublishedLimit:
    """A limit with where it comes from, degC."""

    limit_c: float
    source: Source


COLD_HOLDING = PublishedLimit(
    limit_c=celsius(COLD_F),
    source=Source("FDA Food Code 3-501.16, cold holding at 41 °F or less", Standing.MEMORY),
)
WARM_HANGING = PublishedLimit(
    limit_c=celsius(STAPHYLOCOCCUS_WARM_F),
    source=Source(
        "trade handbook: Staphylococcus aureus grows markedly faster above 60 °F",
        Standing.SECOND_HAND,
    ),
)
FREEZING = PublishedLimit(
    limit_c=0.0,
    source=Source("water freezes; salted meat a little below", Standing.JUDGEMENT),
)


class FoodLimitsTable(Table):
    """The keeper's own limits for the temperature alarms, degC."""

    low_c: Annotated[Number, Field(ge=-10, le=45)] | None = None
    high_c: Annotated[Number, Field(ge=-10, le=45)] | None = None


def temperature_limits(
    table: FoodLimitsTable, target: TemperatureTarget | None, *, cooled: bool
) -> TemperatureLimits:
    """Return the keeper's limits, or the published ones for a room of this kind.

    A cooled room that is asked to hang sticks warmer than cold holding is no cold store; the
    warmer figure holds for it, or its alarm would stand from the first day to the last.
    """
    stores_cold = cooled and target is not None and target.setpoint_c <= COLD_HOLDING.limit_c
    high = COLD_HOLDING if stores_cold else WARM_HANGING
    return TemperatureLimits(
        low_c=FREEZING.limit_c if table.low_c is None else table.low_c,
        high_c=high.limit_c if table.high_c is None else table.high_c,
    )


def food_limit_faults(
    table: FoodLimitsTable, limits: TemperatureLimits, asked_for: Iterable[TemperatureTarget | None]
) -> Iterator[str]:
    """Yield what is wrong with the keeper's own limits, each with its remedy."""
    if not limits.low_c < limits.high_c:
        yield (
            f"food_limits: low_c ({limits.low_c:g}) must lie below high_c ({limits.high_c:g}); "
            "lower one or raise the other"
        )
    wanted = {target for target in asked_for if target is not None}
    warmest_c = max((target.setpoint_c + target.band_c for target in wanted), default=None)
    if table.high_c is not None and warmest_c is not None and table.high_c < warmest_c:
        yield (
            f"food_limits: high_c ({table.high_c:g}) lies below what a stage is asked to reach "
            f"({warmest_c:g}), so its alarm would stand; raise it, or lower that setpoint"
        )
    coldest_c = min((target.setpoint_c - target.band_c for target in wanted), default=None)
    if table.low_c is not None and coldest_c is not None and table.low_c > coldest_c:
        yield (
            f"food_limits: low_c ({table.low_c:g}) lies above what a stage is asked to reach "
            f"({coldest_c:g}), so its alarm would stand; lower it, or raise that setpoint"
        )
