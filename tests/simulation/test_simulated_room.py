import json

import pytest
from simulation.rooms import EXACT_SENSOR, START, simulated_room

from hangroom.errors import InputError
from hangroom.simulation.ambient import ConstantAir, april_weather
from hangroom.simulation.clock import SimulatedClock
from hangroom.simulation.house import SimulatedRoom
from hangroom.simulation.load import Sticks
from hangroom.simulation.sensor import SensorSpec
from hangroom.simulation.spec import LoadSpec, RoomSpec
from hangroom.terms import RelayKind

HUMIDIFIER, FAN = RelayKind.HUMIDIFIER, RelayKind.EXHAUST_FAN
LOADED = RoomSpec(buffer_g_per_pct=2.0, cooling_w=90.0, load=LoadSpec())


def test_a_loan_nobody_renews_ends_in_the_middle_of_a_long_wait() -> None:
    room, clock = simulated_room()
    room.relays[HUMIDIFIER].hold_closed(until_uptime_s=clock.uptime_s() + 7.0)
    clock.wait_until(clock.uptime_s() + 600.0)
    counters = room.counters()
    assert counters.on_s[HUMIDIFIER] == 7.0
    assert counters.water_used_g == pytest.approx(300 / 3600 * 7)
    assert counters.switches[HUMIDIFIER] == 2


@pytest.mark.parametrize("step_s", [0.5, 1.0, 2.0])
def test_however_the_waiting_is_cut_the_room_fares_the_same(step_s: float) -> None:
    whole, whole_clock = simulated_room(LOADED, step_s=step_s)
    cut, cut_clock = simulated_room(LOADED, step_s=step_s)
    whole_clock.wait_until(1000.0 + 1200.0)
    while cut_clock.uptime_s() < 1000.0 + 1200.0:
        cut_clock.wait_until(cut_clock.uptime_s() + 2.0)
    assert cut.humidity_pct() == whole.humidity_pct()
    assert cut.temperature_c() == whole.temperature_c()
    assert cut.sensors[0].latest() == whole.sensors[0].latest()


def test_the_step_hardly_matters() -> None:
    ends = []
    for step_s in (0.5, 2.0):
        room, clock = simulated_room(LOADED, step_s=step_s)
        for _ in range(60):
            room.relays[HUMIDIFIER].hold_closed(until_uptime_s=clock.uptime_s() + 4.0)
            clock.wait_until(clock.uptime_s() + 120.0)
        ends.append(room.humidity_pct())
    assert ends[0] == pytest.approx(ends[1], abs=0.2)


def test_a_fight_is_a_humidifier_run_that_the_fan_undoes_within_five_minutes() -> None:
    room, clock = simulated_room()

    def run(kind: RelayKind, for_s: float) -> None:
        room.relays[kind].hold_closed(until_uptime_s=clock.uptime_s() + for_s)
        clock.wait_until(clock.uptime_s() + for_s + 2.0)

    run(HUMIDIFIER, 10.0)
    run(FAN, 10.0)
    run(FAN, 10.0)
    assert room.counters().fights == 1
    clock.wait_until(clock.uptime_s() + 400.0)
    run(FAN, 10.0)
    run(HUMIDIFIER, 10.0)
    clock.wait_until(clock.uptime_s() + 301.0)
    run(FAN, 10.0)
    assert room.counters().fights == 1
    run(HUMIDIFIER, 10.0)
    clock.wait_until(clock.uptime_s() + 290.0)
    run(FAN, 10.0)
    assert room.counters().fights == 2
    room.relays[FAN].hold_closed(until_uptime_s=clock.uptime_s() + 30.0)
    clock.wait_until(clock.uptime_s() + 10.0)
    run(HUMIDIFIER, 10.0)
    assert room.counters().fights == 3


def test_counters_begin_anew_when_told() -> None:
    room, clock = simulated_room(LOADED)
    room.relays[HUMIDIFIER].hold_closed(until_uptime_s=clock.uptime_s() + 60.0)
    clock.wait_until(clock.uptime_s() + 30.0)
    room.reset_counters()
    clock.wait_until(clock.uptime_s() + 60.0)
    counters = room.counters()
    assert counters.simulated_s == 60.0
    assert counters.on_s[HUMIDIFIER] == 30.0
    assert counters.switches[HUMIDIFIER] == 1
    assert counters.water_used_g == pytest.approx(300 / 3600 * 30)


def test_load_loss_counts_what_dried_and_not_what_was_carried_out() -> None:
    room, clock = simulated_room(LOADED)
    load = room.load
    assert load is not None
    first_g = 1000 * load.weight_kg
    clock.wait_until(clock.uptime_s() + 6 * 3600.0)
    lost_g = first_g - 1000 * load.weight_kg
    assert lost_g > 5.0
    assert room.counters().load_loss_g == pytest.approx(lost_g)
    room.hang(None)
    assert room.counters().load_loss_g == pytest.approx(lost_g)
    room.hang(Sticks(LoadSpec(mass_kg=1.0)))
    assert room.counters().load_loss_g == pytest.approx(lost_g)
    assert room.balance().worst_ratio <= 1e-9


def test_a_restored_room_goes_on_exactly_as_the_first() -> None:
    faulty_sensors = {"main": SensorSpec(), "second": EXACT_SENSOR}
    april = april_weather().indoors()
    first, clock = simulated_room(LOADED, sensors=faulty_sensors, ambient=april)
    first.relays[HUMIDIFIER].hold_closed(until_uptime_s=clock.uptime_s() + 20.0)
    clock.wait_until(clock.uptime_s() + 5000.0)
    kept = json.loads(json.dumps(first.snapshot()))

    second, later_clock = simulated_room(LOADED, sensors=faulty_sensors, ambient=april, seed=77)
    later_clock.wait_until(90_000.0)
    second.restore(kept)
    assert second.elapsed_s() == first.elapsed_s()
    for room, its_clock in ((first, clock), (second, later_clock)):
        room.relays[FAN].hold_closed(until_uptime_s=its_clock.uptime_s() + 300.0)
        its_clock.wait_until(its_clock.uptime_s() + 5000.0)
    assert second.humidity_pct() == pytest.approx(first.humidity_pct(), rel=1e-12)
    assert second.temperature_c() == pytest.approx(first.temperature_c(), rel=1e-12)
    assert first.load is not None
    assert second.load is not None
    assert second.load.weight_kg == pytest.approx(first.load.weight_kg, rel=1e-12)
    for one, other in zip(first.sensors, second.sensors, strict=True):
        a, b = one.latest(), other.latest()
        assert a is not None
        assert b is not None
        assert a.humidity_pct == b.humidity_pct
    assert second.balance().worst_ratio <= 1e-9


def test_a_room_follows_the_weather() -> None:
    room, clock = simulated_room(RoomSpec(ach_per_h=60.0), ambient=april_weather())
    clock.wait_until(1000.0 + 100 * 3600.0)
    outside = april_weather().at(100 * 3600.0)
    # An air change a minute; the weather is looked up every five minutes.
    assert room.physics.vapour_kg_per_m3 == pytest.approx(outside.vapour_kg_per_m3, rel=0.02)


@pytest.mark.parametrize("step_s", [0.4, 2.1, float("nan")])
def test_a_step_outside_half_a_second_to_two_is_refused(step_s: float) -> None:
    with pytest.raises(InputError, match="step_s is"):
        simulated_room(step_s=step_s)


def test_a_room_that_cannot_be_is_refused_with_every_fault() -> None:
    with pytest.raises(InputError) as refused:
        RoomSpec(volume_m3=-1.0, ach_per_h=float("nan"), heater_w=-5.0)
    assert len(str(refused.value).splitlines()) == 3
    with pytest.raises(InputError, match=r"wall_kj_per_k is 1; a lining of 6\.0 m2 holds at least"):
        RoomSpec(wall_kj_per_k=1.0)
    with pytest.raises(InputError) as refused:
        LoadSpec(mass_kg=0.0, diameter_mm=-1.0, water_fraction=1.0)
    assert len(str(refused.value).splitlines()) == 3


def test_the_air_starts_as_outside_unless_told_otherwise() -> None:
    clock = SimulatedClock(start=START)
    room = SimulatedRoom(
        "closet",
        RoomSpec(),
        clock=clock,
        ambient=ConstantAir(temperature_c=18.0, humidity_pct=50.0),
        relays=[],
    )
    assert room.temperature_c() == 18.0
    assert room.humidity_pct() == pytest.approx(50.0)
