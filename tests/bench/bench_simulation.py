"""How fast a simulated room lives, and how well its water and heat add up.

    python tests/bench/bench_simulation.py [--days 2]

Pure Python, one core, 1 s steps. "physics" steps the room alone; "room" adds sensor, relays,
faults and weather; "room + thermostat" adds a plain two-point thermostat that reads and renews its
loans every 2 s. The last column is the larger of the relative residuals of water and heat.
"""

import argparse
import time
from collections.abc import Callable
from datetime import UTC, datetime

from hangroom.simulation.ambient import april_weather
from hangroom.simulation.clock import SimulatedClock
from hangroom.simulation.house import SimulatedRoom
from hangroom.simulation.spec import LoadSpec, RoomSpec
from hangroom.terms import RelayKind

DAY_S = 86_400
TICK_S = 2.0
HUMIDIFIER, FAN, COOLING = RelayKind.HUMIDIFIER, RelayKind.EXHAUST_FAN, RelayKind.COOLING

ROOMS = {
    "bare closet": RoomSpec(),
    "closet, 5 kg, lined": RoomSpec(buffer_g_per_pct=2.4, load=LoadSpec()),
    "fridge, 5 kg, lined": RoomSpec(
        volume_m3=0.25,
        ach_per_h=0.3,
        humidifier_g_per_h=150.0,
        ua_w_per_k=1.6,
        wall_kj_per_k=12.0,
        buffer_g_per_pct=1.0,
        cooling_w=90.0,
        load=LoadSpec(),
    ),
}


def built(spec: RoomSpec) -> tuple[SimulatedRoom, SimulatedClock]:
    clock = SimulatedClock(start=datetime(2026, 4, 1, tzinfo=UTC))
    room = SimulatedRoom(
        "bench",
        spec,
        clock=clock,
        ambient=april_weather().indoors(),
        relays=[HUMIDIFIER, FAN, COOLING],
        start_humidity_pct=78.0,
    )
    clock.follow(room.advance)
    return room, clock


def physics_only(spec: RoomSpec, days: float) -> SimulatedRoom:
    room, _ = built(spec)
    for _ in range(int(days * DAY_S / TICK_S)):
        room.physics.run(2)
    return room


def whole_room(spec: RoomSpec, days: float) -> SimulatedRoom:
    room, clock = built(spec)
    for _ in range(int(days * DAY_S / TICK_S)):
        clock.wait_until(clock.uptime_s() + TICK_S)
    return room


def with_thermostat(spec: RoomSpec, days: float) -> SimulatedRoom:
    room, clock = built(spec)
    sensor = room.sensors[0]
    humidify = exhaust = cool = False
    for tick in range(int(days * DAY_S / TICK_S)):
        if tick % 43_200 == 0:
            room.refill()
        reading = sensor.latest()
        if reading is not None:
            seen_pct, seen_c = reading.humidity_pct, reading.temperature_c
            humidify = seen_pct < 78.0 or (humidify and seen_pct < 82.0)
            exhaust = seen_pct > 82.0 or (exhaust and seen_pct > 80.0)
            cool = seen_c > 14.0 or (cool and seen_c > 12.0)
        until_s = clock.uptime_s() + 3 * TICK_S
        for kind, wanted in ((HUMIDIFIER, humidify), (FAN, exhaust), (COOLING, cool)):
            if wanted:
                room.relays[kind].hold_closed(until_uptime_s=until_s)
            elif room.relays[kind].is_closed():
                room.relays[kind].open()
        clock.wait_until(clock.uptime_s() + TICK_S)
    return room


RUNS: dict[str, Callable[[RoomSpec, float], SimulatedRoom]] = {
    "physics": physics_only,
    "room": whole_room,
    "room + thermostat": with_thermostat,
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=float, default=2.0)
    days = parser.parse_args().days
    print(f"{'':22}{'':20}{'days/CPU-s':>12}{'us/step':>10}{'residual':>12}")
    for room_name, spec in ROOMS.items():
        for run_name, run in RUNS.items():
            began_s = time.process_time()
            room = run(spec, days)
            took_s = time.process_time() - began_s
            print(
                f"{room_name:22}{run_name:20}{days / took_s:12.2f}"
                f"{1e6 * took_s / (days * DAY_S):10.2f}{room.balance().worst_ratio:12.1e}"
            )


if __name__ == "__main__":
    main()
