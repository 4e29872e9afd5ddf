"""What a room's stages ask for: the keeper's figures, and the usual ones where there are none."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Annotated

from pydantic import Field

from hangroom.product.findings import Source, Standing
from hangroom.settings.base import Number, Percent, Table
from hangroom.terms import (
    LONGEST_STAGE_H,
    HumidityTarget,
    Stage,
    StagePlan,
    TemperatureTarget,
)

SHORTEST_STAGE_H = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class UsualStage:
    """What a stage asks for where the file does not say; what is None is as in the room anyway.

    `moist_pct`: where humidity is wanted at least, as far as the room's limits leave space.
    """

    source: Source
    for_h: float | None = None
    then: Stage | None = None
    moist_pct: float | None = None


_COMMON = Source("", Standing.COMMON_PRACTICE)

USUAL_STAGES = {
    # An hour of moving air dries a casing to the touch.
    Stage.CASING_DRY: UsualStage(for_h=1.0, then=Stage.HANG, source=_COMMON),
    Stage.HANG: UsualStage(source=_COMMON),
    # A night in moist, quiet air lets the water in the middle come out to the dry edge.
    Stage.REST: UsualStage(for_h=12.0, then=Stage.HANG, moist_pct=85.0, source=_COMMON),
    # Sticks that are done lose little more in moist air, until they are pulled.
    Stage.HOLD: UsualStage(moist_pct=80.0, source=_COMMON),
    Stage.EMPTY: UsualStage(source=_COMMON),
}

# Room for the upper edge of a moist stage's band below the room's hard limit.
BELOW_THE_LIMIT_PCT = 1.0


class StageHumidityTable(Table):
    """What a stage asks of humidity, where it differs from the room's own table."""

    setpoint_pct: Percent | None = None
    band_pct: Annotated[Number, Field(ge=0.5, le=20)] | None = None
    low_limit_pct: Percent | None = None
    high_limit_pct: Percent | None = None


class StageTemperatureTable(Table):
    """What a stage asks of temperature, where it differs from the room's own table, degC."""

    setpoint_c: Annotated[Number, Field(ge=-5, le=40)] | None = None
    band_c: Annotated[Number, Field(ge=0.3, le=10)] | None = None
    low_limit_c: Annotated[Number, Field(ge=-10, le=45)] | None = None
    high_limit_c: Annotated[Number, Field(ge=-10, le=45)] | None = None


class StageTable(Table):
    """One stage of a room: how long it lasts, what follows, and what it asks of the air."""

    for_h: Annotated[Number, Field(ge=SHORTEST_STAGE_H, le=LONGEST_STAGE_H)] | None = None
    then: Stage | None = None
    humidity: StageHumidityTable | None = None
    temperature: StageTemperatureTable | None = None


def stage_plans(
    tables: Mapping[Stage, StageTable],
    humidity: HumidityTarget | None,
    temperature: TemperatureTarget | None,
) -> dict[Stage, StagePlan]:
    """Return what every stage asks for, the usual ones where the file does not say."""
    return {
        stage: _stage_plan(usual, tables.get(stage, StageTable()), humidity, temperature)
        for stage, usual in USUAL_STAGES.items()
    }


def stage_faults(
    tables: Mapping[Stage, StageTable], plans: Mapping[Stage, StagePlan]
) -> Iterator[str]:
    """Yield every fault of the file's stages, each with its remedy."""
    for stage, table in tables.items():
        plan, name = plans[stage], f"stage_plan.{stage}"
        if table.then is not None and plan.for_s is None:
            yield f"{name}: then says what follows, but nothing says when; add for_h or remove it"
        for part in ("humidity", "temperature"):
            target = getattr(plan, part)
            if getattr(table, part) is None:
                continue
            if target is None:
                yield f"{name}.{part}: the room has no [{part}] table; add one or remove this"
            elif fault := target.fault():
                yield f"{name}.{part}: {fault}; move the limit outwards, or narrow the band"


def _stage_plan(
    usual: UsualStage,
    table: StageTable,
    humidity: HumidityTarget | None,
    temperature: TemperatureTarget | None,
) -> StagePlan:
    for_h = usual.for_h if table.for_h is None else table.for_h
    if humidity and usual.moist_pct is not None:
        humidity = _moist(humidity, usual.moist_pct)
    if humidity and table.humidity:
        humidity = replace(humidity, **table.humidity.model_dump(exclude_none=True))
    if temperature and table.temperature:
        temperature = replace(temperature, **table.temperature.model_dump(exclude_none=True))
    return StagePlan(
        humidity=humidity,
        temperature=temperature,
        for_s=None if for_h is None else 3600 * for_h,
        then=None if for_h is None else table.then or usual.then or Stage.HANG,
    )


def _moist(target: HumidityTarget, moist_pct: float) -> HumidityTarget:
    highest_pct = target.high_limit_pct - target.band_pct - BELOW_THE_LIMIT_PCT
    return replace(target, setpoint_pct=max(target.setpoint_pct, min(moist_pct, highest_pct)))
