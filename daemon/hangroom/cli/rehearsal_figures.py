"""What a rehearsal keeps of each room while it runs, and the figures drawn from it."""

from array import array
from collections.abc import Mapping
from dataclasses import dataclass, field
from math import ceil, fsum, sqrt

from hangroom.simulation.house import SimulatedRoom
from hangroom.simulation.witness import Witness
from hangroom.terms import RelayKind, RoomPlan

DAY_S = 86_400.0
# As many columns as the picture has pixels across; more could not be seen.
COLUMNS = 900
# An older reading is not what the sensor shows now.
SHOWN_FOR_S = 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomFigures:
    """One room in figures, after the warm-up; unsafe states are counted from the start.

    None stands where nothing was asked or nothing hangs. The names are those of the JSON.
    """

    in_band_pct: float | None
    humidity_mean_pct: float
    humidity_sd_pct: float
    humidity_p99_pct: float
    temperature_mean_c: float
    switches_per_day: Mapping[str, float]
    on_pct: Mapping[str, float]
    water_g_per_day: float
    loss_pct_per_day: float | None
    fights_per_day: float
    unsafe_states: int


@dataclass(slots=True, kw_only=True)
class Column:
    """What one column of the picture shows: ranges as (lowest, highest), ticks a relay was on."""

    ticks: int = 0
    temperature_sum_c: float = 0.0
    humidity_pct: tuple[float, float] = (101.0, -1.0)
    sensed_pct: tuple[float, float] = (101.0, -1.0)
    on_ticks: dict[RelayKind, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Switch:
    """A relay told to change, in seconds since the start."""

    at_s: float
    relay: RelayKind
    closed: bool


class RoomRecord:
    """Looks at one simulated room after every tick."""

    def __init__(
        self, room: SimulatedRoom, plan: RoomPlan, *, warmup_s: float, lasts_s: float
    ) -> None:
        self.plan = plan
        self.columns = [Column() for _ in range(COLUMNS)]
        self.switches: list[Switch] = []
        self.unsafe: dict[str, int] = {}
        self.unsafe_states = 0
        self._room = room
        self._witness = Witness(plan)
        self._closed = dict.fromkeys(plan.relays, False)
        self._warmup_s = warmup_s
        self._column_s = lasts_s / COLUMNS
        self._hung_g = 0.0
        self._humidity_pct = array("d")
        self._temperature_c = array("d")

    def look(self, uptime_s: float, *, running: bool) -> None:
        """Take note of the room as it is, right after a tick or while there is no program.

        The clock is the rehearsal's own, which starts at 0.
        """
        room = self._room
        humidity_pct, temperature_c = room.humidity_pct(), room.temperature_c()
        closed = {kind: relay.is_closed() for kind, relay in room.relays.items()}
        readings = [sensor.latest() for sensor in room.sensors]
        wrong = self._witness.look(closed, readings, uptime_s=uptime_s, running=running)
        if closed != self._closed:
            self.switches += [
                Switch(at_s=uptime_s, relay=kind, closed=now)
                for kind, now in closed.items()
                if now != self._closed[kind]
            ]
            self._closed = closed
        if wrong:
            self.unsafe_states += 1
            for line in wrong:
                self.unsafe[line] = self.unsafe.get(line, 0) + 1
        if uptime_s >= self._warmup_s:
            if not self._humidity_pct:
                room.reset_counters()
                self._hung_g = 1000.0 * room.load.weight_kg if room.load else 0.0
            self._humidity_pct.append(humidity_pct)
            self._temperature_c.append(temperature_c)
        column = self.columns[min(COLUMNS - 1, int(uptime_s / self._column_s))]
        column.ticks += 1
        column.temperature_sum_c += temperature_c
        column.humidity_pct = _widened(column.humidity_pct, humidity_pct)
        if readings[0] is not None and uptime_s - readings[0].taken_uptime_s <= SHOWN_FOR_S:
            column.sensed_pct = _widened(column.sensed_pct, readings[0].humidity_pct)
        for kind, relay in room.relays.items():
            if relay.contact_at(uptime_s):
                column.on_ticks[kind] = column.on_ticks.get(kind, 0) + 1

    def figures(self) -> RoomFigures:
        """Return the room's figures; at least one look after the warm-up must have been taken."""
        counters = self._room.counters()
        days = counters.simulated_s / DAY_S
        humidity_pct = sorted(self._humidity_pct)
        looks = len(humidity_pct)
        mean_pct = fsum(humidity_pct) / looks
        return RoomFigures(
            in_band_pct=self._in_band_pct(),
            humidity_mean_pct=mean_pct,
            humidity_sd_pct=sqrt(fsum((seen - mean_pct) ** 2 for seen in humidity_pct) / looks),
            humidity_p99_pct=humidity_pct[ceil(0.99 * looks) - 1],
            temperature_mean_c=fsum(self._temperature_c) / looks,
            switches_per_day={kind: count / days for kind, count in counters.switches.items()},
            on_pct={
                kind: 100.0 * on_s / counters.simulated_s for kind, on_s in counters.on_s.items()
            },
            water_g_per_day=counters.water_used_g / days,
            loss_pct_per_day=(
                100.0 * counters.load_loss_g / self._hung_g / days if self._hung_g else None
            ),
            fights_per_day=counters.fights / days,
            unsafe_states=self.unsafe_states,
        )

    def _in_band_pct(self) -> float | None:
        target = self.plan.humidity
        if target is None:
            return None
        inside = sum(
            abs(true_pct - target.setpoint_pct) <= target.band_pct
            for true_pct in self._humidity_pct
        )
        return 100.0 * inside / len(self._humidity_pct)


def _widened(span_pct: tuple[float, float], seen_pct: float) -> tuple[float, float]:
    lowest_pct, highest_pct = span_pct
    if lowest_pct <= seen_pct <= highest_pct:
        return span_pct
    return min(lowest_pct, seen_pct), max(highest_pct, seen_pct)
