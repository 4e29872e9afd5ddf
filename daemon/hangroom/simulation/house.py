"""One simulated room with everything that belongs to it: physics, sensors, relays, faults, weather.

    clock = SimulatedClock(start=datetime(2026, 4, 1, tzinfo=UTC))
    room = SimulatedRoom(
        "closet",
        RoomSpec(load=LoadSpec()),
        clock=clock,
        ambient=ConstantAir(temperature_c=18.0, humidity_pct=50.0),
        relays=[RelayKind.HUMIDIFIER, RelayKind.EXHAUST_FAN],
    )
    clock.follow(room.advance)  # waiting on the clock now takes the room along
    room.relays[RelayKind.HUMIDIFIER].hold_closed(until_uptime_s=clock.uptime_s() + 4.0)
    clock.wait_until(clock.uptime_s() + 2.0)

With a real clock, as in the live demo, call `room.advance(clock.uptime_s())` before each tick.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from math import ceil, gcd, inf
from typing import Any

from hangroom.errors import InputError
from hangroom.ports import Clock
from hangroom.simulation.ambient import Ambient
from hangroom.simulation.balance import Balance
from hangroom.simulation.faults import Fault, FaultKind, next_change_s
from hangroom.simulation.load import Load, hung_sticks
from hangroom.simulation.parts import Drive
from hangroom.simulation.relay import SimulatedRelay, Stuck
from hangroom.simulation.room import RoomPhysics
from hangroom.simulation.sensor import HEALTHY, SensorSpec, SensorTrouble, SimulatedAirSensor
from hangroom.simulation.spec import RoomSpec
from hangroom.simulation.tally import Counters, Tally
from hangroom.simulation.vapour import saturation_kg_per_m3
from hangroom.stage_table import FANS
from hangroom.terms import RelayKind

SHORTEST_STEP_S = 0.5
LONGEST_STEP_S = 2.0
# The weather is looked up this often.
AMBIENT_S = 300.0


class SimulatedRoom:
    """A room that is controlled through its ports and looked into from outside.

    `sensors` maps names to how each errs (default: one healthy sensor, "main"); faults of sensors
    strike the first. Of `faults` it suffers those that carry its name. The air starts as outside
    unless told otherwise. `step_s` 0.5 to 2. Raises InputError.
    """

    def __init__(
        self,
        name: str,
        spec: RoomSpec,
        *,
        clock: Clock,
        ambient: Ambient,
        relays: Iterable[RelayKind],
        sensors: Mapping[str, SensorSpec] | None = None,
        faults: Sequence[Fault] = (),
        step_s: float = 1.0,
        seed: int = 1,
        start_temperature_c: float | None = None,
        start_humidity_pct: float | None = None,
    ) -> None:
        if not SHORTEST_STEP_S <= step_s <= LONGEST_STEP_S:
            raise InputError(
                f"step_s is {step_s:g}; give {SHORTEST_STEP_S:g} to {LONGEST_STEP_S:g} s"
            )
        self.name = name
        self.spec = spec
        self.relays = {kind: SimulatedRelay(clock) for kind in relays}
        self._clock = clock
        self._ambient = ambient
        self._faults = tuple(fault for fault in faults if fault.room == name)
        self._step_s = step_s
        self._ambient_steps = ceil(AMBIENT_S / step_s)

        outside = ambient.at(0.0)
        temperature_c = (
            outside.temperature_c if start_temperature_c is None else start_temperature_c
        )
        self.physics = RoomPhysics(
            spec,
            load=hung_sticks(spec.load) if spec.load is not None else None,
            outside=outside,
            temperature_c=temperature_c,
            vapour_kg_per_m3=(
                outside.vapour_kg_per_m3
                if start_humidity_pct is None
                else start_humidity_pct / 100.0 * saturation_kg_per_m3(temperature_c)
            ),
            step_s=step_s,
        )
        self._sensor_steps: list[tuple[SimulatedAirSensor, int]] = []
        for number, (sensor_name, wanted) in enumerate((sensors or {"main": SensorSpec()}).items()):
            steps = ceil(wanted.interval_s / step_s)
            sensor = SimulatedAirSensor(
                sensor_name,
                replace(wanted, interval_s=steps * step_s),
                clock=clock,
                seed=1000 * seed + number,
                temperature_c=temperature_c,
                vapour_kg_per_m3=self.physics.vapour_kg_per_m3,
            )
            self._sensor_steps.append((sensor, steps))
        self.sensors = tuple(sensor for sensor, _ in self._sensor_steps)

        self._steps_done = 0
        self._first_uptime_s = clock.uptime_s()
        self._outside = outside
        self._active: frozenset[FaultKind] = frozenset()
        self._contacts = [False] * len(self.relays)
        self._relays = tuple(self.relays.values())
        self._tally = Tally(self.relays)
        self.reset_counters()
        self._change_faults()
        # Measurements, weather and changes of faults fall on a common beat.
        self._beat_steps = gcd(self._ambient_steps, *(steps for _, steps in self._sensor_steps))
        self._beat_step = self._beat_steps

    def advance(self, until_uptime_s: float) -> None:
        """Live on, in whole steps, up to that moment of the clock given."""
        step_s = self._step_s
        uptime_s = self._first_uptime_s + self._steps_done * step_s
        left = int((until_uptime_s - uptime_s) / step_s + 1e-9)
        while left > 0:
            lapse_s = self._next_lapse_s(uptime_s)
            steps = min(left, self._beat_step - self._steps_done)
            if lapse_s < steps * step_s:
                steps = ceil(lapse_s / step_s - 1e-9)
            self.physics.run(steps)
            left -= steps
            self._steps_done += steps
            uptime_s = self._first_uptime_s + self._steps_done * step_s
            if self._steps_done == self._beat_step:
                self._keep_beat(uptime_s)

    def temperature_c(self) -> float:
        """True temperature of the air."""
        return self.physics.temperature_c

    def humidity_pct(self) -> float:
        """True relative humidity of the air."""
        return self.physics.humidity_pct()

    @property
    def load(self) -> Load | None:
        """What hangs in the room."""
        return self.physics.load

    def hang(self, load: Load | None) -> None:
        """Exchange what hangs in the room; nothing of it counts as lost."""
        lost_g = self.counters().load_loss_g
        self.physics.hang(load)
        self._hung_g = lost_g + self._load_g()

    def refill(self) -> None:
        """Fill the humidifier's tank; while the fault tank-empty lasts nobody does."""
        if FaultKind.TANK_EMPTY not in self._active:
            self.physics.tank_kg = self.spec.tank_g / 1000.0
            self._drive()

    def elapsed_s(self) -> float:
        """Simulated time since the start, snapshots included."""
        return self._steps_done * self._step_s

    def active_faults(self) -> frozenset[FaultKind]:
        """Faults in force; power-cut, clock-step and disk-full are left to the runner too."""
        elapsed_s = self.elapsed_s()
        return frozenset(fault.kind for fault in self._faults if fault.active(elapsed_s))

    def counters(self) -> Counters:
        """What happened so far."""
        elapsed_s = self.elapsed_s()
        return Counters(
            simulated_s=elapsed_s - self._tally.since_s,
            switches=self._tally.switches(),
            on_s=self._tally.on_s(elapsed_s),
            water_used_g=1000.0 * self.physics.emitted_kg - self._emitted_g,
            load_loss_g=self._hung_g - self._load_g(),
            fights=self._tally.fights,
        )

    def reset_counters(self) -> None:
        """Count anew, for example after the warm-up."""
        self._tally.reset(self.elapsed_s())
        self._emitted_g = 1000.0 * self.physics.emitted_kg
        self._hung_g = self._load_g()

    def balance(self) -> Balance:
        """How well water and heat add up; `worst_ratio` is the one figure to report."""
        return self.physics.balance()

    def snapshot(self) -> dict[str, Any]:
        """State as a JSON-able dict. Relays are left out: they start open. So are counters."""
        return {
            "steps_done": self._steps_done,
            "active": sorted(self._active),
            "physics": self.physics.snapshot(),
            "sensors": [
                sensor.snapshot(self._first_uptime_s + self.elapsed_s()) for sensor in self.sensors
            ],
        }

    def restore(self, snapshot: Mapping[str, Any]) -> None:
        """Go on from a snapshot of a room of the same build, at the clock's present moment."""
        uptime_s = self._clock.uptime_s()
        self._steps_done = snapshot["steps_done"]
        self._first_uptime_s = uptime_s - self.elapsed_s()
        self._active = frozenset(FaultKind(kind) for kind in snapshot["active"])
        self._contacts = [False] * len(self.relays)
        self._tally = Tally(self.relays)
        self.physics.restore(snapshot["physics"])
        for sensor, state in zip(self.sensors, snapshot["sensors"], strict=True):
            sensor.restore(state, uptime_s)
        done = self._steps_done
        self._outside = self._ambient.at((done - done % self._ambient_steps) * self._step_s)
        self._change_faults()
        self._beat_step = done - done % self._beat_steps + self._beat_steps
        self.reset_counters()

    def _keep_beat(self, uptime_s: float) -> None:
        """Measure, look at the weather, let faults begin and end: whatever is due."""
        done = self._steps_done
        self._beat_step = done + self._beat_steps
        for sensor, every in self._sensor_steps:
            if done % every == 0:
                sensor.observe(
                    uptime_s,
                    temperature_c=self.physics.temperature_c,
                    vapour_kg_per_m3=self.physics.vapour_kg_per_m3,
                )
        if done % self._ambient_steps == 0:
            self._outside = self._ambient.at(done * self._step_s)
            self._drive()
        if done * self._step_s >= self._change_s:
            self._change_faults()

    def _next_lapse_s(self, uptime_s: float) -> float:
        """Notice contacts that changed; seconds until the next loan runs out."""
        contacts = []
        lapse_s = inf
        for relay in self._relays:
            contacts.append(relay.contact_at(uptime_s))
            left_s = relay.until_uptime_s - uptime_s
            if 0.0 < left_s < lapse_s:
                lapse_s = left_s
        if contacts != self._contacts:
            self._contacts = contacts
            self._tally.note(contacts, self.elapsed_s())
            self._drive()
        return lapse_s

    def _drive(self) -> None:
        """Tell the physics what works now."""
        working = {kind for kind, closed in zip(self.relays, self._contacts, strict=True) if closed}
        if FaultKind.FAN_DEAD in self._active:
            working -= FANS
        if FaultKind.COOLING_DEAD in self._active:
            working.discard(RelayKind.COOLING)
        self.physics.drive(
            Drive(
                working=frozenset(working),
                door_open=FaultKind.DOOR_OPEN in self._active,
                outside=self._outside,
            )
        )

    def _change_faults(self) -> None:
        """Let faults begin and end."""
        elapsed_s = self.elapsed_s()
        before, active = self._active, self.active_faults()
        self._active = active
        self._change_s = next_change_s(self._faults, elapsed_s)
        stuck = {
            RelayKind.HUMIDIFIER: _stuck(
                closed=FaultKind.HUMIDIFIER_STUCK_ON in active,
                opened=FaultKind.HUMIDIFIER_STUCK_OFF in active,
            ),
            self._fan(): _stuck(closed=FaultKind.FAN_STUCK_ON in active, opened=False),
        }
        for kind, relay in self.relays.items():
            relay.stuck = stuck.get(kind)
            relay.powered = FaultKind.POWER_CUT not in active
        self.sensors[0].trouble = self._trouble(elapsed_s)
        for sensor in self.sensors[1:]:
            sensor.trouble = SensorTrouble(silent=FaultKind.POWER_CUT in active)
        if FaultKind.TANK_EMPTY in active:
            self.physics.tank_kg = 0.0
        elif FaultKind.TANK_EMPTY in before:
            self.physics.tank_kg = self.spec.tank_g / 1000.0
        self._drive()

    def _trouble(self, elapsed_s: float) -> SensorTrouble:
        """What the active faults do to the first sensor."""
        active = {fault.kind: fault for fault in self._faults if fault.active(elapsed_s)}
        if not active:
            return HEALTHY
        sizes = {kind: fault.size for kind, fault in active.items()}
        drift = active.get(FaultKind.SENSOR_DRIFT)
        return SensorTrouble(
            silent=FaultKind.SENSOR_SILENT in sizes or FaultKind.POWER_CUT in sizes,
            frozen=FaultKind.SENSOR_FROZEN in sizes,
            wet=FaultKind.SENSOR_WET in sizes,
            bias_pct=sizes.get(FaultKind.SENSOR_BIAS, 0.0),
            drift_pct_per_day=sizes.get(FaultKind.SENSOR_DRIFT, 0.0),
            drift_from_s=drift.at_h * 3600.0 if drift else 0.0,
            spike_pct=sizes.get(FaultKind.SENSOR_SPIKE, 0.0),
        )

    def _fan(self) -> RelayKind:
        """The fan that can get stuck."""
        exhaust = RelayKind.EXHAUST_FAN in self.relays
        return RelayKind.EXHAUST_FAN if exhaust else RelayKind.CIRCULATION_FAN

    def _load_g(self) -> float:
        return 1000.0 * self.load.weight_kg if self.load is not None else 0.0


def _stuck(*, closed: bool, opened: bool) -> Stuck | None:
    """A welded contact stays welded, whatever else is wrong with it."""
    if closed:
        return Stuck.CLOSED
    return Stuck.OPEN if opened else None
