"""What the daemon has foretold of the invented household, as far as a test says so."""

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from web.scenario import HUNG_AT, Scene

from hangroom.product.forecast import (
    AirPlanned,
    Belief,
    Beliefs,
    CurvePoint,
    Forecast,
    Remark,
    StickNow,
)
from hangroom.store.database import connect
from hangroom.store.forecasts import Cause, Failure, KeptForecast, keep_failure, keep_forecast

# Group A of batch 1, hung on Tuesday 24 November at 09:00 in New York; now is Thursday 09:52.
NOW_H = 48.5
BELIEFS = Beliefs(
    transfer_kg_per_m2_s_pa=Belief(median=1.8e-8, ln_sd=0.25),
    diffusivity_m2_per_s=Belief(median=6.5e-11, ln_sd=0.45),
)
FORECAST = Forecast(
    now_h=NOW_H,
    target_yield_ratio=0.72,
    hung_ratio=0.88,
    yield_ratio=0.790,
    yield_sd_ratio=0.010,
    p10_h=64.0,
    p50_h=77.0,
    p90_h=96.0,
    never_pct=3.0,
    loss_pct_per_day=5.14,
    surface_to_core_ratio=0.70,
    least_surface_to_core_ratio=0.67,
    surface_aw=0.91,
    core_aw=0.94,
    effective_particles=300.0,
    sticks=tuple(
        StickNow(tag=tag, yield_ratio=0.788 + 0.002 * place, yield_sd_ratio=0.01)
        for place, tag in enumerate(("A1", "A2", "A3"))
    ),
    curve=(
        CurvePoint(at_h=0.0, low_ratio=0.87, middle_ratio=0.88, high_ratio=0.89),
        CurvePoint(at_h=48.5, low_ratio=0.777, middle_ratio=0.79, high_ratio=0.803),
        CurvePoint(at_h=98.5, low_ratio=0.64, middle_ratio=0.69, high_ratio=0.73),
    ),
    beliefs=BELIEFS,
    remarks=(Remark(code="no-plan"),),
    ms=100.0,
)
MADE_AT = HUNG_AT + timedelta(hours=NOW_H)


def store(scene: Scene, forecast: Forecast = FORECAST, number: int = 1, **other: Any) -> None:  # noqa: ANN401 - whatever it holds
    kept = KeptForecast(
        made_at=MADE_AT,
        cause=Cause.HOURLY,
        hung_at=HUNG_AT,
        room="closet",
        recipe="juniper",
        diameter_mm=20.0,
        plan=(AirPlanned(from_h=NOW_H, temperature_c=13.1, humidity_pct=76.0),),
        before=None,
        weighings=1,
        forecast=forecast,
    )
    db = connect(scene.path)
    keep_forecast(db, number, replace(kept, **other))
    db.close()


def fail(scene: Scene, why: str, at: datetime) -> None:
    db = connect(scene.path)
    keep_failure(db, 1, Failure(at=at, cause=Cause.HOURLY, why=why))
    db.close()


def foretell(scene: Scene) -> None:
    """Store a forecast of both groups of batch 1: a usual one, and one to be acted on today."""
    store(scene)
    of_b = replace(
        FORECAST,
        target_yield_ratio=0.60,
        p10_h=130.0,
        p50_h=190.0,
        p90_h=None,
        never_pct=22.0,
        surface_to_core_ratio=0.46,
        sticks=tuple(
            StickNow(tag=tag, yield_ratio=0.79, yield_sd_ratio=0.012) for tag in ("B1", "B2", "B3")
        ),
    )
    store(scene, of_b, number=2)
