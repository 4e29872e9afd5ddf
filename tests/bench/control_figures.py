"""Control in figures, beside a plain two-point thermostat in the same rooms, seed by seed.

    python tests/bench/control_figures.py [--days 2] [--seeds 5]

Each row is one room of tests/rehearsals on one seed: the decisions of the daemon, and next to them
a thermostat that switches the humidifier and the exhaust fan at the edges of the band. Then the
goals, each with what was reached. The tank is kept full: faults of the plant are another matter.
"""

import argparse
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from time import process_time

from hangroom.cli.rehearsal import simulated_room
from hangroom.cli.rehearsal_figures import RoomFigures, RoomRecord
from hangroom.cli.rehearse import read_rehearsal
from hangroom.control.memory import starting_state
from hangroom.control.room import decide
from hangroom.settings import RoomTable
from hangroom.simulation.clock import SimulatedClock
from hangroom.simulation.faults import FaultKind
from hangroom.simulation.scenario import Scenario
from hangroom.terms import AirReading, RelayKind, RoomPlan

TICK_S = 2.0
REHEARSALS = Path(__file__).parents[1] / "rehearsals"
HUMIDIFIER, EXHAUST = RelayKind.HUMIDIFIER, RelayKind.EXHAUST_FAN

Readings = Mapping[str, AirReading | None]
Controller = Callable[[Readings, float], Mapping[RelayKind, bool]]
"""Newest readings and monotonic seconds to the relays that shall be closed."""


def ours(plan: RoomPlan) -> Controller:
    state = starting_state(plan, uptime_s=0.0)

    def control(readings: Readings, uptime_s: float) -> Mapping[RelayKind, bool]:
        nonlocal state
        decision = decide(state, plan, readings, uptime_s=uptime_s)
        state = decision.state
        return {command.relay: command.closed for command in decision.commands}

    return control


def thermostat(plan: RoomPlan) -> Controller:
    """Each on at its own edge of the band and off at the other; no pause, last value kept."""
    assert plan.humidity
    low_pct = plan.humidity.setpoint_pct - plan.humidity.band_pct
    high_pct = plan.humidity.setpoint_pct + plan.humidity.band_pct
    closed = {HUMIDIFIER: False, EXHAUST: False}

    def control(readings: Readings, _uptime_s: float) -> Mapping[RelayKind, bool]:
        (reading,) = readings.values()
        if reading is not None:
            seen_pct = reading.humidity_pct
            if not low_pct < seen_pct < high_pct:
                closed[HUMIDIFIER] = seen_pct <= low_pct
                closed[EXHAUST] = seen_pct >= high_pct
        return closed

    return control


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One room under one controller."""

    figures: RoomFigures
    balance_residual: float


def run(scenario: Scenario, table: RoomTable, make: Callable[[RoomPlan], Controller]) -> Run:
    (name,) = scenario.rooms
    plan = table.plan(name)
    clock = SimulatedClock(start=datetime(2026, 4, 1, tzinfo=UTC))
    room = simulated_room(name, 0, scenario, table, clock)
    clock.follow(room.advance)
    record = RoomRecord(room, plan, warmup_s=3600 * scenario.warmup_h, lasts_s=scenario.lasts_s)
    control = make(plan)
    while (uptime_s := clock.uptime_s()) < scenario.lasts_s:
        closed = control({sensor.name: sensor.latest() for sensor in room.sensors}, uptime_s)
        for kind, relay in room.relays.items():
            if not closed[kind]:
                relay.open()
        for kind, relay in room.relays.items():
            if closed[kind]:
                relay.hold_closed(until_uptime_s=uptime_s + 3 * TICK_S)
        record.look(uptime_s, running=True)
        clock.wait_until(uptime_s + TICK_S)
    return Run(figures=record.figures(), balance_residual=room.balance().worst_ratio)


def days_per_cpu_s(scenario: Scenario, table: RoomTable) -> float:
    """Speed of room and decisions alone, with nothing looking on."""
    (name,) = scenario.rooms
    clock = SimulatedClock(start=datetime(2026, 4, 1, tzinfo=UTC))
    room = simulated_room(name, 0, scenario, table, clock)
    clock.follow(room.advance)
    control = ours(table.plan(name))
    started_s = process_time()
    while (uptime_s := clock.uptime_s()) < 86_400:
        closed = control({sensor.name: sensor.latest() for sensor in room.sensors}, uptime_s)
        for kind, relay in room.relays.items():
            if closed[kind]:
                relay.hold_closed(until_uptime_s=uptime_s + 3 * TICK_S)
            else:
                relay.open()
        clock.wait_until(uptime_s + TICK_S)
    return 1.0 / (process_time() - started_s)


ROOMS = ("leaky-closet", "wet-fresh-load", "busy-door")
HEADINGS = (
    "in band %", "mean %", "sd", "p99 %", "hum./d", "fan/d", "water g/d", "fights/d", "unsafe",
)  # fmt: skip


def line(figures: RoomFigures) -> str:
    return (
        f"{figures.in_band_pct:9.1f} {figures.humidity_mean_pct:9.1f} "
        f"{figures.humidity_sd_pct:9.2f} {figures.humidity_p99_pct:9.1f} "
        f"{figures.switches_per_day[HUMIDIFIER]:9.0f} {figures.switches_per_day[EXHAUST]:9.0f} "
        f"{figures.water_g_per_day:9.0f} {figures.fights_per_day:9.1f} {figures.unsafe_states:9d}"
    )


def goal(says: str, worst: float, limit: float, *, at_least: bool = False) -> str:
    met = worst >= limit if at_least else worst <= limit
    return f"  {'met    ' if met else 'NOT MET'}  {says}: {worst:.4g}, goal {limit:g}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=float, default=2.0)
    parser.add_argument("--seeds", type=int, default=5)
    given = parser.parse_args()
    runs: dict[str, list[Run]] = {}
    for room in ROOMS:
        scenario, settings = read_rehearsal(REHEARSALS / f"{room}.toml")
        (table,) = settings.room.values()
        # The plant as it should be: only the door is opened.
        doors = tuple(f for f in scenario.faults if f.kind is FaultKind.DOOR_OPEN)
        runs[room] = []
        print(f"\n{scenario.name}, {given.days:g} days of which {scenario.warmup_h:g} h warm-up")
        print(f"{'':18}" + " ".join(f"{heading:>9}" for heading in HEADINGS))
        for seed in range(1, given.seeds + 1):
            seeded = replace(scenario, days=given.days, seed=seed, faults=doors)
            runs[room].append(run(seeded, table, ours))
            plain = run(seeded, table, thermostat)
            print(f"seed {seed} hangroom   {line(runs[room][-1].figures)}")
            print(f"       thermostat {line(plain.figures)}", flush=True)
    print("\nThe worst seed against the goals")
    leaky = [run.figures for run in runs["leaky-closet"]]
    for room in ROOMS:
        in_band_pct = min(run.figures.in_band_pct or 0.0 for run in runs[room])
        print(goal(f"{room}, % of the time in band", in_band_pct, 99, at_least=True))
    switches = max(f.switches_per_day[HUMIDIFIER] + f.switches_per_day[EXHAUST] for f in leaky)
    print(goal("leaky-closet, humidifier + fan switches a day", switches, 400))
    print(goal("leaky-closet, g water a day", max(f.water_g_per_day for f in leaky), 155))
    every = [run for of_room in runs.values() for run in of_room]
    print(goal("unsafe states", sum(run.figures.unsafe_states for run in every), 0))
    print(goal("balance residual", max(run.balance_residual for run in every), 1e-9))
    scenario, settings = read_rehearsal(REHEARSALS / "leaky-closet.toml")
    (table,) = settings.room.values()
    speed = days_per_cpu_s(replace(scenario, faults=()), table)
    print(goal("simulated days per CPU second, room + decisions", speed, 3, at_least=True))


if __name__ == "__main__":
    main()
