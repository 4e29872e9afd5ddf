"""Running a rehearsal: the real loop on simulated rooms, with the world and its faults around it.

Power cuts, steps of the wall clock and a full disk strike the program, not a room; they are carried
out here. In a power cut the loop is torn down, its memory is gone, and a new one starts after it.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from time import process_time

from hangroom import __version__
from hangroom.alarm_desk.banks import KEPT_AS
from hangroom.alarm_desk.desk import AlarmDesk
from hangroom.alarm_table.log import AlarmEvent
from hangroom.cli.rehearsal_alarms import AlarmSpan, spans
from hangroom.cli.rehearsal_figures import RoomFigures, RoomRecord
from hangroom.cli.simulated_rooms import outside, sensors_of, wired
from hangroom.loop import TICK_S, Loop
from hangroom.settings import RoomTable, Settings
from hangroom.simulation.clock import SimulatedClock
from hangroom.simulation.faults import FaultKind
from hangroom.simulation.house import SimulatedRoom
from hangroom.simulation.notebook import Notebook, NotedEvent
from hangroom.simulation.scenario import WHOLE_HOUSE, Scenario

# An ordinary day, no turn of summer time near it; rehearsals do not depend on the date.
START = datetime(2026, 4, 1, tzinfo=UTC)
# Judgement: what a small computer needs from power to the first tick.
BOOT_S = 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Rehearsal:
    """All that came of it."""

    scenario: Scenario
    cpu_s: float
    figures: Mapping[str, RoomFigures]
    records: Mapping[str, RoomRecord]
    events: tuple[NotedEvent, ...]
    written_rows: int
    most_unwritten_rows: int
    balance_residual: float
    alarms: tuple[AlarmSpan, ...]
    alarm_log: tuple[tuple[str, AlarmEvent], ...]


def rehearse(
    scenario: Scenario, settings: Settings, *, progress: Callable[[float], None]
) -> Rehearsal:
    """Run the scenario to its end; `progress` is told the share done, 0 to 1, after each tick."""
    started_s = process_time()
    world = _World(scenario, settings, progress)
    world.live()
    return Rehearsal(
        scenario=scenario,
        figures={name: record.figures() for name, record in world.records.items()},
        records=world.records,
        events=tuple(world.notebook.events),
        written_rows=world.notebook.written_rows,
        most_unwritten_rows=world.notebook.most_unwritten_rows,
        balance_residual=max(room.balance().worst_ratio for room in world.rooms.values()),
        alarms=spans(world.notebook.alarms),
        alarm_log=tuple(world.notebook.alarms),
        cpu_s=process_time() - started_s,
    )


class _World:
    """The rooms, their clock, and what strikes the program itself."""

    def __init__(
        self, scenario: Scenario, settings: Settings, progress: Callable[[float], None]
    ) -> None:
        self._lasts_s = scenario.lasts_s
        self._progress = progress
        self._dark_s = [
            (3600.0 * fault.at_h, 3600.0 * (fault.at_h + fault.for_h) + BOOT_S)
            for fault in scenario.faults
            if fault.kind is FaultKind.POWER_CUT
        ]
        self._full_disks = [f for f in scenario.faults if f.kind is FaultKind.DISK_FULL]
        self._clock_steps = sorted(
            (3600.0 * fault.at_h, fault.size)
            for fault in scenario.faults
            if fault.kind is FaultKind.CLOCK_STEP
        )
        self._clock = SimulatedClock(start=START)
        self.notebook = Notebook(self._clock)
        self.rooms = {
            name: simulated_room(name, number, scenario, settings.room[name], self._clock)
            for number, name in enumerate(scenario.rooms)
        }
        self._wired = {
            name: wired(room, settings.room[name], settings.outside)
            for name, room in self.rooms.items()
        }
        self._outside = outside(
            settings.outside, clock=self._clock, ambient=scenario.ambient, seed=scenario.seed
        )
        self.records = {
            name: RoomRecord(
                room,
                self._wired[name].plan,
                warmup_s=3600.0 * scenario.warmup_h,
                lasts_s=scenario.lasts_s,
            )
            for name, room in self.rooms.items()
        }
        for room in self.rooms.values():
            self._clock.follow(room.advance)
        self._clock.follow(self._outside.advance)

    def live(self) -> None:
        """Go from the first tick to the end, through every power cut."""
        while self._clock.uptime_s() < self._lasts_s:
            if self._dark_at(self._clock.uptime_s()):
                self._sit_in_the_dark()
            else:
                self._run_the_program()

    def _run_the_program(self) -> None:
        loop = Loop(
            self._wired,
            clock=self._clock,
            journal=self.notebook,
            alarms=AlarmDesk(
                self._wired,
                clock=self._clock,
                journal=self.notebook,
                kept=self.notebook.kept.get(KEPT_AS),
                off_since=self.notebook.written_at,
            ),
            boot_id="rehearsal",
            version=__version__,
            plans_now=lambda plans, _now, _uptime_s: plans,
            show=lambda _board: None,
            alive=lambda: self._after_a_tick(loop),
            clock_jumped=lambda: None,
            kept=self.notebook.kept,
            outside=self._outside.sensors,
        )
        loop.run()

    def _after_a_tick(self, loop: Loop) -> None:
        self._look(running=True)
        # A tick that would fall into the dark, or after the end, is no longer made.
        next_s = self._clock.uptime_s() + TICK_S
        if next_s >= self._lasts_s or self._dark_at(next_s):
            loop.stop()

    def _sit_in_the_dark(self) -> None:
        self.notebook.lose_unwritten()
        while (uptime_s := self._clock.uptime_s()) < self._lasts_s and self._dark_at(uptime_s):
            self._look(running=False)
            self._clock.wait_until(uptime_s + TICK_S)

    def _look(self, *, running: bool) -> None:
        uptime_s = self._clock.uptime_s()
        for record in self.records.values():
            record.look(uptime_s, running=running)
        while self._clock_steps and self._clock_steps[0][0] <= uptime_s:
            self._clock.step_wall(self._clock_steps.pop(0)[1])
        self.notebook.disk_full = any(fault.active(uptime_s) for fault in self._full_disks)
        self._progress(uptime_s / self._lasts_s)

    def _dark_at(self, uptime_s: float) -> bool:
        return any(from_s <= uptime_s < until_s for from_s, until_s in self._dark_s)


def simulated_room(
    name: str, number: int, scenario: Scenario, table: RoomTable, clock: SimulatedClock
) -> SimulatedRoom:
    """Return a scenario's room, the `number`-th, with the sensors and relays of its settings."""
    return SimulatedRoom(
        name,
        scenario.rooms[name],
        clock=clock,
        ambient=scenario.ambient,
        relays=[relay.switches() for relay in table.relay.values()],
        sensors=sensors_of(table),
        faults=[
            replace(fault, room=name) if fault.kind in WHOLE_HOUSE else fault
            for fault in scenario.faults
        ],
        step_s=scenario.step_s,
        seed=100 * scenario.seed + number,
    )
