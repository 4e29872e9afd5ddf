"""The limit cycles of cooling and heating against the closed form, and against an ODE solver.

Closed form for an on-off loop around a first-order plant with dead time. The plant
T dy/dt + y = Y(t - L) heads for Y1 with the relay closed and for Y0 with it open. From the crossing
of an edge it goes on for the dead time L on the old course and is then turned round, so that every
quarter of the cycle is a piece of an exponential; with E = exp(-L / T):

    turn after the stop   = Y1 - (Y1 - stop) E      on  = L + T ln[(Y1 - turn after start) / (Y1 - stop)]
    turn after the start  = Y0 + (start - Y0) E     off = L + T ln[(turn after stop - Y0) / (start - Y0)]

They are the biased-relay formulas of Wang, Hang & Zou 1997, Ind. Eng. Chem. Res. 36:375 (from
memory; the solver below knows neither them nor these).

The plant is stepped exactly: between two samples its input is constant, and dead times are whole
numbers of samples. Sampling every ts adds up to one ts of delay to each of the two switchings, so
that a period may be up to 2 ts too long; the rest of the tolerance is that delay's overshoot.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from math import exp, inf, log
from statistics import fmean

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from hangroom.control.guards import guarded
from hangroom.control.memory import starting_state
from hangroom.control.room import decide
from hangroom.control.sensors.voting import Air
from hangroom.control.temperature import cooling_wish, heater_wish
from hangroom.control.two_point import lowers, raises
from hangroom.control.use import RelayMemory, told
from hangroom.terms import (
    AirReading,
    RelayKind,
    RelayRules,
    RoomPlan,
    Stage,
    TemperatureTarget,
)

Rule = Callable[[float, bool], bool]
"""What is seen, and whether the relay is closed, to whether it shall be."""


@dataclass(frozen=True, kw_only=True)
class Loop:
    """A plant and the band around it; `y_on` is where it heads with the relay closed."""

    lag_s: float
    dead_s: float
    y_on: float
    y_off: float
    start_at: float
    stop_at: float

    @property
    def target(self) -> TemperatureTarget:
        """The band as the controllers are given it, without limits that could come between."""
        return TemperatureTarget(
            setpoint_c=(self.start_at + self.stop_at) / 2,
            band_c=abs(self.stop_at - self.start_at) / 2,
            low_limit_c=-inf,
            high_limit_c=inf,
        )

    def heads_for(self, y: float, *, closed: bool, for_s: float) -> float:
        aim = self.y_on if closed else self.y_off
        return aim + (y - aim) * exp(-for_s / self.lag_s)


@dataclass(frozen=True, kw_only=True)
class Ramp(Loop):
    """An integrator: `y_on` and `y_off` are its slopes, per second."""

    def heads_for(self, y: float, *, closed: bool, for_s: float) -> float:
        return y + (self.y_on if closed else self.y_off) * for_s


@dataclass(frozen=True, kw_only=True)
class Cycle:
    """`at_stop`, `at_start`: where the plant turns after the relay has opened, and has closed."""

    on_s: float
    off_s: float
    at_stop: float
    at_start: float
    mean: float = 0.0

    @property
    def period_s(self) -> float:
        return self.on_s + self.off_s


def closed_form(loop: Loop) -> Cycle:
    if isinstance(loop, Ramp):
        width, a, b = loop.stop_at - loop.start_at, loop.y_on, -loop.y_off
        return Cycle(
            on_s=loop.dead_s + (width + b * loop.dead_s) / a,
            off_s=loop.dead_s + (width + a * loop.dead_s) / b,
            at_stop=loop.stop_at + a * loop.dead_s,
            at_start=loop.start_at - b * loop.dead_s,
        )
    left = exp(-loop.dead_s / loop.lag_s)
    at_stop = loop.y_on - (loop.y_on - loop.stop_at) * left
    at_start = loop.y_off + (loop.start_at - loop.y_off) * left
    on_ratio = (loop.y_on - at_start) / (loop.y_on - loop.stop_at)
    off_ratio = (at_stop - loop.y_off) / (loop.start_at - loop.y_off)
    return Cycle(
        on_s=loop.dead_s + loop.lag_s * log(on_ratio),
        off_s=loop.dead_s + loop.lag_s * log(off_ratio),
        at_stop=at_stop,
        at_start=at_start,
    )


def air(seen: float) -> Air:
    return Air(
        temperature_c=seen,
        humidity_pct=75.0,
        highest_temperature_c=seen,
        lowest_temperature_c=seen,
        highest_humidity_pct=75.0,
        lowest_humidity_pct=75.0,
    )


def heating(loop: Loop) -> Rule:
    target = loop.target
    return lambda seen, closed: (
        heater_wish(air(seen), target, closed=closed, has_cooling=False).closed
    )


def cooling(loop: Loop) -> Rule:
    target = loop.target
    return lambda seen, closed: (
        cooling_wish(air(seen), target, closed=closed, has_heater=False).closed
    )


def deciding(kind: RelayKind) -> Callable[[Loop], Rule]:
    """Return the rule of whole decisions in a room with that one relay, free of rests."""

    def rule_of(loop: Loop) -> Rule:
        plan = RoomPlan(
            name="room",
            stage=Stage.HANG,
            humidity=None,
            temperature=loop.target,
            relays={kind: RelayRules(min_on_s=0, min_off_s=0)},
        )
        state, uptime_s = starting_state(plan, uptime_s=0.0), 0.0

        def rule(seen: float, _closed: bool) -> bool:
            nonlocal state, uptime_s
            reading = AirReading(
                taken_at=datetime(2026, 11, 1, tzinfo=UTC),
                taken_uptime_s=uptime_s,
                temperature_c=seen,
                humidity_pct=75.0,
            )
            decision = decide(state, plan, {"rail": reading}, uptime_s=uptime_s)
            state, uptime_s = decision.state, uptime_s + SAMPLE_S
            return decision.commands[0].closed

        return rule

    return rule_of


def simulated(loop: Loop, rule: Rule, sample_s: float) -> Cycle:
    """Run the rule on the plant and measure the last of six cycles."""
    on_its_way = [False] * round(loop.dead_s / sample_s)
    y, closed = (loop.start_at + loop.stop_at) / 2, False
    ys: list[float] = []
    closings: list[int] = []
    openings: list[int] = []
    while len(closings) < 7:
        was_closed = closed
        closed = rule(y, closed)
        if closed and not was_closed:
            closings.append(len(ys))
        elif was_closed and not closed:
            openings.append(len(ys))
        ys.append(y)
        on_its_way.append(closed)
        y = loop.heads_for(y, closed=on_its_way.pop(0), for_s=sample_s)
    began, over = closings[-2:]
    opened = next(at for at in openings if at > began)
    cycle = ys[began:over]
    highest, lowest = max(cycle), min(cycle)
    rises = loop.stop_at >= loop.start_at and loop.y_on > loop.y_off
    return Cycle(
        on_s=(opened - began) * sample_s,
        off_s=(over - opened) * sample_s,
        at_stop=highest if rises else lowest,
        at_start=lowest if rises else highest,
        mean=fmean(cycle),
    )


def solved(loop: Loop) -> Cycle:
    """Let an ODE solver find the crossings; it steps from turn to turn for six cycles."""

    def stretch(y: float, *, closed: bool, edge: float | None, for_s: float) -> tuple[float, float]:
        """Return how long it took and where it came, to the edge or for a time."""
        if isinstance(loop, Ramp):
            slope = loop.y_on if closed else loop.y_off
            right_side = lambda _t, _y: [slope]  # noqa: E731
        else:
            aim = loop.y_on if closed else loop.y_off
            right_side = lambda _t, y: [(aim - y[0]) / loop.lag_s]  # noqa: E731
        crosses = lambda _t, y: y[0] - (inf if edge is None else edge)  # noqa: E731
        crosses.terminal = True  # type: ignore[attr-defined]  # as the solver wants it
        done = solve_ivp(
            right_side, (0.0, for_s), [y], events=crosses, rtol=1e-10, atol=1e-10, max_step=5.0
        )
        return float(done.t[-1]), float(done.y[0][-1])

    y, turns, lasts_s = loop.start_at, [], []
    for _ in range(6):
        for closed, edge in ((True, loop.stop_at), (False, loop.start_at)):
            waits_s, y = stretch(y, closed=not closed, edge=None, for_s=loop.dead_s or 1e-9)
            turns.append(y)
            rises_s, y = stretch(y, closed=closed, edge=edge, for_s=1e5)
            lasts_s.append(waits_s + rises_s)
    return Cycle(on_s=lasts_s[-2], off_s=lasts_s[-1], at_stop=turns[-1], at_start=turns[-2])


E1 = Loop(lag_s=100, dead_s=20, y_on=1, y_off=-1, start_at=0, stop_at=0)
E2 = replace(E1, start_at=-0.1, stop_at=0.1)
E3 = Loop(lag_s=600, dead_s=30, y_on=120, y_off=60, start_at=78, stop_at=82)
E4 = replace(E3, y_on=400)
E5 = Ramp(lag_s=inf, dead_s=15, y_on=0.65, y_off=-0.02, start_at=78, stop_at=82)
E6 = Loop(lag_s=2400, dead_s=60, y_on=-5, y_off=25, start_at=13, stop_at=11)
E7 = Loop(lag_s=900, dead_s=0, y_on=95, y_off=65, start_at=78, stop_at=82)
SAMPLE_S = 0.1

LOOPS = [
    pytest.param(E1, heating, id="E1 no band"),
    pytest.param(E2, heating, id="E2 symmetric"),
    pytest.param(E3, heating, id="E3 the humidity's figures"),
    pytest.param(E4, heating, id="E4 oversized"),
    pytest.param(E5, heating, id="E5 integrator"),
    pytest.param(E6, cooling, id="E6 fridge air"),
    pytest.param(E7, heating, id="E7 no dead time"),
    pytest.param(E2, deciding(RelayKind.HEATER), id="E2 in whole decisions"),
    pytest.param(E6, deciding(RelayKind.COOLING), id="E6 in whole decisions"),
]


def fastest_per_s(loop: Loop) -> float:
    if isinstance(loop, Ramp):
        return max(abs(loop.y_on), abs(loop.y_off))
    turns = closed_form(loop)
    return max(abs(loop.y_on - turns.at_start), abs(turns.at_stop - loop.y_off)) / loop.lag_s


@pytest.mark.parametrize(("loop", "rule_of"), LOOPS)
def test_the_limit_cycle_is_the_closed_form_s(loop: Loop, rule_of: Callable[[Loop], Rule]) -> None:
    expected = closed_form(loop)
    seen = simulated(loop, rule_of(loop), SAMPLE_S)
    assert seen.period_s == pytest.approx(expected.period_s, rel=0.01)
    period_ratio = 2 * SAMPLE_S / expected.period_s + 0.005
    assert seen.period_s == pytest.approx(expected.period_s, rel=period_ratio)
    one_sample = fastest_per_s(loop) * SAMPLE_S
    assert seen.at_stop == pytest.approx(expected.at_stop, abs=one_sample)
    assert seen.at_start == pytest.approx(expected.at_start, abs=one_sample)


@pytest.mark.parametrize("loop", [E1, E2, E3, E4, E5, E6, E7])
def test_the_closed_form_is_what_an_ode_solver_finds(loop: Loop) -> None:
    expected, found = closed_form(loop), solved(loop)
    assert found.on_s == pytest.approx(expected.on_s, rel=1e-6, abs=1e-6)
    assert found.off_s == pytest.approx(expected.off_s, rel=1e-6, abs=1e-6)
    assert found.at_stop == pytest.approx(expected.at_stop, abs=1e-6)
    assert found.at_start == pytest.approx(expected.at_start, abs=1e-6)


def test_the_closed_form_is_the_textbook_s_where_the_loop_is_symmetric() -> None:
    # Relay feedback without hysteresis: P = 2 T ln(2 exp(L / T) - 1), amplitude K d (1 - E).
    cycle = closed_form(E1)
    assert cycle.period_s == pytest.approx(200 * log(2 * exp(0.2) - 1), rel=1e-12)
    assert cycle.at_stop == pytest.approx(1 - exp(-0.2), rel=1e-12)


def test_e8_looked_at_every_five_seconds_it_is_between_the_dead_times_that_adds() -> None:
    """Each switching comes 0 to one sample late: between dead times L and L + ts, whole samples."""
    sample_s = 5.0
    seen = simulated(E3, heating(E3), sample_s)
    least, most = closed_form(E3), closed_form(replace(E3, dead_s=E3.dead_s + sample_s))
    assert least.period_s - sample_s <= seen.period_s <= most.period_s + sample_s
    assert least.at_stop <= seen.at_stop <= most.at_stop
    assert most.at_start <= seen.at_start <= least.at_start


@pytest.mark.parametrize("what", ["wider band", "longer dead time"])
def test_a_wider_band_or_a_longer_dead_time_makes_a_longer_period(what: str) -> None:
    periods_s = []
    for step in np.linspace(0.0, 3.0, 7):
        loop = (
            replace(E3, start_at=78 - step / 2, stop_at=82 + step / 2)
            if what == "wider band"
            else replace(E3, dead_s=30.0 + 10.0 * step)
        )
        periods_s.append(simulated(loop, heating(loop), SAMPLE_S).period_s)
    assert periods_s == sorted(periods_s)
    assert len(set(periods_s)) == len(periods_s)


@pytest.mark.parametrize("loop", [E2, E3, E4, E7])
def test_the_mean_of_a_linear_plant_follows_from_the_duty(loop: Loop) -> None:
    # A linear plant in a periodic state: the mean of its output is that of its input.
    seen = simulated(loop, heating(loop), SAMPLE_S)
    follows = loop.y_off + (loop.y_on - loop.y_off) * seen.on_s / seen.period_s
    assert seen.mean == pytest.approx(follows, abs=0.001 * (loop.y_on - loop.y_off))


@pytest.mark.parametrize("min_on_s", [0.0, 10.0, 30.0, 60.0])
def test_a_shortest_run_lifts_the_peak_of_an_oversized_plant_by_its_slope(min_on_s: float) -> None:
    """A relay's protection can be what overshoots: the trough plus the slope times the run."""
    rules = RelayRules(min_on_s=min_on_s, min_off_s=0)
    memory, uptime_s, wishes = RelayMemory(closed=False, changed_uptime_s=-inf), 0.0, E5.target

    def rule(seen: float, closed: bool) -> bool:
        nonlocal memory, uptime_s
        wish = heater_wish(air(seen), wishes, closed=closed, has_cooling=False)
        wish, memory = guarded(wish, memory, rules, uptime_s=uptime_s)
        memory = told(memory, closed=wish.closed, uptime_s=uptime_s)
        uptime_s += SAMPLE_S
        return wish.closed

    free = closed_form(E5)
    runs_s = max(free.on_s, min_on_s)
    seen = simulated(E5, rule, SAMPLE_S)
    assert seen.on_s == pytest.approx(runs_s, abs=2 * SAMPLE_S)
    peak = free.at_start + E5.y_on * runs_s
    assert seen.at_stop == pytest.approx(peak, abs=2 * E5.y_on * SAMPLE_S)
    assert seen.at_stop >= free.at_stop - E5.y_on * SAMPLE_S


def test_between_its_edges_a_relay_keeps_its_position() -> None:
    for closed in (False, True):
        assert raises(closed=closed, seen=80, start_at=78, stop_at=82) is closed
        assert lowers(closed=closed, seen=80, start_at=82, stop_at=78) is closed
