"""Learned doses, on plants whose answer is known in closed form.

On a linear plant a dose of p seconds moves humidity by a p, so that the right one is p* = way / a.
Scaling by (way / moved)^k then gives ln(p_next / p*) = (1 - k) ln(p / p*): the error, as a ratio,
shrinks by the same power with every dose. With k = 0.6 that is 0.4.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime
from itertools import pairwise
from math import log

import pytest

from hangroom.control.dosing import (
    DoseMemory,
    first_dose,
    learned,
    watched,
)
from hangroom.control.memory import starting_state
from hangroom.control.room import decide
from hangroom.terms import AirReading, HumidityTarget, RelayKind, RelayRules, RoomPlan, Stage

AIM_PCT, BEFORE_PCT = 76.0, 74.0
WAY_PCT = AIM_PCT - BEFORE_PCT
TICK_S = 2.0
SETTLE_S = 120.0
RULES = RelayRules(min_on_s=2, min_off_s=60, max_run_s=120)
HUMIDITY = HumidityTarget(setpoint_pct=75, band_pct=2.5, low_limit_pct=50, high_limit_pct=92)


def after_one(pulse_s: float, plant: Callable[[float], float]) -> float:
    """Return the dose after one look at what a plant made of the last."""
    dose = DoseMemory(pulse_s=pulse_s, before_pct=BEFORE_PCT)
    dose = watched(dose, seen_pct=BEFORE_PCT + plant(pulse_s), raises=True)
    return learned(dose, aim_pct=AIM_PCT, shortest_s=2.0, longest_s=120.0).pulse_s


@pytest.mark.parametrize("a_pct_per_s", [0.05, 0.2, 0.65])
@pytest.mark.parametrize("first_ratio", [0.35, 0.8, 1.0, 1.5, 3.0])
def test_on_a_linear_plant_the_error_shrinks_by_the_same_power_with_every_dose(
    a_pct_per_s: float, first_ratio: float
) -> None:
    right_s = WAY_PCT / a_pct_per_s
    pulse_s = right_s * first_ratio
    for _ in range(6):
        error = log(pulse_s / right_s)
        pulse_s = after_one(pulse_s, lambda s: a_pct_per_s * s)
        if 2.0 < pulse_s < 120.0:
            assert log(pulse_s / right_s) == pytest.approx(0.4 * error, abs=1e-9)
    assert pulse_s == pytest.approx(max(2.0, right_s), rel=0.01)


def test_while_an_empty_tank_lasts_a_dose_grows_to_twice_what_has_worked_and_no_further() -> None:
    """Else the first dose after the refill, at its longest by then, floods the room."""
    dose = DoseMemory(pulse_s=10.0)
    effects_pct = [WAY_PCT, *[0.0] * 6]  # one dose that worked, then none
    for moved_pct in effects_pct:
        dose = replace(dose, before_pct=BEFORE_PCT, moved_pct=moved_pct)
        dose = learned(dose, aim_pct=AIM_PCT, shortest_s=2.0, longest_s=120.0)
    assert dose.pulse_s == 20.0


def test_one_look_changes_a_dose_at_most_by_a_factor_of_two() -> None:
    assert after_one(20.0, lambda _: 0.0) == 40.0
    assert after_one(20.0, lambda _: 50.0) == 10.0
    assert after_one(20.0, lambda _: -5.0) == 40.0  # a door was opened


def test_no_dose_leaves_the_relay_s_own_bounds() -> None:
    assert after_one(3.0, lambda _: 50.0) == 2.0
    assert after_one(100.0, lambda _: 0.0) == 120.0


def test_a_first_dose_is_small_but_never_shorter_than_the_relay_may_run() -> None:
    assert first_dose(RULES).pulse_s == 6.0
    assert first_dose(RelayRules(min_on_s=30, min_off_s=60)).pulse_s == 30.0


def test_a_dose_is_judged_once() -> None:
    once = learned(
        DoseMemory(pulse_s=10, before_pct=BEFORE_PCT, moved_pct=0.5),
        aim_pct=AIM_PCT,
        shortest_s=2,
        longest_s=120,
    )
    assert learned(once, aim_pct=AIM_PCT, shortest_s=2, longest_s=120) == once


def test_a_leaky_plant_is_judged_at_its_peak() -> None:
    # Humidity is back where it was by the time the dose has settled: at its end nothing is left.
    dose = DoseMemory(pulse_s=10, before_pct=BEFORE_PCT)
    for seen_pct in (74.5, 75.4, 76.0, 75.1, 74.2, 73.8):
        dose = watched(dose, seen_pct=seen_pct, raises=True)
    assert dose.moved_pct == pytest.approx(WAY_PCT)
    judged = learned(dose, aim_pct=AIM_PCT, shortest_s=2, longest_s=120)
    assert judged.pulse_s == pytest.approx(10.0)


def test_a_drying_dose_is_judged_by_how_far_it_fell() -> None:
    dose = DoseMemory(pulse_s=100, before_pct=79.0)
    for seen_pct in (78.0, 77.0, 78.5):
        dose = watched(dose, seen_pct=seen_pct, raises=False)
    assert dose.moved_pct == pytest.approx(2.0)
    judged = learned(dose, aim_pct=77.0, shortest_s=30, longest_s=7200)
    assert judged.pulse_s == pytest.approx(100.0)


def doses_given(
    plant: Callable[[float, bool], float], *, start_pct: float, ticks: int
) -> Iterator[tuple[float, float]]:
    """Let a humidifier work on a plant, through whole decisions; yield each dose's start and length."""
    plan = RoomPlan(
        name="closet",
        stage=Stage.HANG,
        humidity=HUMIDITY,
        temperature=None,
        relays={RelayKind.HUMIDIFIER: RULES},
        settle_s=SETTLE_S,
    )
    state, humidity_pct, was_closed, since_s = (
        starting_state(plan, uptime_s=0),
        start_pct,
        False,
        0.0,
    )
    for number in range(ticks):
        uptime_s = number * TICK_S
        reading = AirReading(
            taken_at=datetime(2026, 11, 1, tzinfo=UTC),
            taken_uptime_s=uptime_s,
            temperature_c=13.0,
            humidity_pct=humidity_pct,
        )
        decision = decide(state, plan, {"rail": reading}, uptime_s=uptime_s)
        state, closed = decision.state, decision.commands[0].closed
        if closed and not was_closed:
            since_s = uptime_s
        elif was_closed and not closed:
            yield since_s, uptime_s - since_s
        was_closed = closed
        humidity_pct = plant(humidity_pct, closed)


def test_a_dead_humidifier_s_dose_grows_to_its_longest_run_and_no_further() -> None:
    lengths = [
        length_s for _, length_s in doses_given(lambda pct, _: pct, start_pct=70.0, ticks=2000)
    ]
    # Doubled each time from 6 s, up to max_run_s.
    assert lengths[:6] == [6, 12, 24, 48, 96, 120]
    assert set(lengths[5:]) == {120}


def test_between_two_doses_lies_the_time_to_settle() -> None:
    given = list(doses_given(lambda pct, _: pct, start_pct=70.0, ticks=2000))
    for (began_s, length_s), (next_s, _) in pairwise(given):
        assert next_s - (began_s + length_s) >= SETTLE_S


def test_on_a_linear_plant_doses_bring_humidity_to_the_aim() -> None:
    # 0.4 %/s while on, 0.01 %/s leaking always; from the start (72.75) to the aim (76.25) is 3.5 %,
    # so the right dose is 3.5 / (0.4 - 0.01), some 9 s, whole ticks.
    given = list(
        doses_given(
            lambda pct, closed: pct + TICK_S * (0.4 * closed - 0.01), start_pct=75.0, ticks=4000
        )
    )
    assert len(given) > 10
    assert {length_s for _, length_s in given[3:]} <= {8.0, 10.0}
