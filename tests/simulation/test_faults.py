"""Every fault a scenario may name does what it says, and stops doing so."""

from statistics import pstdev

import pytest
from simulation.rooms import EXACT_SENSOR, simulated_room

from hangroom.errors import InputError
from hangroom.simulation.clock import SimulatedClock
from hangroom.simulation.faults import MEANING, NEEDS_SIZE, Fault, FaultKind, next_change_s
from hangroom.simulation.house import SimulatedRoom
from hangroom.simulation.spec import RoomSpec
from hangroom.terms import RelayKind

HUMIDIFIER, FAN, COOLING = RelayKind.HUMIDIFIER, RelayKind.EXHAUST_FAN, RelayKind.COOLING
# One hour after the start, for one hour.
BEGIN_S, END_S = 3600.0, 7200.0


def room_with(
    kind: FaultKind, *, size: float = 0.0, spec: RoomSpec | None = None
) -> tuple[SimulatedRoom, SimulatedClock]:
    fault = Fault(room="closet", kind=kind, at_h=1.0, for_h=1.0, size=size)
    elsewhere = Fault(room="fridge", kind=FaultKind.DOOR_OPEN, at_h=0.0, for_h=99.0)
    return simulated_room(
        spec,
        relays=(HUMIDIFIER, FAN, COOLING),
        faults=(fault, elsewhere),
        sensors={"main": EXACT_SENSOR, "second": EXACT_SENSOR},
    )


def go_to(clock: SimulatedClock, elapsed_s: float) -> None:
    clock.wait_until(1000.0 + elapsed_s)


def readings(room: SimulatedRoom, clock: SimulatedClock, times: int) -> list[float]:
    """Readings of the first sensor, one for each time it had a new one."""
    seen, stamps = [], set()
    for _ in range(times):
        clock.wait_until(clock.uptime_s() + 2.0)
        reading = room.sensors[0].latest()
        if reading is not None and reading.taken_uptime_s not in stamps:
            stamps.add(reading.taken_uptime_s)
            seen.append(reading.humidity_pct)
    return seen


def water_used_g(room: SimulatedRoom, clock: SimulatedClock, *, hold: bool) -> float:
    """Over a minute with the humidifier told to run, or not."""
    before_g = room.counters().water_used_g
    for _ in range(30):
        if hold:
            room.relays[HUMIDIFIER].hold_closed(until_uptime_s=clock.uptime_s() + 2.0)
        clock.wait_until(clock.uptime_s() + 2.0)
    room.relays[HUMIDIFIER].open()
    clock.wait_until(clock.uptime_s() + 20.0)
    return room.counters().water_used_g - before_g


def test_every_kind_has_a_meaning() -> None:
    assert set(MEANING) == set(FaultKind)


def test_faults_are_in_force_from_their_hour_until_their_last_and_only_in_their_room() -> None:
    room, clock = room_with(FaultKind.DISK_FULL)
    for elapsed_s, active in (
        (0.0, frozenset[FaultKind]()),
        (BEGIN_S, {FaultKind.DISK_FULL}),
        (END_S - 2.0, {FaultKind.DISK_FULL}),
        (END_S, frozenset[FaultKind]()),
    ):
        go_to(clock, elapsed_s)
        assert room.active_faults() == active


@pytest.mark.parametrize("kind", [FaultKind.POWER_CUT, FaultKind.CLOCK_STEP, FaultKind.DISK_FULL])
def test_the_runner_s_faults_are_shown_while_active(kind: FaultKind) -> None:
    room, clock = room_with(kind, size=3600.0)
    go_to(clock, BEGIN_S + 60.0)
    assert room.active_faults() == {kind}


def test_an_empty_tank_gives_no_mist_and_is_filled_at_the_end() -> None:
    room, clock = room_with(FaultKind.TANK_EMPTY)
    assert water_used_g(room, clock, hold=True) == pytest.approx(5.0)
    go_to(clock, BEGIN_S)
    room.refill()
    assert water_used_g(room, clock, hold=True) == 0.0
    go_to(clock, END_S)
    assert room.physics.tank_kg == pytest.approx(1.5)
    assert water_used_g(room, clock, hold=True) == pytest.approx(5.0)


def test_a_welded_humidifier_runs_untold_and_its_relay_does_not_know() -> None:
    room, clock = room_with(FaultKind.HUMIDIFIER_STUCK_ON)
    assert water_used_g(room, clock, hold=False) == 0.0
    go_to(clock, BEGIN_S)
    assert water_used_g(room, clock, hold=False) == pytest.approx(300.0 / 3600 * 80)
    assert not room.relays[HUMIDIFIER].is_closed()
    go_to(clock, END_S)
    assert water_used_g(room, clock, hold=False) == 0.0


def test_a_dead_humidifier_contact_gives_nothing_though_told() -> None:
    room, clock = room_with(FaultKind.HUMIDIFIER_STUCK_OFF)
    go_to(clock, BEGIN_S)
    assert water_used_g(room, clock, hold=True) == 0.0
    assert room.physics.tank_kg == pytest.approx(1.5)


def drying_in_five_minutes(room: SimulatedRoom, clock: SimulatedClock, *, hold: bool) -> float:
    """Share of the excess over the air outside that goes in five minutes."""
    # Outside: 15 degC, 50 %RH.
    outside = room.physics.vapour_kg_per_m3 * 50.0 / room.humidity_pct()
    before = room.physics.vapour_kg_per_m3 - outside
    if hold:
        room.relays[FAN].hold_closed(until_uptime_s=clock.uptime_s() + 300.0)
    clock.wait_until(clock.uptime_s() + 300.0)
    return 1.0 - (room.physics.vapour_kg_per_m3 - outside) / before


SLOW_LEAK = RoomSpec(ach_per_h=0.01)


def test_a_dead_fan_moves_no_air_though_its_contact_closes() -> None:
    room, clock = room_with(FaultKind.FAN_DEAD, spec=SLOW_LEAK)
    go_to(clock, BEGIN_S)
    before_s = room.counters().on_s[FAN]
    assert drying_in_five_minutes(room, clock, hold=True) < 0.05
    assert room.counters().on_s[FAN] - before_s == 300.0
    go_to(clock, END_S)
    assert drying_in_five_minutes(room, clock, hold=True) > 0.8


def test_a_welded_fan_dries_untold() -> None:
    room, clock = room_with(FaultKind.FAN_STUCK_ON, spec=SLOW_LEAK)
    go_to(clock, BEGIN_S)
    assert drying_in_five_minutes(room, clock, hold=False) > 0.8
    assert not room.relays[FAN].is_closed()
    go_to(clock, END_S)
    assert drying_in_five_minutes(room, clock, hold=False) < 0.05


def test_a_dead_compressor_draws_no_heat_though_its_contact_closes() -> None:
    spec = RoomSpec(volume_m3=0.25, cooling_w=90.0, wall_kj_per_k=12.0, ua_w_per_k=1.6)
    room, clock = room_with(FaultKind.COOLING_DEAD, spec=spec)
    go_to(clock, BEGIN_S)
    room.relays[COOLING].hold_closed(until_uptime_s=clock.uptime_s() + 1800.0)
    clock.wait_until(clock.uptime_s() + 1800.0)
    assert room.temperature_c() == pytest.approx(15.0, abs=0.2)
    go_to(clock, END_S)
    room.relays[COOLING].hold_closed(until_uptime_s=clock.uptime_s() + 1800.0)
    clock.wait_until(clock.uptime_s() + 1800.0)
    assert room.temperature_c() < 10.0


def test_an_open_door_lets_the_room_s_vapour_out() -> None:
    room, clock = room_with(FaultKind.DOOR_OPEN, spec=RoomSpec(ach_per_h=0.01))
    go_to(clock, BEGIN_S)
    before_pct = room.humidity_pct()
    clock.wait_until(clock.uptime_s() + 120.0)
    assert before_pct > 74.0
    assert room.humidity_pct() < 65.0


def test_a_power_cut_opens_every_contact_welded_ones_too_and_silences_every_sensor() -> None:
    cut = Fault(room="closet", kind=FaultKind.POWER_CUT, at_h=1.0, for_h=1.0)
    weld = Fault(room="closet", kind=FaultKind.HUMIDIFIER_STUCK_ON, at_h=1.0, for_h=1.0)
    room, clock = simulated_room(
        faults=(cut, weld), sensors={"main": EXACT_SENSOR, "second": EXACT_SENSOR}
    )
    go_to(clock, BEGIN_S)
    last = [sensor.latest() for sensor in room.sensors]
    assert water_used_g(room, clock, hold=True) == 0.0
    assert [sensor.latest() for sensor in room.sensors] == last
    go_to(clock, END_S + 2.0)
    assert [sensor.latest() for sensor in room.sensors] != last


def test_a_silent_sensor_counts_its_silence_and_the_second_goes_on() -> None:
    room, clock = room_with(FaultKind.SENSOR_SILENT)
    go_to(clock, BEGIN_S)
    last = room.sensors[0].latest()
    readings(room, clock, 30)
    assert room.sensors[0].latest() is last
    assert room.sensors[0].faults()["no answer"] == 30
    second = room.sensors[1].latest()
    assert second is not None
    assert second.taken_uptime_s == clock.uptime_s()


def test_a_frozen_sensor_repeats_its_last_value_with_new_stamps() -> None:
    room, clock = room_with(FaultKind.SENSOR_FROZEN)
    go_to(clock, BEGIN_S)
    room.relays[HUMIDIFIER].hold_closed(until_uptime_s=clock.uptime_s() + 20.0)
    seen = readings(room, clock, 60)
    assert len(seen) == 60
    assert len(set(seen)) == 1
    assert room.humidity_pct() > seen[0] + 3.0


def test_a_wet_sensor_reads_99_9() -> None:
    room, clock = room_with(FaultKind.SENSOR_WET)
    go_to(clock, BEGIN_S)
    assert set(readings(room, clock, 30)) == {99.9}
    go_to(clock, END_S)
    assert max(readings(room, clock, 30)) < 80.0


def test_a_biased_sensor_is_off_by_its_size() -> None:
    room, clock = room_with(FaultKind.SENSOR_BIAS, size=-6.0)
    go_to(clock, BEGIN_S)
    assert readings(room, clock, 30)[-1] - room.humidity_pct() == pytest.approx(-6.0, abs=0.06)
    go_to(clock, END_S)
    assert readings(room, clock, 30)[-1] - room.humidity_pct() == pytest.approx(0.0, abs=0.06)


def test_a_drifting_sensor_moves_by_its_size_a_day() -> None:
    room, clock = room_with(FaultKind.SENSOR_DRIFT, size=48.0)
    go_to(clock, BEGIN_S)
    clock.wait_until(clock.uptime_s() + 1800.0)
    error_pct = readings(room, clock, 1)[-1] - room.humidity_pct()
    assert error_pct == pytest.approx(48.0 / 48, abs=0.12)


def test_a_spiking_sensor_is_off_now_and_then_by_its_size() -> None:
    room, clock = room_with(FaultKind.SENSOR_SPIKE, size=15.0)
    go_to(clock, BEGIN_S)
    errors = [seen - room.humidity_pct() for seen in readings(room, clock, 1000)]
    spikes = [error for error in errors if error > 7.0]
    # One in twenty, within five standard deviations of a binomial count of 1000.
    assert 50 - 35 < len(spikes) < 50 + 35
    assert min(spikes) > 13.0
    assert pstdev(error for error in errors if error <= 7.0) < 1.0


@pytest.mark.parametrize(
    ("wrong", "named"),
    [
        ({"at_h": -1.0}, "at_h is -1"),
        ({"for_h": 0.0}, "for_h is 0"),
        ({"at_h": float("nan")}, "at_h is nan"),
        ({"size": float("inf")}, "size is inf"),
    ],
)
def test_a_fault_that_cannot_happen_is_refused(wrong: dict[str, float], named: str) -> None:
    values = {"at_h": 1.0, "for_h": 1.0, "size": 5.0} | wrong
    with pytest.raises(InputError, match=named):
        Fault(room="closet", kind=FaultKind.SENSOR_BIAS, **values)


@pytest.mark.parametrize("kind", sorted(NEEDS_SIZE))
def test_a_fault_that_would_do_nothing_without_a_size_is_refused(kind: FaultKind) -> None:
    with pytest.raises(InputError, match="give a size other than 0"):
        Fault(room="closet", kind=kind, at_h=1.0, for_h=1.0)


def test_every_error_of_a_fault_is_named_at_once() -> None:
    with pytest.raises(InputError) as refused:
        Fault(room="closet", kind=FaultKind.SENSOR_BIAS, at_h=-1.0, for_h=0.0)
    assert len(str(refused.value).splitlines()) == 3


def test_the_next_change_is_the_nearest_begin_or_end() -> None:
    faults = [
        Fault(room="closet", kind=FaultKind.DOOR_OPEN, at_h=1.0, for_h=3.0),
        Fault(room="closet", kind=FaultKind.FAN_DEAD, at_h=2.0, for_h=0.5),
    ]
    edges_h = []
    now_s = 0.0
    while (now_s := next_change_s(faults, now_s)) < 1e9:
        edges_h.append(now_s / 3600.0)
    assert edges_h == [1.0, 2.0, 2.5, 4.0]
