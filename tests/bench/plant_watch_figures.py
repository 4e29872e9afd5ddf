"""The plant watch in figures: how soon it notices each fault, and what it tells in healthy days.

    python tests/bench/plant_watch_figures.py [--seeds 5] [--soak-days 30]

The real decisions run in the rooms of tests/rehearsals, and one more of four cubic metres in dry
air. Each fault begins at a moment drawn from the seed, six to nine hours after the start, and lasts
until it is noticed or three hours are over. Noticed is when the alarm would be raised, its row's
delay included. A tank or a fan that is not needed cannot be missed: beside the time from the fault
stands the time from when its relay was closed for the first time after it. Two watches look on, one
of which is told the air outside; the slower one counts.

In the healthy days the door is opened for a minute every three hours, and all that is told counts.
Tanks are filled every six hours. `--soak-days 0` leaves them out.
"""

import argparse
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from math import ceil
from pathlib import Path
from random import Random
from time import process_time

from hangroom.alarm_table.row import AlarmId
from hangroom.alarm_table.table import TABLE
from hangroom.cli.rehearsal import simulated_room
from hangroom.cli.rehearse import read_rehearsal
from hangroom.control.alarms.delays import Delayed, delayed
from hangroom.control.memory import starting_state
from hangroom.control.plant_watch.trace import AirSeen
from hangroom.control.plant_watch.watch import Memory, Seen, starting_memory, watched
from hangroom.control.room import decide
from hangroom.settings import RoomTable
from hangroom.simulation.ambient import ConstantAir
from hangroom.simulation.clock import SimulatedClock
from hangroom.simulation.faults import Fault, FaultKind
from hangroom.simulation.scenario import Scenario
from hangroom.simulation.vapour import humidity_pct
from hangroom.terms import Because, RelayKind

TICK_S = 2.0
HOUR_S = 3600.0
REFILL_S = 6 * HOUR_S
LASTS_H = 3.0
REHEARSALS = Path(__file__).parents[1] / "rehearsals"

Room = tuple[Scenario, RoomTable]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One fault, the alarm that must notice it, and within how many minutes."""

    fault: FaultKind
    alarm: AlarmId
    within_min: float
    needed: RelayKind | None = None


TANK_EMPTY = Asked(
    fault=FaultKind.TANK_EMPTY,
    alarm=AlarmId.HUMIDIFIER_INEFFECTIVE,
    within_min=30,
    needed=RelayKind.HUMIDIFIER,
)
FAN_DEAD = Asked(
    fault=FaultKind.FAN_DEAD,
    alarm=AlarmId.FAN_INEFFECTIVE,
    within_min=15,
    needed=RelayKind.EXHAUST_FAN,
)
WELDED = Asked(fault=FaultKind.HUMIDIFIER_STUCK_ON, alarm=AlarmId.HUMIDIFIER_STUCK_ON, within_min=5)
COOLING_DEAD = Asked(fault=FaultKind.COOLING_DEAD, alarm=AlarmId.COOLING_INEFFECTIVE, within_min=60)
DOOR = Asked(fault=FaultKind.DOOR_OPEN, alarm=AlarmId.DOOR_OPEN, within_min=20)

PLAN = {
    "leaky-closet": (TANK_EMPTY, WELDED, DOOR),
    "wet-fresh-load": (FAN_DEAD, WELDED, DOOR),
    "busy-door": (FAN_DEAD, WELDED, DOOR),
    "dry-4-m3": (TANK_EMPTY, WELDED, DOOR),
    "fridge": (COOLING_DEAD, DOOR),
}


@dataclass(slots=True)
class Watch:
    """One watch with its alarms' delays, and when each was raised."""

    told_outside: bool
    memory: Memory = field(default_factory=lambda: starting_memory(uptime_s=0.0))
    delays: dict[AlarmId, Delayed] = field(default_factory=dict)
    raised: list[tuple[float, AlarmId]] = field(default_factory=list)

    def look(self, seen: Seen) -> None:
        told = seen if self.told_outside else replace(seen, outside=None)
        self.memory, findings = watched(self.memory, told)
        for alarm, raw in findings.raw.items():
            row, before = TABLE[alarm], self.delays.get(alarm, Delayed())
            after = delayed(
                before,
                raw.side,
                on_delay_s=row.on_delay_s,
                off_delay_s=row.off_delay_s,
                uptime_s=seen.uptime_s,
            )
            if after.active and not before.active:
                self.raised.append((seen.uptime_s, alarm))
            self.delays[alarm] = after


def ticks(scenario: Scenario, table: RoomTable) -> Iterator[Seen]:
    """What the watch is shown, tick after tick, of a room under the daemon's own decisions."""
    (name,) = scenario.rooms
    plan = table.plan(name)
    clock = SimulatedClock(start=datetime(2026, 4, 1, tzinfo=UTC))
    room = simulated_room(name, 0, scenario, table, clock)
    clock.follow(room.advance)
    state = starting_state(plan, uptime_s=0.0)
    while (uptime_s := clock.uptime_s()) < scenario.lasts_s:
        if uptime_s % REFILL_S == 0.0:
            room.refill()
        readings = {sensor.name: sensor.latest() for sensor in room.sensors}
        decision = decide(state, plan, readings, uptime_s=uptime_s)
        state = decision.state
        for command in decision.commands:
            if command.closed:
                room.relays[command.relay].hold_closed(until_uptime_s=uptime_s + 3 * TICK_S)
            else:
                room.relays[command.relay].open()
        outside = scenario.ambient.at(room.elapsed_s())
        yield Seen(
            stage=plan.stage,
            relays={command.relay: command.closed for command in decision.commands},
            air=None
            if isinstance(decision.air, Because)
            else AirSeen(
                temperature_c=decision.air.temperature_c,
                humidity_pct=decision.air.humidity_pct,
                taken_uptime_s=max(r.taken_uptime_s for r in readings.values() if r),
            ),
            outside=AirSeen(
                temperature_c=outside.temperature_c,
                humidity_pct=humidity_pct(
                    vapour_kg_per_m3=outside.vapour_kg_per_m3,
                    temperature_c=outside.temperature_c,
                ),
                taken_uptime_s=uptime_s,
            ),
            humidity=plan.humidity,
            temperature=plan.temperature,
            uptime_s=uptime_s,
        )
        clock.wait_until(uptime_s + TICK_S)


def room_of(name: str) -> Room:
    scenario, settings = read_rehearsal(
        REHEARSALS / f"{name.replace('dry-4-m3', 'busy-door')}.toml"
    )
    (table,) = settings.room.values()
    if name == "dry-4-m3":
        (inside,) = scenario.rooms
        fewer = replace(scenario.rooms[inside], load=None)
        air = ConstantAir(temperature_c=15.0, humidity_pct=40.0)
        scenario = replace(scenario, rooms={inside: fewer}, ambient=air)
    return replace(scenario, faults=(), step_s=TICK_S), table


def doors(scenario: Scenario, *, first_h: float, until_h: float) -> tuple[Fault, ...]:
    """The door opened for a minute every three hours."""
    (name,) = scenario.rooms
    times = range(ceil((until_h - first_h) / 3.0))
    return tuple(
        Fault(room=name, kind=FaultKind.DOOR_OPEN, at_h=first_h + 3.0 * time, for_h=1 / 60)
        for time in times
    )


@dataclass(frozen=True, slots=True)
class Noticed:
    """How many minutes it took from the fault, and from when its relay was needed; None: never."""

    after_min: float | None
    needed_min: float | None


def notices(name: str, asked: Asked, seed: int) -> Noticed:
    scenario, table = room_of(name)
    (inside,) = scenario.rooms
    at_h = 6.0 + 3.0 * Random(f"{name} {asked.fault} {seed}").random()
    fault = Fault(room=inside, kind=asked.fault, at_h=at_h, for_h=LASTS_H)
    earlier = doors(scenario, first_h=1.0, until_h=5.5) if name == "busy-door" else ()
    scenario = replace(scenario, seed=seed, days=(at_h + LASTS_H) / 24.0, faults=(*earlier, fault))
    watches = [Watch(told_outside=True), Watch(told_outside=False)]
    needed_s, at_s = None if asked.needed else at_h * HOUR_S, at_h * HOUR_S
    for seen in ticks(scenario, table):
        for watch in watches:
            watch.look(seen)
        if asked.needed and needed_s is None and seen.uptime_s >= at_s:
            needed_s = seen.uptime_s if seen.relays[asked.needed] else None
        raised = [
            [s for s, alarm in watch.raised if alarm is asked.alarm and s >= at_s]
            for watch in watches
        ]
        if all(raised) and needed_s is not None:
            raised_s = max(times[0] for times in raised)
            return Noticed((raised_s - at_s) / 60, (raised_s - needed_s) / 60)
    return Noticed(None, None)


def p95(figures: list[float]) -> float:
    """The nearest rank."""
    return sorted(figures)[ceil(0.95 * len(figures)) - 1]


def show_faults(seeds: int) -> None:
    everything: dict[FaultKind, list[float]] = {}
    print(f"Minutes to the alarm, {seeds} seeds: from the fault (from when it was needed)")
    for name, plan in PLAN.items():
        for asked in plan:
            found = [notices(name, asked, seed) for seed in range(1, seeds + 1)]
            shown = "  ".join(
                "never"
                if one.after_min is None
                else f"{one.after_min:.1f}" + f" ({one.needed_min:.1f})" * bool(asked.needed)
                for one in found
            )
            print(f"  {name:15} {asked.fault:20} {shown}", flush=True)
            everything.setdefault(asked.fault, []).extend(
                float("inf") if one.after_min is None else one.after_min for one in found
            )
    print("\nAgainst the goals, all rooms together")
    goals = {asked.fault: asked.within_min for plan in PLAN.values() for asked in plan}
    for kind, within_min in goals.items():
        reached_min = p95(everything[kind])
        met = "met    " if reached_min <= within_min else "NOT MET"
        print(
            f"  {met}  {kind:20} p95 {reached_min:5.1f} min, slowest {max(everything[kind]):5.1f},"
            f" goal {within_min:g}, {len(everything[kind])} runs"
        )


def show_soak(days: float) -> None:
    print(f"\nHealthy, {days:g} days, the door opened 8 times a day: alarms raised (goal 0)")
    for number, name in enumerate(PLAN):
        scenario, table = room_of(name)
        opened = doors(scenario, first_h=1.0 + 0.3 * number, until_h=24 * days)
        scenario = replace(scenario, seed=100 + number, days=days, faults=opened)
        watches = [Watch(told_outside=True), Watch(told_outside=False)]
        seen_open, was_open, watching_s = 0, False, 0.0
        for seen in ticks(scenario, table):
            began_s = process_time()
            for watch in watches:
                watch.look(seen)
            watching_s += process_time() - began_s
            is_open = watches[1].memory.door.is_open
            seen_open += is_open and not was_open
            was_open = is_open
        raised = [f"{alarm} {s / HOUR_S:.1f} h" for watch in watches for s, alarm in watch.raised]
        print(
            f"  {name:15} {len(raised)} {' '.join(raised)}  doors seen {seen_open} of {len(opened)}"
            f"  {watching_s / 2 / days:.2f} CPU seconds a day",
            flush=True,
        )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=5)
    parser.add_argument("--soak-days", type=float, default=30.0)
    given = parser.parse_args()
    if given.seeds:
        show_faults(given.seeds)
    if given.soak_days:
        show_soak(given.soak_days)


if __name__ == "__main__":
    main()
