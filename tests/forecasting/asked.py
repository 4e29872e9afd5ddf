"""A question and a forecast of it, invented."""

from hangroom.product.forecast import (
    AirPlanned,
    AirSeen,
    Belief,
    Beliefs,
    CurvePoint,
    Forecast,
    Question,
    Remark,
    StickNow,
    TaggedStick,
    Weighing,
)

BELIEFS = Beliefs(
    transfer_kg_per_m2_s_pa=Belief(median=1.6e-8, ln_sd=0.25),
    diffusivity_m2_per_s=Belief(median=6.2e-11, ln_sd=0.35),
)
QUESTION = Question(
    tagged=(TaggedStick(tag="A1", green_weight_g=100.0, hang_weight_g=88.0),),
    sticks_in_group=14,
    target_yield_ratio=0.72,
    water_fraction=0.565,
    diameter_mm=19.0,
    diameter_measured=True,
    scale_sd_g=0.5,
    now_h=24.0,
    air=tuple(
        AirSeen(at_h=0.25 + hour / 2, temperature_c=13.0, humidity_pct=76.0) for hour in range(48)
    ),
    plan=(AirPlanned(from_h=24.0, temperature_c=13.0, humidity_pct=76.0),),
    weighings=(Weighing(at_h=23.0, tag="A1", weight_g=83.0),),
)
FORECAST = Forecast(
    now_h=24.0,
    target_yield_ratio=0.72,
    hung_ratio=0.88,
    yield_ratio=0.825,
    yield_sd_ratio=0.01,
    p10_h=60.0,
    p50_h=80.0,
    p90_h=120.0,
    never_pct=2.0,
    loss_pct_per_day=5.0,
    surface_to_core_ratio=0.7,
    least_surface_to_core_ratio=0.66,
    surface_aw=0.91,
    core_aw=0.94,
    effective_particles=300.0,
    sticks=(StickNow(tag="A1", yield_ratio=0.826, yield_sd_ratio=0.01),),
    curve=(
        CurvePoint(at_h=0.0, low_ratio=0.87, middle_ratio=0.88, high_ratio=0.89),
        CurvePoint(at_h=24.0, low_ratio=0.81, middle_ratio=0.825, high_ratio=0.84),
        CurvePoint(at_h=144.0, low_ratio=0.55, middle_ratio=0.63, high_ratio=0.71),
    ),
    beliefs=BELIEFS,
    remarks=(Remark(code="diameter-nominal", figures={"mm": 19.0}),),
    ms=100.0,
)
