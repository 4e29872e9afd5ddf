"""Three simulated days of the demo's closet on the measured weather, through the real decisions.

    python tests/bench/closet_on_weather.py [--days 3] [--seeds 5]

Prints, per seed, how much of the time the true (simulated) humidity lay in the band, how often
the relays switched, the water used, and how often something unsafe was seen. The first six hours
are a warm-up and left out.
"""

import argparse
import time
import tomllib
from datetime import UTC, datetime
from importlib.resources import files

from hangroom.cli.sample import CLOSET, sticks_of
from hangroom.control.memory import starting_state
from hangroom.control.room import decide
from hangroom.sample.batches import BATCHES
from hangroom.settings import check_settings
from hangroom.simulation.ambient import april_weather
from hangroom.simulation.clock import SimulatedClock
from hangroom.simulation.house import SimulatedRoom
from hangroom.simulation.sensor import SensorSpec
from hangroom.terms import RelayKind

TICK_S = 2.0
WARM_UP_S = 6 * 3600.0


def run(*, days: float, seed: int, fresh: bool) -> dict[str, float]:
    text = files("hangroom.settings").joinpath("example.toml").read_text(encoding="utf-8")
    plan = check_settings(tomllib.loads(text), source="example").room["closet"].plan("closet")
    target = plan.humidity
    assert target is not None
    clock = SimulatedClock(start=datetime(2026, 4, 1, tzinfo=UTC))
    room = SimulatedRoom(
        "closet",
        CLOSET,
        clock=clock,
        ambient=april_weather().indoors(),
        relays=plan.relays,
        sensors={"rail": SensorSpec(interval_s=6.0)},
        seed=seed,
        start_temperature_c=16.0,
        start_humidity_pct=70.0,
    )
    if fresh:
        room.hang(sticks_of(BATCHES[1]))
    clock.follow(room.advance)
    state = starting_state(plan, uptime_s=0.0)
    ticks = in_band = unsafe = 0
    lowest_pct, highest_pct = 100.0, 0.0
    humidifier, exhaust = room.relays[RelayKind.HUMIDIFIER], room.relays[RelayKind.EXHAUST_FAN]
    started_s = time.process_time()
    while clock.uptime_s() < WARM_UP_S + days * 86_400:
        uptime_s = clock.uptime_s()
        latest = room.sensors[0].latest()
        decision = decide(state, plan, {"rail": latest}, uptime_s=uptime_s)
        state = decision.state
        for command in decision.commands:
            relay = room.relays[command.relay]
            if command.closed:
                relay.hold_closed(until_uptime_s=uptime_s + 3 * TICK_S)
            else:
                relay.open()
        if uptime_s == WARM_UP_S:
            room.reset_counters()
        if uptime_s >= WARM_UP_S:
            true_pct = room.humidity_pct()
            ticks += 1
            in_band += abs(true_pct - target.setpoint_pct) <= target.band_pct
            lowest_pct, highest_pct = min(lowest_pct, true_pct), max(highest_pct, true_pct)
            blind = latest is None or uptime_s - latest.taken_uptime_s > 30
            unsafe += humidifier.is_closed() and (blind or exhaust.is_closed())
        clock.wait_until(uptime_s + TICK_S)
    counters = room.counters()
    return {
        "in_band_pct": 100 * in_band / ticks,
        "lowest_pct": lowest_pct,
        "highest_pct": highest_pct,
        "humidifier_per_day": counters.switches[RelayKind.HUMIDIFIER] / days,
        "exhaust_per_day": counters.switches[RelayKind.EXHAUST_FAN] / days,
        "water_g_per_day": counters.water_used_g / days,
        "fights": counters.fights,
        "unsafe": unsafe,
        "balance": room.balance().worst_ratio,
        "days_per_cpu_s": (days + 0.25) / (time.process_time() - started_s),
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=float, default=3.0)
    parser.add_argument("--seeds", type=int, default=5)
    given = parser.parse_args()
    for fresh in (True, False):
        print("with fresh sticks" if fresh else "empty")
        for seed in range(1, given.seeds + 1):
            figures = run(days=given.days, seed=seed, fresh=fresh)
            print(f"  seed {seed}: " + "  ".join(f"{k} {v:.4g}" for k, v in figures.items()))


if __name__ == "__main__":
    main()
