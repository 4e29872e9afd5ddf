"""Water and heat add up, whatever is switched."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from simulation.rooms import air, physics, work

from hangroom.simulation.load import Load, hung_sticks
from hangroom.simulation.spec import LoadSpec, RoomSpec
from hangroom.terms import RelayKind

SPECS = st.builds(
    RoomSpec,
    volume_m3=st.floats(0.2, 5.0),
    ach_per_h=st.floats(0.0, 5.0),
    fan_m3_per_h=st.floats(0.0, 100.0),
    humidifier_g_per_h=st.floats(0.0, 500.0),
    tank_g=st.floats(0.0, 50.0),
    ua_w_per_k=st.floats(0.0, 30.0),
    wall_kj_per_k=st.floats(20.0, 200.0),
    buffer_g_per_pct=st.sampled_from([0.0, 0.5, 5.0, 100.0]),
    cooling_w=st.sampled_from([0.0, 90.0, 300.0]),
    heater_w=st.floats(0.0, 100.0),
    load=st.none()
    | st.builds(
        LoadSpec,
        mass_kg=st.floats(0.5, 20.0),
        diameter_mm=st.floats(10.0, 40.0),
        water_fraction=st.floats(0.3, 0.7),
        casing_kg_per_m2_s_pa=st.none() | st.floats(1e-9, 1e-6),
    ),
)
PHASES = st.lists(
    st.tuples(
        st.frozensets(st.sampled_from(RelayKind)),
        st.booleans(),
        st.integers(1, 600),
        st.floats(-5.0, 35.0),
        st.floats(5.0, 100.0),
    ),
    min_size=1,
    max_size=12,
)


@settings(max_examples=60, deadline=None)
@given(spec=SPECS, phases=PHASES, step_s=st.sampled_from([0.5, 1.0, 2.0]))
def test_water_and_heat_close_over_any_sequence_of_relays_doors_and_weather(
    spec: RoomSpec,
    phases: list[tuple[frozenset[RelayKind], bool, int, float, float]],
    step_s: float,
) -> None:
    room = physics(spec, load=hung_sticks(spec.load) if spec.load else None, step_s=step_s)
    for working, door_open, steps, temperature_c, rh_pct in phases:
        work(room, *working, door_open=door_open, outside=air(temperature_c, rh_pct))
        room.run(steps)
    room.snapshot()  # ends the stretch, so that everything is booked
    balance = room.balance()
    assert balance.worst_ratio <= 1e-9
    assert room.vapour_kg_per_m3 >= 0.0
    assert room.mist_kg >= 0.0
    assert room.coil is None or room.coil.frost_kg >= 0.0


def test_the_humidifier_s_water_is_found_in_air_lining_frost_and_load() -> None:
    """The same sum made here, from what can be seen, in a room without any leak."""
    spec = RoomSpec(
        volume_m3=0.5, ach_per_h=0.0, buffer_g_per_pct=3.0, cooling_w=90.0, load=LoadSpec()
    )
    assert spec.load is not None
    load: Load = hung_sticks(spec.load)
    room = physics(spec, load=load)
    coil = room.coil
    assert coil is not None

    def held_kg() -> float:
        return (
            0.5 * room.vapour_kg_per_m3
            + room.mist_kg
            + room.walls.water_kg
            + coil.frost_kg
            + load.water_kg
        )

    first_kg = held_kg()
    for _ in range(50):
        work(room, RelayKind.HUMIDIFIER)
        room.run(7)
        work(room, RelayKind.COOLING)
        room.run(213)
        work(room)
        room.run(331)
    work(room)
    assert room.emitted_kg == pytest.approx(50 * 7 * 0.3 / 3600, rel=1e-12)
    assert held_kg() - first_kg == pytest.approx(room.emitted_kg, rel=1e-9)


def test_the_tank_gives_what_is_in_it_and_no_more() -> None:
    room = physics(RoomSpec(tank_g=2.0))
    work(room, RelayKind.HUMIDIFIER)
    room.run(600)
    assert room.tank_kg == pytest.approx(0.0, abs=1e-15)
    assert room.emitted_kg == pytest.approx(2e-3, rel=1e-12)


def test_exchanging_the_load_leaves_the_books_right() -> None:
    spec = RoomSpec(load=LoadSpec())
    assert spec.load is not None
    room = physics(spec, load=hung_sticks(spec.load))
    room.run(3600)
    room.hang(None)
    room.run(3600)
    room.hang(hung_sticks(LoadSpec(mass_kg=2.0)))
    room.run(3600)
    assert room.balance().worst_ratio <= 1e-9


def test_perfectly_dry_air_is_no_trouble_for_the_books() -> None:
    room = physics(RoomSpec(), outside=air(0.0, 0.0), temperature_c=0.0, rh_pct=0.0)
    room.run(3600)
    assert room.balance().worst_ratio == 0.0
