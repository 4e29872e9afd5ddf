"""The air between readings and after the last: averages, gaps, plans and how far a room is off."""

import numpy as np
import pytest
from forecast.asking import PLAN, measured
from scipy.integrate import quad

from hangroom.air import saturation_pressure_fast_pa
from hangroom.forecast.airing import HORIZON_H, past, to_come, usable
from hangroom.forecast.keeping import off_plan
from hangroom.product.forecast import AirPlanned, AirSeen


def swinging(at_h: float) -> tuple[float, float]:
    return 13.0 + 2.0 * np.sin(at_h / 2.0), 74.0 + 8.0 * np.sin(at_h / 3.0 + 1.0)


def test_steps_hold_the_mean_vapour_and_not_the_vapour_of_means() -> None:
    """Readings every three minutes of a known swing; scipy's quadrature is the witness."""
    air = tuple(
        AirSeen(at_h=float(h), temperature_c=swinging(h)[0], humidity_pct=swinging(h)[1])
        for h in np.arange(0.0, 30.0, 0.05)
    )
    steps, remarks = past(air, (), now_h=29.9, looks_h=[24.3])
    assert remarks == ()
    assert 24.3 in steps.edges_h
    for number in (0, 10, len(steps.temperature_c) - 3):
        low, high = steps.edges_h[number], steps.edges_h[number + 1]

        def pressure_pa(at_h: float) -> float:
            return saturation_pressure_fast_pa(swinging(at_h)[0])

        def vapour_pa(at_h: float) -> float:
            return pressure_pa(at_h) * swinging(at_h)[1] / 100.0

        mean_pa = quad(pressure_pa, low, high)[0] / (high - low)
        mean_vapour_pa = quad(vapour_pa, low, high)[0] / (high - low)
        assert steps.saturation_pa[number] == pytest.approx(mean_pa, rel=1e-3)
        assert steps.humidity_ratio[number] == pytest.approx(mean_vapour_pa / mean_pa, rel=1e-3)


def test_only_the_hours_of_a_gap_are_unsure() -> None:
    air = tuple(seen for seen in measured(48.0) if not 20.0 < seen.at_h < 32.0)
    steps, (remark,) = past(air, (), now_h=48.0, looks_h=[])
    assert remark.figures["hours"] == 12.0
    starts_h, ends_h = steps.edges_h[:-1], steps.edges_h[1:]
    inside = (starts_h >= 20.0) & (ends_h <= 32.0)
    assert np.all(steps.unsure_humidity_ratio[inside] == 0.06)
    outside = (ends_h <= 20.0) | (starts_h >= 32.0)
    assert not steps.unsure_humidity_ratio[outside].any()


def test_air_before_the_first_and_after_the_last_reading_is_a_gap_too() -> None:
    air = tuple(seen for seen in measured(30.0) if seen.at_h >= 5.0)
    _, remarks = past(air, (), now_h=40.0, looks_h=[])
    assert [remark.figures["from_h"] for remark in remarks] == [0.0, 30.0]


def test_a_past_of_months_is_stepped_in_bounded_time() -> None:
    steps, _ = past(measured(2000.0, every_h=1.0), (), now_h=2000.0, looks_h=[])
    assert len(steps.temperature_c) < 500
    assert steps.edges_h[-1] == 2000.0


def test_a_plan_changes_when_it_says() -> None:
    plan = (*PLAN, AirPlanned(from_h=84.3, temperature_c=15.0, humidity_pct=68.0))
    steps, _ = to_come((), plan, kept=plan, now_h=50.0)
    assert 84.3 in steps.edges_h
    before = steps.edges_h[:-1] < 84.3
    assert set(steps.humidity_ratio[before]) == {0.75}
    assert set(steps.humidity_ratio[~before]) == {0.68}
    assert set(steps.temperature_c[~before]) == {15.0}
    assert steps.edges_h[-1] == pytest.approx(50.0 + HORIZON_H, abs=4.0)
    assert steps.edges_h[-1] <= 50.0 + HORIZON_H


def noisy(until_h: float, *, off_pct: float, off_k: float, seed: int) -> tuple[AirSeen, ...]:
    """A room off its plan, with a wave over the day and the moisture of fresh sticks."""
    rng = np.random.default_rng(seed)
    at_h = np.arange(0.25, until_h, 0.5)
    wave = np.sin(2.0 * np.pi * at_h / 24.0 + rng.uniform(0.0, 6.3))
    fresh = 10.0 * np.exp(-at_h / 4.0)
    return tuple(
        AirSeen(at_h=float(h), temperature_c=float(t), humidity_pct=float(p))
        for h, t, p in zip(
            at_h,
            13.0 + off_k + 0.6 * wave + rng.normal(0.0, 0.2, len(at_h)),
            75.0 + off_pct - 2.0 * wave + fresh + rng.normal(0.0, 0.5, len(at_h)),
            strict=True,
        )
    )


@pytest.mark.parametrize("off_pct", [-2.5, 0.0, 2.0])
def test_how_far_a_room_keeps_off_its_plan_is_learned(off_pct: float) -> None:
    """Off the plain mean, which the humid start of a batch and half a day's wave would mislead."""
    found = [
        off_plan(noisy(40.0, off_pct=off_pct, off_k=0.4, seed=seed), PLAN, now_h=40.0)
        for seed in range(8)
    ]
    assert np.mean([humidity.mean for humidity, _ in found]) == pytest.approx(off_pct, abs=0.6)
    assert np.mean([temperature.mean for _, temperature in found]) == pytest.approx(0.4, abs=0.15)
    assert all(abs(humidity.mean - off_pct) < 3.0 * humidity.sd for humidity, _ in found)


def test_nothing_is_learned_of_a_plan_that_was_not_in_force() -> None:
    later = (AirPlanned(from_h=60.0, temperature_c=13.0, humidity_pct=60.0),)
    humidity, temperature = off_plan(measured(48.0), later, now_h=48.0)
    assert (humidity.mean, temperature.mean) == (0.0, 0.0)


def test_a_setpoint_just_moved_is_not_taken_for_a_room_that_is_off_it() -> None:
    """Dry air is wanted from hour 46 on; at hour 48 the room is on its way there."""
    moved = (*PLAN, AirPlanned(from_h=46.0, temperature_c=13.0, humidity_pct=60.0))
    humidity, _ = off_plan(measured(48.0), moved, now_h=48.0)
    assert abs(humidity.mean) < 0.5


def test_a_plan_that_cannot_have_been_in_force_is_taken_from_now_on_with_a_remark() -> None:
    """Measured 75 %RH, planned 62: a plan for the time to come, or a room that does not follow."""
    dry = (AirPlanned(from_h=0.0, temperature_c=13.0, humidity_pct=62.0),)
    steps, (remark,) = to_come(measured(48.0), dry, kept=dry, now_h=48.0)
    assert set(steps.humidity_ratio) == {0.62}
    assert remark.code == "air-off-plan"
    measured_pct = remark.figures["humidity_pct"]
    assert isinstance(measured_pct, float)
    assert measured_pct == pytest.approx(75.0, abs=1.5)
    assert remark.figures["planned_pct"] == 62.0


def test_a_room_that_keeps_off_is_expected_to_go_on_so() -> None:
    air = noisy(48.0, off_pct=-2.0, off_k=0.0, seed=1)
    kept, _ = to_come(air, PLAN, kept=PLAN, now_h=48.0)
    assert kept.humidity_ratio[0] == pytest.approx(0.73, abs=0.008)


def test_readings_come_in_any_order() -> None:
    air = measured(30.0)
    assert usable(reversed(air), now_h=30.0) == usable(air, now_h=30.0)
    assert usable(air, now_h=10.0)[-1].at_h <= 10.0
