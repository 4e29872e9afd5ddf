"""A closet in closed form, and somebody who switches its relays by hand while the watch looks on.

Of the project only the plant watch itself is used. Air that exchanges with others at constant rates
follows dv/dt = sum k_i (v_i - v) + G / V, whose solution is one exponential; so does a temperature.
Vapour by the Magnus formula with the constants of the WMO's Guide No. 8 (611.2 Pa, 17.62, 243.12
degC), which are not the ones the project uses.
"""

from collections.abc import Collection
from dataclasses import dataclass, field
from math import exp
from random import Random

from hangroom.alarm_table.row import AlarmId
from hangroom.control.alarms.delays import Raw, Side
from hangroom.control.plant_watch.trace import AirSeen
from hangroom.control.plant_watch.watch import Findings, Memory, Seen, starting_memory, watched
from hangroom.terms import HumidityTarget, RelayKind, Stage, TemperatureTarget

TICK_S = 2
READ_EVERY_S = 6
NOISE_PCT, NOISE_C = 0.3, 0.05  # repeatability of a room sensor: common practice, no source
HUMIDITY = HumidityTarget(setpoint_pct=80, band_pct=2, low_limit_pct=50, high_limit_pct=92)
HUMIDIFIER, FAN, COOLING = RelayKind.HUMIDIFIER, RelayKind.EXHAUST_FAN, RelayKind.COOLING


def vapour_g_per_m3(temperature_c: float, humidity_pct: float) -> float:
    """Ideal gas, 461.5 J/(kg K)."""
    pressure_pa = 611.2 * exp(17.62 * temperature_c / (243.12 + temperature_c))
    return 10 * humidity_pct * pressure_pa / (461.5 * (temperature_c + 273.15))


@dataclass(kw_only=True)
class Closet:
    """The plant and its faults; rates are changes of air per hour, doses grams per hour and m3.

    `given_off_per_h`: how fast the air nears `product_pct`, what the sticks would bring it to.
    `mist_cools_c_per_h`: by evaporating. `coil_per_h`: how fast cooling dries, towards frost.
    """

    temperature_c: float = 15.0
    humidity_pct: float = 80.0
    outside_c: float = 15.0
    outside_pct: float = 50.0
    leaks_per_h: float = 1.0
    fan_per_h: float = 30.0
    door_per_h: float = 36.0
    given_off_per_h: float = 0.0
    product_pct: float = 92.0
    mist_g_per_h_m3: float = 300.0
    cooling_c_per_h: float = 20.0
    warming_per_h: float = 0.25
    mist_cools_c_per_h: float = 0.0
    coil_per_h: float = 0.0
    tank_empty: bool = False
    welded: bool = False
    fan_dead: bool = False
    compressor_dead: bool = False
    door_open: bool = False
    relays: Collection[RelayKind] = (HUMIDIFIER, FAN)
    humidity: HumidityTarget | None = HUMIDITY
    temperature: TemperatureTarget | None = None
    outside_known: bool = True
    stage: Stage = Stage.HANG
    noise: Random | None = field(default_factory=lambda: Random(1))
    blind: bool = False

    uptime_s: int = 0
    memory: Memory = field(default_factory=lambda: starting_memory(uptime_s=0.0))
    findings: Findings = field(default_factory=lambda: Findings(raw={}, door_open=False))
    seen: AirSeen | None = None

    def __post_init__(self) -> None:
        self.vapour = vapour_g_per_m3(self.temperature_c, self.humidity_pct)

    @property
    def saturated(self) -> float:
        """Vapour at saturation, g/m3."""
        return vapour_g_per_m3(self.temperature_c, 100)

    def live(self, for_s: float, *closed: RelayKind) -> Findings:
        """Go on with these relays closed; return what is found at the end."""
        for _ in range(round(for_s / TICK_S)):
            self._look(closed)
            self._step(closed)
        return self.findings

    def runs(self, relay: RelayKind, times: int, *, for_s: float, rest_s: float = 240) -> Findings:
        """Close a relay so often for so long, with a rest after each."""
        for _ in range(times):
            self.live(for_s, relay)
            self.live(rest_s)
        return self.findings

    def raw(self, alarm: AlarmId) -> Raw:
        return self.findings.raw[alarm]

    def side(self, alarm: AlarmId) -> Side:
        return self.raw(alarm).side

    def found_within_s(self, alarm: AlarmId, for_s: float, *closed: RelayKind) -> float | None:
        """Live on until something is found; return how long it took, None where it was not."""
        began_s = self.uptime_s
        while self.uptime_s - began_s < for_s:
            self.live(TICK_S, *closed)
            if self.side(alarm) is Side.BEYOND:
                return self.uptime_s - began_s
        return None

    def _look(self, closed: Collection[RelayKind]) -> None:
        if self.uptime_s % READ_EVERY_S == 0:
            self.seen = self._measured()
        outside = AirSeen(
            temperature_c=self.outside_c,
            humidity_pct=self.outside_pct,
            taken_uptime_s=self.uptime_s,
        )
        self.memory, self.findings = watched(
            self.memory,
            Seen(
                stage=self.stage,
                relays={relay: relay in closed for relay in self.relays},
                air=None if self.blind else self.seen,
                outside=outside if self.outside_known else None,
                humidity=self.humidity,
                temperature=self.temperature,
                uptime_s=self.uptime_s,
            ),
        )

    def _measured(self) -> AirSeen:
        humidity_pct, temperature_c = 100 * self.vapour / self.saturated, self.temperature_c
        if self.noise:
            humidity_pct += self.noise.gauss(0, NOISE_PCT)
            temperature_c += self.noise.gauss(0, NOISE_C)
        return AirSeen(
            temperature_c=round(temperature_c, 1),
            humidity_pct=round(min(99.7, humidity_pct), 1),
            taken_uptime_s=self.uptime_s,
        )

    def _step(self, closed: Collection[RelayKind]) -> None:
        changes_per_h = self.leaks_per_h + self.door_per_h * self.door_open
        if FAN in closed and not self.fan_dead:
            changes_per_h += self.fan_per_h
        outside = vapour_g_per_m3(self.outside_c, self.outside_pct)
        product = vapour_g_per_m3(self.temperature_c, self.product_pct)
        misting = self.welded or (HUMIDIFIER in closed and not self.tank_empty)
        cooling = COOLING in closed and not self.compressor_dead
        coil_per_h = self.coil_per_h * cooling
        hours = TICK_S / 3600
        rate_per_h = changes_per_h + self.given_off_per_h + coil_per_h
        pulled = changes_per_h * outside + self.given_off_per_h * product
        pulled += coil_per_h * vapour_g_per_m3(0, 100)
        pulled += self.mist_g_per_h_m3 * misting
        goal = pulled / rate_per_h
        self.vapour = goal + (self.vapour - goal) * exp(-rate_per_h * hours)
        self.vapour = min(self.vapour, vapour_g_per_m3(self.temperature_c, 99.5))

        rate_per_h = self.warming_per_h + self.door_per_h * self.door_open
        pulled = rate_per_h * self.outside_c
        pulled -= self.cooling_c_per_h * cooling + self.mist_cools_c_per_h * misting
        goal = pulled / rate_per_h
        self.temperature_c = goal + (self.temperature_c - goal) * exp(-rate_per_h * hours)
        self.uptime_s += TICK_S
