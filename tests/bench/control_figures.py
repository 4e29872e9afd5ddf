"""Control in figures, beside a plain two-point thermostat in the same rooms, seed by seed.

    python tests/bench/control_figures.py [--days 2] [--seeds 5] [ROOM ...]

Each row is one room of tests/rehearsals on one seed: the decisions of the daemon, and next to them
a thermostat that switches each relay at the edges of its band. "-bare" rooms have walls that take
up no water. Then the goals, each with what the worst seed reached. The tank is kept full and nothing
breaks: faults of the plant are another matter. Only the door is opened.
"""

import argparse
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from itertools import accumulate
from pathlib import Path
from time import process_time

from hangroom.cli.rehearsal import simulated_room
from hangroom.cli.rehearsal_figures import RoomFigures, RoomRecord
from hangroom.cli.rehearse import read_rehearsal
from hangroom.cli.simulated_rooms import outside
from hangroom.control.memory import starting_state
from hangroom.control.outside import air_outside, judged_outside
from hangroom.control.room import Decision, decide, followed
from hangroom.control.sensors.judged import UNJUDGED
from hangroom.settings import Settings
from hangroom.simulation.clock import SimulatedClock
from hangroom.simulation.faults import FaultKind
from hangroom.simulation.house import SimulatedRoom
from hangroom.simulation.scenario import Scenario
from hangroom.terms import AirReading, RelayKind, RoomPlan

TICK_S = 2.0
REFILL_S = 6 * 3600.0
CYCLE_TICKS = 600
REHEARSALS = Path(__file__).parents[1] / "rehearsals"
HUMIDIFIER, EXHAUST = RelayKind.HUMIDIFIER, RelayKind.EXHAUST_FAN
COOLING, HEATER = RelayKind.COOLING, RelayKind.HEATER

Readings = Mapping[str, AirReading | None]
Controller = Callable[[Readings, Readings, float], Mapping[RelayKind, bool]]
"""Newest readings inside and outside, and monotonic seconds, to the relays that shall be closed."""


def ours(plan: RoomPlan) -> Controller:
    before: Decision | None = None
    sensors_outside = UNJUDGED

    def control(inside: Readings, outside: Readings, uptime_s: float) -> Mapping[RelayKind, bool]:
        nonlocal before, sensors_outside
        sensors_outside = judged_outside(sensors_outside, outside, uptime_s=uptime_s)
        air = air_outside(sensors_outside)
        if before is None:
            start = starting_state(plan, uptime_s=uptime_s)
            before = decide(start, plan, inside, uptime_s=uptime_s, outside=air)
        else:
            before = followed(before, plan, inside, uptime_s=uptime_s, outside=air)
        return {command.relay: command.closed for command in before.commands}

    return control


def without_the_gate(plan: RoomPlan) -> Controller:
    control = ours(plan)
    return lambda inside, _outside, uptime_s: control(inside, {}, uptime_s)


def thermostat(plan: RoomPlan) -> Controller:
    """On at the edge of the band, off at the other (fan and heater: at the setpoint); no pause."""
    assert plan.humidity
    closed = dict.fromkeys(plan.relays, False)
    humidity, temperature = plan.humidity, plan.temperature

    def control(inside: Readings, _outside: Readings, _uptime_s: float) -> Mapping[RelayKind, bool]:
        (reading,) = inside.values()
        if reading is None:
            return closed
        off_pct = (reading.humidity_pct - humidity.setpoint_pct) / humidity.band_pct
        closed[HUMIDIFIER] = off_pct <= -1 or (closed[HUMIDIFIER] and off_pct < 1)
        drier = HEATER if HEATER in closed else EXHAUST
        closed[drier] = off_pct >= 1 or (closed[drier] and off_pct > 0)
        if temperature:
            off_c = (reading.temperature_c - temperature.setpoint_c) / temperature.band_c
            closed[COOLING] = off_c >= 1 or (closed[COOLING] and off_c > -1)
        return closed

    return control


CONTROLLERS = {"hangroom": ours, "no gate": without_the_gate, "thermostat": thermostat}


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One room under one controller; `cycle_in_band_pct`: of the mean over 20 min."""

    figures: RoomFigures
    cycle_in_band_pct: float
    balance_residual: float

    @property
    def switches_per_day(self) -> float:
        return sum(self.figures.switches_per_day.get(kind, 0.0) for kind in (HUMIDIFIER, EXHAUST))


class Bench:
    """A rehearsal's one room, its sensors inside and outside, and its clock."""

    def __init__(self, scenario: Scenario, settings: Settings) -> None:
        ((name, table),) = settings.room.items()
        self.clock = SimulatedClock(start=datetime(2026, 4, 1, tzinfo=UTC))
        self.plan = table.plan(name, settings.outside)
        self.room: SimulatedRoom = simulated_room(name, 0, scenario, table, self.clock)
        self._outside = outside(
            settings.outside, clock=self.clock, ambient=scenario.ambient, seed=scenario.seed
        )
        self.clock.follow(self.room.advance)
        self.clock.follow(self._outside.advance)

    def tick(self, control: Controller) -> None:
        """Let the controller see and switch."""
        uptime_s = self.clock.uptime_s()
        closed = control(
            {sensor.name: sensor.latest() for sensor in self.room.sensors},
            {name: sensor.latest() for name, sensor in self._outside.sensors.items()},
            uptime_s,
        )
        for kind, relay in self.room.relays.items():
            if not closed[kind]:
                relay.open()
        for kind, relay in self.room.relays.items():
            if closed[kind]:
                relay.hold_closed(until_uptime_s=uptime_s + 3 * TICK_S)


def run(scenario: Scenario, settings: Settings, make: Callable[[RoomPlan], Controller]) -> Run:
    bench = Bench(scenario, settings)
    plan, room, clock = bench.plan, bench.room, bench.clock
    warmup_s = 3600 * scenario.warmup_h
    record = RoomRecord(room, plan, warmup_s=warmup_s, lasts_s=scenario.lasts_s)
    control = make(plan)
    true_pct = []
    while (uptime_s := clock.uptime_s()) < scenario.lasts_s:
        if uptime_s % REFILL_S == 0.0:
            room.refill()
        bench.tick(control)
        record.look(uptime_s, running=True)
        true_pct.append(room.humidity_pct())
        clock.wait_until(uptime_s + TICK_S)
    assert plan.humidity
    sums = [0.0, *accumulate(true_pct)]
    first = max(CYCLE_TICKS, round(warmup_s / TICK_S))
    off_pct = [
        abs((sums[end] - sums[end - CYCLE_TICKS]) / CYCLE_TICKS - plan.humidity.setpoint_pct)
        for end in range(first, len(sums))
    ]
    inside = sum(off <= plan.humidity.band_pct for off in off_pct)
    return Run(
        figures=record.figures(),
        cycle_in_band_pct=100.0 * inside / len(off_pct),
        balance_residual=room.balance().worst_ratio,
    )


def days_per_cpu_s(scenario: Scenario, settings: Settings) -> float:
    """Speed of room and decisions alone, with nothing looking on."""
    bench = Bench(scenario, settings)
    control = ours(bench.plan)
    started_s = process_time()
    while (uptime_s := bench.clock.uptime_s()) < 86_400:
        bench.tick(control)
        bench.clock.wait_until(uptime_s + TICK_S)
    return 1.0 / (process_time() - started_s)


BESIDE = ("hangroom", "thermostat")
ROOMS = dict.fromkeys(
    (
        "leaky-closet", "leaky-closet-bare", "wet-fresh-load", "wet-fresh-load-bare", "late-load",
        "walk-in-room", "busy-door", "busy-door-bare", "fridge-reheat",
    ),
    BESIDE,
) | {"april-cellar": ("hangroom", "no gate", "thermostat")}  # fmt: skip
# The weather is one spell; the others are cut to the days asked for.
WHOLE = {"april-cellar"}

HEADINGS = (
    "in band", "20 min", "mean", "sd", "p99", "hum./d", "fan/d", "fan on", "cool./d", "heat on",
    "water/d", "loss/d", "fights", "unsafe",
)  # fmt: skip


def line(run: Run) -> str:
    f = run.figures
    cells = (
        f.in_band_pct or 0.0, run.cycle_in_band_pct, f.humidity_mean_pct, f.humidity_sd_pct,
        f.humidity_p99_pct, f.switches_per_day.get(HUMIDIFIER, 0.0),
        f.switches_per_day.get(EXHAUST, 0.0), f.on_pct.get(EXHAUST, 0.0),
        f.switches_per_day.get(COOLING, 0.0), f.on_pct.get(HEATER, 0.0), f.water_g_per_day,
        f.loss_pct_per_day or 0.0, f.fights_per_day, float(f.unsafe_states),
    )  # fmt: skip
    return " ".join(f"{cell:8.2f}" if cell < 100 else f"{cell:8.0f}" for cell in cells)


def goal(says: str, worst: float, limit: float, *, at_least: bool = False) -> None:
    met = worst >= limit if at_least else worst <= limit
    print(f"  {'met    ' if met else 'NOT MET'}  {says}: {worst:.4g}, goal {limit:g}")


def tell_goals(runs: Mapping[tuple[str, str], list[Run]]) -> None:
    print("\nThe worst seed against the goals")
    for room in (room for room in ROOMS if (room, "hangroom") in runs):
        if room in {"april-cellar", "fridge-reheat"}:
            continue
        in_band_pct = min(run.figures.in_band_pct or 0.0 for run in runs[room, "hangroom"])
        goal(f"{room}, % of the time in band", in_band_pct, 99, at_least=True)
    for room in ("leaky-closet", "leaky-closet-bare"):
        if leaky := runs.get((room, "hangroom")):
            switches = max(run.switches_per_day for run in leaky)
            goal(f"{room}, humidifier + fan switches a day", switches, 400)
            water_g = max(run.figures.water_g_per_day for run in leaky)
            goal(f"{room}, g water a day", water_g, 155)
    if gated := runs.get(("april-cellar", "hangroom")):
        goal("april-cellar, fan on %", max(run.figures.on_pct[EXHAUST] for run in gated), 3)
        open_pct = max(r.figures.loss_pct_per_day or 0.0 for r in runs["april-cellar", "no gate"])
        loss_pct = min(run.figures.loss_pct_per_day or 0.0 for run in gated)
        goal("april-cellar, % weight loss a day", loss_pct, open_pct, at_least=True)
    if fridge := runs.get(("fridge-reheat", "hangroom")):
        cycle_pct = min(run.cycle_in_band_pct for run in fridge)
        goal(
            "fridge-reheat, % of the time with the 20 min mean in band",
            cycle_pct,
            95,
            at_least=True,
        )
    every = [
        run for (_, controller), of in runs.items() if controller != "thermostat" for run in of
    ]
    goal("unsafe states", sum(run.figures.unsafe_states for run in every), 0)
    goal("balance residual", max(run.balance_residual for run in every), 1e-9)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("rooms", nargs="*", default=list(ROOMS), metavar="ROOM")
    parser.add_argument("--days", type=float, default=2.0)
    parser.add_argument("--seeds", type=int, default=5)
    given = parser.parse_args()
    runs: dict[tuple[str, str], list[Run]] = {}
    for room in given.rooms:
        scenario, settings = read_rehearsal(REHEARSALS / f"{room}.toml")
        doors = tuple(f for f in scenario.faults if f.kind is FaultKind.DOOR_OPEN)
        days = scenario.days if room in WHOLE else given.days
        print(f"\n{scenario.name}, {days:g} days of which {scenario.warmup_h:g} h warm-up")
        print(f"{'':18}" + " ".join(f"{heading:>8}" for heading in HEADINGS))
        for seed in range(1, given.seeds + 1):
            seeded = replace(scenario, days=days, seed=seed, faults=doors)
            for controller in ROOMS[room]:
                one = run(seeded, settings, CONTROLLERS[controller])
                runs.setdefault((room, controller), []).append(one)
                print(f"seed {seed} {controller:10} {line(one)}", flush=True)
    tell_goals(runs)
    scenario, settings = read_rehearsal(REHEARSALS / "leaky-closet.toml")
    speed = days_per_cpu_s(replace(scenario, faults=()), settings)
    goal("simulated days per CPU second, room + decisions", speed, 3, at_least=True)


if __name__ == "__main__":
    main()
