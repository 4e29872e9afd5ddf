"""The limit cycle of `raises` and `lowers` against the closed form.

Closed form for an on-off loop around a first-order plant with dead time. The plant
T dy/dt + y = Y(t - L) heads for Y1 with the relay closed and for Y0 with it open. From the crossing
of an edge it goes on for the dead time L on the old course and is then turned round, so that every
quarter of the cycle is a piece of an exponential:

    peak   = Y1 - (Y1 - hi) E       trough = Y0 + (lo - Y0) E       E = exp(-L / T)
    on     = L + T ln[(Y1 - trough) / (Y1 - hi)]
    off    = L + T ln[(peak - Y0) / (lo - Y0)]

The plant here is stepped exactly: between two samples its input is constant, and dead times are
whole numbers of samples. Sampling every ts adds up to one ts of delay to each of the two switchings,
so a period may be up to 2 ts too long; the rest of the tolerance is what that delay's overshoot
adds.
"""

from dataclasses import dataclass
from math import exp, isclose, log
from statistics import fmean
from typing import Protocol

import pytest

from hangroom.control.two_point import lowers, raises

SAMPLE_S = 0.1


class Rule(Protocol):
    def __call__(self, *, closed: bool, seen: float, start_at: float, stop_at: float) -> bool: ...


@dataclass(frozen=True, kw_only=True)
class Loop:
    """A plant and the relay around it; `y_on` is where it heads with the relay closed."""

    lag_s: float
    dead_s: float
    y_on: float
    y_off: float
    start_at: float
    stop_at: float


@dataclass(frozen=True, kw_only=True)
class Cycle:
    on_s: float
    off_s: float
    at_stop: float
    at_start: float

    @property
    def period_s(self) -> float:
        return self.on_s + self.off_s


def closed_form(loop: Loop) -> Cycle:
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


def simulated(loop: Loop, rule: Rule) -> tuple[Cycle, float]:
    """Run the rule on the plant; measure the last of six cycles and the mean over it."""
    keep = exp(-SAMPLE_S / loop.lag_s)
    on_its_way = [False] * round(loop.dead_s / SAMPLE_S)
    y, closed = (loop.start_at + loop.stop_at) / 2, False
    ys: list[float] = []
    closings: list[int] = []
    switched_off: list[int] = []
    while len(closings) < 7:
        was_closed = closed
        closed = rule(closed=closed, seen=y, start_at=loop.start_at, stop_at=loop.stop_at)
        if closed and not was_closed:
            closings.append(len(ys))
        elif was_closed and not closed:
            switched_off.append(len(ys))
        ys.append(y)
        on_its_way.append(closed)
        heads_for = loop.y_on if on_its_way.pop(0) else loop.y_off
        y = heads_for + (y - heads_for) * keep
    began, ended = closings[-2:]
    turned = next(at for at in switched_off if at > began)
    cycle = ys[began:ended]
    highest, lowest = max(cycle), min(cycle)
    rises = loop.y_on > loop.y_off
    measured = Cycle(
        on_s=(turned - began) * SAMPLE_S,
        off_s=(ended - turned) * SAMPLE_S,
        at_stop=highest if rises else lowest,
        at_start=lowest if rises else highest,
    )
    return measured, fmean(cycle)


HUMIDITY = Loop(lag_s=600, dead_s=30, y_on=120, y_off=60, start_at=78, stop_at=82)


@pytest.mark.parametrize(
    ("loop", "rule"),
    [
        pytest.param(
            Loop(lag_s=100, dead_s=20, y_on=1, y_off=-1, start_at=0, stop_at=0), raises, id="E1"
        ),
        pytest.param(
            Loop(lag_s=100, dead_s=20, y_on=1, y_off=-1, start_at=-0.1, stop_at=0.1),
            raises,
            id="E2",
        ),
        pytest.param(HUMIDITY, raises, id="E3 humidity"),
        pytest.param(
            Loop(lag_s=600, dead_s=30, y_on=400, y_off=60, start_at=78, stop_at=82),
            raises,
            id="E4 oversized humidifier",
        ),
        pytest.param(
            # Slopes of +0.65 and -0.02 %/s, as the straight beginning of a very slow plant.
            Loop(lag_s=1e7, dead_s=15, y_on=6.5e6 + 80, y_off=-2e5 + 80, start_at=78, stop_at=82),
            raises,
            id="E5 all but an integrator",
        ),
        pytest.param(
            Loop(lag_s=2400, dead_s=60, y_on=-5, y_off=25, start_at=13, stop_at=11),
            lowers,
            id="E6 fridge air",
        ),
        pytest.param(
            Loop(lag_s=900, dead_s=0, y_on=95, y_off=65, start_at=78, stop_at=82),
            raises,
            id="E7 no dead time",
        ),
    ],
)
def test_the_limit_cycle_is_the_closed_form_s(loop: Loop, rule: Rule) -> None:
    expected = closed_form(loop)
    seen, _ = simulated(loop, rule)
    period_ratio = 2 * SAMPLE_S / expected.period_s + 0.005
    assert seen.period_s == pytest.approx(expected.period_s, rel=period_ratio)
    fastest_per_s = max(abs(loop.y_on - loop.start_at), abs(loop.stop_at - loop.y_off)) / loop.lag_s
    one_sample = fastest_per_s * SAMPLE_S
    assert seen.at_stop == pytest.approx(expected.at_stop, abs=one_sample)
    assert seen.at_start == pytest.approx(expected.at_start, abs=one_sample)


def test_the_closed_form_is_the_textbook_s_where_the_loop_is_symmetric() -> None:
    # Relay feedback without hysteresis: P = 2 T ln(2 exp(L / T) - 1), amplitude K d (1 - E).
    cycle = closed_form(Loop(lag_s=100, dead_s=20, y_on=1, y_off=-1, start_at=0, stop_at=0))
    assert isclose(cycle.period_s, 200 * log(2 * exp(0.2) - 1), rel_tol=1e-12)
    assert isclose(cycle.at_stop, 1 - exp(-0.2), rel_tol=1e-12)


def test_the_mean_of_a_linear_plant_follows_from_the_duty() -> None:
    # A linear plant in a periodic state: the mean of its output is that of its input.
    seen, mean = simulated(HUMIDITY, raises)
    assert mean == pytest.approx(60 + (120 - 60) * seen.on_s / seen.period_s, rel=0.001)


@pytest.mark.parametrize("wider", [1.0, 2.0, 4.0])
def test_a_wider_band_switches_less_often(wider: float) -> None:
    wide = Loop(
        lag_s=600, dead_s=30, y_on=120, y_off=60, start_at=78 - wider / 2, stop_at=82 + wider / 2
    )
    assert simulated(wide, raises)[0].period_s > simulated(HUMIDITY, raises)[0].period_s


def test_between_its_edges_a_relay_keeps_its_position() -> None:
    for closed in (False, True):
        assert raises(closed=closed, seen=80, start_at=78, stop_at=82) is closed
        assert lowers(closed=closed, seen=80, start_at=82, stop_at=78) is closed
