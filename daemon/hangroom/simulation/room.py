"""The physics of one room.

Vapour density and temperature of the air are stepped every `step_s`; what is slower (walls, lining,
coil, load: see `parts`) once per *stretch*, at most ten seconds in which relays and the air outside
stay as they are. Within a stretch the parts stand still, so the air obeys, over the ways i to the
air outside and to every part::

    V dv/dt   = sum g_i (v_i - v) + evaporating mist                    [kg/s]
    C_a dT/dt = sum G_i (T_i - T) + appliances - L evaporating mist     [W]

Coefficients are constant, so each step is the exact exponential, however stiff the exchange. It
also yields the exact mean of v and T over the step. Every flux is linear in that mean: at the end
of the stretch, what left the air is handed to the parts, and water and heat close to rounding.

Heat counts liquid water as nothing: vapour carries the heat of evaporation, frost lacks that of
melting.
"""

from collections.abc import Mapping
from typing import Any

from hangroom.simulation.balance import Account, Balance, balance
from hangroom.simulation.door import door_m3_per_s
from hangroom.simulation.exponential import exact_step
from hangroom.simulation.load import Load
from hangroom.simulation.parts import (
    AIR_J_PER_M3_K,
    EVAPORATION_J_PER_KG,
    Coil,
    Drive,
    HangingLoad,
    OutsideAir,
    Part,
    Walls,
    Way,
)
from hangroom.simulation.spec import RoomSpec
from hangroom.simulation.vapour import humidity_pct, saturation_kg_per_m3, saturation_line
from hangroom.terms import RelayKind

STRETCH_S = 10.0

# Judgement: wire racks, rods and hooks, some five kilos a m3, thin enough to follow the air. Mist
# cools the air by evaporating, and without them would cool it as no furnished room is cooled.
FITTINGS_J_PER_M3_K = 2500.0
# Judgement: a small fan's motor; an ultrasonic disc of 25 W that makes 300 g/h warms its mist.
FAN_W = 3.0
MIST_WARMTH_J_PER_KG = 0.3e6
# Judgement: droplets of 1-5 um are gone in about this time in dry air, and slower near
# saturation; air holds no more fog than this, the rest falls out and drains.
MIST_LIFE_S = 15.0
FOG_LIMIT_KG_PER_M3 = 5e-3
LAST_MIST_KG_PER_M3 = 1e-6


class RoomPhysics:
    """A room that is driven and stepped; its public attributes are the truth.

    The humidifier's tank counts as outside the room: its water enters as mist.
    """

    def __init__(
        self,
        spec: RoomSpec,
        *,
        load: Load | None,
        outside: OutsideAir,
        temperature_c: float,
        vapour_kg_per_m3: float,
        step_s: float,
    ) -> None:
        self.spec = spec
        self.step_s = step_s
        self.temperature_c = temperature_c
        self.vapour_kg_per_m3 = vapour_kg_per_m3
        self.mist_kg = 0.0
        self.tank_kg = spec.tank_g / 1000.0
        self.emitted_kg = 0.0
        self.walls = Walls(
            spec,
            temperature_c=temperature_c,
            equilibrium_ratio=vapour_kg_per_m3 / saturation_kg_per_m3(temperature_c),
        )
        self.coil = Coil(spec, temperature_c=temperature_c) if spec.cooling_w > 0.0 else None
        self.hanging = _hang(load, temperature_c)

        self._air_j_per_k = spec.volume_m3 * (AIR_J_PER_M3_K + FITTINGS_J_PER_M3_K)
        self._dose_kg = spec.humidifier_g_per_h / 3.6e6 * step_s
        self._mist_w = MIST_WARMTH_J_PER_KG * spec.humidifier_g_per_h / 3.6e6
        self._stretch_steps = max(1, round(STRETCH_S / step_s))
        self._drive = Drive(working=frozenset(), door_open=False, outside=outside)
        self._steps_done = 0
        self._vapour_sum = self._temperature_sum = 0.0
        self._mist_lost_kg = self._tank_drawn_kg = 0.0
        self._settle_appliances()
        self._gather_parts()
        self._water = Account(held=self._water_kg(), expected=self._water_kg(), moved=0.0)
        self._heat = Account(held=self._heat_j(), expected=self._heat_j(), moved=0.0)
        self._open_stretch()

    @property
    def load(self) -> Load | None:
        """What hangs in the room."""
        return self.hanging.load if self.hanging is not None else None

    def drive(self, drive: Drive) -> None:
        """Let this hold from now on."""
        self._close_stretch()
        self._drive = drive
        self._settle_appliances()
        self._open_stretch()

    def run(self, steps: int) -> None:
        """Step on, any number of times."""
        while steps > 0:
            count = min(steps, self._steps_left)
            if self._misting or self.mist_kg > 0.0:
                self._run_misty(count)
            else:
                self._run_clear(count)
            steps -= count
            self._steps_left -= count
            if self._steps_left == 0:
                self._close_stretch()
                self._open_stretch()

    def hang(self, load: Load | None) -> None:
        """Exchange the load; it comes in at the temperature of the air."""
        self._close_stretch()
        self.hanging = _hang(load, self.temperature_c)
        self._gather_parts()
        self._water.exchange(held=self._water_kg())
        self._heat.exchange(held=self._heat_j())
        self._open_stretch()

    def humidity_pct(self) -> float:
        """Relative humidity of the air, %."""
        return humidity_pct(
            vapour_kg_per_m3=self.vapour_kg_per_m3, temperature_c=self.temperature_c
        )

    def balance(self) -> Balance:
        """How well water and heat added up, to the end of the last stretch."""
        return balance(water=self._water, heat=self._heat)

    def snapshot(self) -> dict[str, Any]:
        """State as a JSON-able dict."""
        self._close_stretch()
        self._open_stretch()
        return {
            "temperature_c": self.temperature_c,
            "vapour_kg_per_m3": self.vapour_kg_per_m3,
            "mist_kg": self.mist_kg,
            "tank_kg": self.tank_kg,
            "emitted_kg": self.emitted_kg,
            "parts": [part.snapshot() for part in self._parts],
            "water": self._water.snapshot(),
            "heat": self._heat.snapshot(),
        }

    def restore(self, snapshot: Mapping[str, Any]) -> None:
        """Go on from a snapshot of a room of the same build."""
        self.temperature_c = snapshot["temperature_c"]
        self.vapour_kg_per_m3 = snapshot["vapour_kg_per_m3"]
        self.mist_kg = snapshot["mist_kg"]
        self.tank_kg = snapshot["tank_kg"]
        self.emitted_kg = snapshot["emitted_kg"]
        for part, state in zip(self._parts, snapshot["parts"], strict=True):
            part.restore(state)
        self._water = Account.restored(snapshot["water"])
        self._heat = Account.restored(snapshot["heat"])
        self._open_stretch()

    def _run_clear(self, steps: int) -> None:
        """Air without mist."""
        v_in, v_g, v_mean, v_step, t_in, t_g, t_mean, t_step = self._air
        vapour_kg_per_m3 = self.vapour_kg_per_m3
        temperature_c = self.temperature_c
        vapour_sum = self._vapour_sum
        temperature_sum = self._temperature_sum
        for _ in range(steps):
            surplus = v_in - v_g * vapour_kg_per_m3
            vapour_sum += vapour_kg_per_m3 + v_mean * surplus
            vapour_kg_per_m3 += v_step * surplus
            surplus = t_in - t_g * temperature_c
            temperature_sum += temperature_c + t_mean * surplus
            temperature_c += t_step * surplus
        self.vapour_kg_per_m3 = vapour_kg_per_m3
        self.temperature_c = temperature_c
        self._vapour_sum = vapour_sum
        self._temperature_sum = temperature_sum
        self._steps_done += steps

    def _run_misty(self, steps: int) -> None:
        """The same, with mist that comes, evaporates into the air, is carried out and falls.

        dm/dt = G - m s / life - m q / V, s = 6 (1 - RH) within 0 and 1, by an implicit step.
        """
        v_in, v_g, v_mean, v_step, t_in, t_g, t_mean, t_step = self._air
        vapour_kg_per_m3 = self.vapour_kg_per_m3
        temperature_c = self.temperature_c
        vapour_sum = self._vapour_sum
        temperature_sum = self._temperature_sum
        mist_kg = self.mist_kg
        lost_kg = 0.0
        step_s = self.step_s
        dose_kg = min(self._dose_kg, self.tank_kg / steps) if self._misting else 0.0
        fog_limit_kg = FOG_LIMIT_KG_PER_M3 * self.spec.volume_m3
        evaporating_ratio = step_s / MIST_LIFE_S
        carried_ratio = self._carried_ratio
        # The saturation curve's tangent will do for the few tenths of a degree of a stretch.
        slope, level = self._saturation_line
        for _ in range(steps):
            dryness_ratio = 6.0 * (1.0 - vapour_kg_per_m3 / (level + slope * temperature_c))
            if dryness_ratio > 1.0:
                share = evaporating_ratio
            elif dryness_ratio > 0.0:
                share = evaporating_ratio * dryness_ratio
            else:
                share = 0.0
            mist_kg = (mist_kg + dose_kg) / (1.0 + share + carried_ratio)
            evaporated_kg_per_s = share * mist_kg / step_s
            lost_kg += carried_ratio * mist_kg
            if mist_kg > fog_limit_kg:
                lost_kg += mist_kg - fog_limit_kg
                mist_kg = fog_limit_kg
            surplus = v_in + evaporated_kg_per_s - v_g * vapour_kg_per_m3
            vapour_sum += vapour_kg_per_m3 + v_mean * surplus
            vapour_kg_per_m3 += v_step * surplus
            surplus = t_in - EVAPORATION_J_PER_KG * evaporated_kg_per_s - t_g * temperature_c
            temperature_sum += temperature_c + t_mean * surplus
            temperature_c += t_step * surplus
        self.vapour_kg_per_m3 = vapour_kg_per_m3
        self.temperature_c = temperature_c
        self._vapour_sum = vapour_sum
        self._temperature_sum = temperature_sum
        self._steps_done += steps
        self.mist_kg = mist_kg
        self._mist_lost_kg += lost_kg
        self._tank_drawn_kg += dose_kg * steps
        self.tank_kg -= dose_kg * steps

    def _open_stretch(self) -> None:
        """Fix every way for the coming stretch."""
        spec, drive, step_s = self.spec, self._drive, self.step_s
        outside = drive.outside
        self._misting = RelayKind.HUMIDIFIER in drive.working and self.tank_kg > 0.0
        exchange_m3_per_s = self._shut_m3_per_s
        if drive.door_open:
            exchange_m3_per_s += door_m3_per_s(
                room_m3=spec.volume_m3,
                inside_c=self.temperature_c,
                outside_c=outside.temperature_c,
            )
        self._outward = Way(
            exchange_m3_per_s,
            outside.vapour_kg_per_m3,
            exchange_m3_per_s * AIR_J_PER_M3_K,
            outside.temperature_c,
        )
        self._ways = [
            part.way(drive, vapour_kg_per_m3=self.vapour_kg_per_m3) for part in self._parts
        ]
        v_g = v_in = t_g = 0.0
        t_in = self._power_w = self._appliances_w + self._misting * self._mist_w
        for vapour_m3_per_s, vapour_kg_per_m3, heat_w_per_k, heat_c in (self._outward, *self._ways):
            v_g += vapour_m3_per_s
            v_in += vapour_m3_per_s * vapour_kg_per_m3
            t_g += heat_w_per_k
            t_in += heat_w_per_k * heat_c
        self._air = (
            v_in, v_g, *exact_step(v_g, spec.volume_m3, step_s),
            t_in, t_g, *exact_step(t_g, self._air_j_per_k, step_s),
        )  # fmt: skip
        self._carried_ratio = exchange_m3_per_s / spec.volume_m3 * step_s
        if self._misting or self.mist_kg > 0.0:
            self._saturation_line = saturation_line(self.temperature_c)
        self._vapour_sum = self._temperature_sum = 0.0
        self._mist_lost_kg = self._tank_drawn_kg = 0.0
        self._steps_done = 0
        self._steps_left = self._stretch_steps

    def _close_stretch(self) -> None:
        """Hand what went over every way to the part at its end, and book it."""
        if self._steps_done == 0:
            return
        stretch_s = self._steps_done * self.step_s
        vapour_s = self._vapour_sum * self.step_s
        temperature_s = self._temperature_sum * self.step_s
        g_m3_per_s, outside_kg_per_m3, g_w_per_k, outside_c = self._outward
        let_in_kg = g_m3_per_s * (outside_kg_per_m3 * stretch_s - vapour_s)
        let_in_j = g_w_per_k * (outside_c * stretch_s - temperature_s)
        let_in_j += EVAPORATION_J_PER_KG * let_in_kg + self._power_w * stretch_s
        moved_j = abs(let_in_j)
        for part, (g_m3_per_s, end_kg_per_m3, g_w_per_k, end_c) in zip(
            self._parts, self._ways, strict=True
        ):
            offered_kg = g_m3_per_s * (vapour_s - end_kg_per_m3 * stretch_s)
            taken_kg, part_in_j = part.take(
                self._drive,
                water_kg=offered_kg,
                heat_j=g_w_per_k * (temperature_s - end_c * stretch_s),
                stretch_s=stretch_s,
            )
            self.vapour_kg_per_m3 += (offered_kg - taken_kg) / self.spec.volume_m3
            let_in_j += part_in_j
            moved_j += abs(part_in_j)
        self._clear_fog()
        self.emitted_kg += self._tank_drawn_kg
        self._water.close_stretch(
            held=self._water_kg(),
            gained=let_in_kg + self._tank_drawn_kg - self._mist_lost_kg,
            moved=abs(let_in_kg) + self._tank_drawn_kg + self._mist_lost_kg,
        )
        self._heat.close_stretch(held=self._heat_j(), gained=let_in_j, moved=moved_j)
        self._steps_done = 0

    def _clear_fog(self) -> None:
        """Supersaturated air turns to fog, half the surplus at a time; the last mist is air."""
        volume_m3 = self.spec.volume_m3
        surplus_kg_per_m3 = self.vapour_kg_per_m3 - saturation_kg_per_m3(self.temperature_c)
        if surplus_kg_per_m3 > 0.0:
            condensed_kg = volume_m3 * surplus_kg_per_m3 / 2.0
        elif self.mist_kg < LAST_MIST_KG_PER_M3 * volume_m3:
            condensed_kg = -self.mist_kg
        else:
            return
        self.mist_kg += condensed_kg
        self.vapour_kg_per_m3 -= condensed_kg / volume_m3
        self.temperature_c += EVAPORATION_J_PER_KG * condensed_kg / self._air_j_per_k

    def _settle_appliances(self) -> None:
        """Air let in with the door shut, and heat of fans and heater, under the present drive."""
        spec, working = self.spec, self._drive.working
        exhaust = RelayKind.EXHAUST_FAN in working
        fans = exhaust + (RelayKind.CIRCULATION_FAN in working)
        self._shut_m3_per_s = (
            spec.volume_m3 * spec.ach_per_h + spec.fan_m3_per_h * exhaust
        ) / 3600.0
        self._appliances_w = FAN_W * fans + spec.heater_w * (RelayKind.HEATER in working)

    def _gather_parts(self) -> None:
        parts: tuple[Part | None, ...] = (self.walls, self.coil, self.hanging)
        self._parts = [part for part in parts if part is not None]

    def _water_kg(self) -> float:
        """All water in the room, the tank left out."""
        return (
            self.spec.volume_m3 * self.vapour_kg_per_m3
            + self.mist_kg
            + sum([part.water_kg for part in self._parts])
        )

    def _heat_j(self) -> float:
        """All heat in the room, from 0 degC and liquid water."""
        return (
            self._air_j_per_k * self.temperature_c
            + EVAPORATION_J_PER_KG * self.spec.volume_m3 * self.vapour_kg_per_m3
            + sum([part.heat_j for part in self._parts])
        )


def _hang(load: Load | None, temperature_c: float) -> HangingLoad | None:
    return HangingLoad(load, temperature_c=temperature_c) if load is not None else None
