"""Rooms that the tests of this folder build again and again."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import UTC, datetime

from hangroom.simulation.ambient import Ambient, ConstantAir
from hangroom.simulation.clock import SimulatedClock
from hangroom.simulation.faults import Fault
from hangroom.simulation.house import SimulatedRoom
from hangroom.simulation.load import Load
from hangroom.simulation.parts import Drive, OutsideAir
from hangroom.simulation.room import RoomPhysics
from hangroom.simulation.sensor import SensorSpec
from hangroom.simulation.spec import RoomSpec
from hangroom.simulation.vapour import saturation_kg_per_m3
from hangroom.terms import RelayKind

START = datetime(2026, 4, 1, tzinfo=UTC)
EXACT_SENSOR = SensorSpec(
    dead_time_s=0.0,
    mixing_lag_s=0.0,
    humidity_lag_s=0.0,
    temperature_lag_s=0.0,
    humidity_noise_pct=0.0,
    temperature_noise_c=0.0,
    dropout_ratio=0.0,
    bursts_per_day=0.0,
)
BARE = RoomSpec(ach_per_h=0.0, ua_w_per_k=0.0)


def air(temperature_c: float, rh_pct: float) -> OutsideAir:
    return OutsideAir(
        temperature_c=temperature_c,
        vapour_kg_per_m3=rh_pct / 100 * saturation_kg_per_m3(temperature_c),
    )


def physics(
    spec: RoomSpec,
    *,
    load: Load | None = None,
    outside: OutsideAir | None = None,
    temperature_c: float = 15.0,
    rh_pct: float = 80.0,
    step_s: float = 1.0,
) -> RoomPhysics:
    return RoomPhysics(
        spec,
        load=load,
        outside=outside or air(15.0, 50.0),
        temperature_c=temperature_c,
        vapour_kg_per_m3=rh_pct / 100 * saturation_kg_per_m3(temperature_c),
        step_s=step_s,
    )


def work(
    room: RoomPhysics,
    *working: RelayKind,
    outside: OutsideAir | None = None,
    door_open: bool = False,
) -> None:
    kinds: Collection[RelayKind] = frozenset(working)
    room.drive(Drive(working=kinds, door_open=door_open, outside=outside or air(15.0, 50.0)))


def simulated_room(
    spec: RoomSpec | None = None,
    *,
    relays: Iterable[RelayKind] = (RelayKind.HUMIDIFIER, RelayKind.EXHAUST_FAN),
    ambient: Ambient | None = None,
    faults: Sequence[Fault] = (),
    sensors: Mapping[str, SensorSpec] | None = None,
    step_s: float = 1.0,
    seed: int = 1,
) -> tuple[SimulatedRoom, SimulatedClock]:
    clock = SimulatedClock(start=START, uptime_s=1000.0)
    room = SimulatedRoom(
        "closet",
        spec or RoomSpec(),
        clock=clock,
        ambient=ambient or ConstantAir(temperature_c=15.0, humidity_pct=50.0),
        relays=relays,
        faults=faults,
        sensors=sensors or {"main": EXACT_SENSOR},
        step_s=step_s,
        seed=seed,
        start_humidity_pct=75.0,
    )
    clock.follow(room.advance)
    return room, clock
