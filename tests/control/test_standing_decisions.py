"""A decision that stands is what would be decided anew, over the histories of the invariants."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from itertools import pairwise

from control.believable import Tick
from control.test_invariants import again, histories, searched
from hypothesis import event, given

from hangroom.control.memory import RoomState, starting_state
from hangroom.control.room import Decision, followed
from hangroom.terms import (
    AirReading,
    HumidityTarget,
    RelayKind,
    RelayRules,
    RoomPlan,
    Stage,
    TemperatureTarget,
)


@searched
@given(histories())
def test_a_decision_that_stands_is_what_would_be_decided_anew(
    history: tuple[float, tuple[Tick, ...]],
) -> None:
    """Through the same ticks, and once a second between them."""
    before: Decision | None = None
    state = starting_state(history[1][0].plan, uptime_s=history[0])
    for tick in with_looks_between(history[1]):
        anew = again(state, tick)
        state = anew.state
        if before is None:
            before = anew
            continue
        stood = before
        before = followed(
            before, tick.plan, tick.by_sensor(), uptime_s=tick.uptime_s, outside=tick.outside
        )
        event(f"stands: {before is stood}")
        assert told(before) == told(anew)
        assert before.state == state


def with_looks_between(ticks: Sequence[Tick]) -> Iterator[Tick]:
    """Yield the ticks, and after each up to a minute of looks at which nothing is new."""
    for tick, following in pairwise((*ticks, None)):
        assert tick
        yield tick
        ends_s = tick.uptime_s + 60.0 if following is None else following.uptime_s
        for number in range(1, 60):
            if tick.uptime_s + number >= min(ends_s, tick.uptime_s + 60.0):
                break
            yield replace(tick, uptime_s=tick.uptime_s + number)


def told(decision: Decision) -> list[tuple[RelayKind, bool, str]]:
    return [(c.relay, c.closed, c.because.code) for c in decision.commands]


def in_turn(plan: RoomPlan, state: RoomState, ticks: Sequence[Tick]) -> Iterator[list[str]]:
    """Yield the codes of every tick, once it is sure that those of standing decisions are the same."""
    before: Decision | None = None
    for tick in ticks:
        anew = again(state, tick)
        state = anew.state
        before = (
            followed(before, plan, tick.by_sensor(), uptime_s=tick.uptime_s) if before else anew
        )
        assert told(before) == told(anew)
        assert before.state == state
        yield [code for _, _, code in told(anew)]


def reading(uptime_s: float, temperature_c: float, humidity_pct: float) -> AirReading:
    return AirReading(
        taken_at=datetime(2026, 11, 1, tzinfo=UTC),
        taken_uptime_s=uptime_s,
        temperature_c=temperature_c,
        humidity_pct=humidity_pct,
    )


def test_a_fan_airs_blindly_in_time_though_its_sensor_keeps_talking_nonsense() -> None:
    plan = RoomPlan(
        name="closet",
        stage=Stage.HANG,
        humidity=HumidityTarget(setpoint_pct=75, band_pct=3, low_limit_pct=50, high_limit_pct=92),
        temperature=None,
        relays={RelayKind.EXHAUST_FAN: RelayRules(min_on_s=0, min_off_s=0)},
    )
    ticks = []
    # Good at first, then all zeros every 28 s: nothing else is new in between.
    newest = reading(2.0, 13.0, 75.0)
    for number in range(1, 1000):
        uptime_s = 2.0 * number
        if number > 1 and number % 14 == 1:
            newest = reading(uptime_s, 0.0, 0.0)
        ticks.append(Tick(uptime_s=uptime_s, plan=plan, readings=(newest,)))
    seen = list(in_turn(plan, starting_state(plan, uptime_s=0.0), ticks))
    assert ["blind-airing"] in seen


def test_a_lockout_ends_in_time_though_a_hard_limit_speaks_before_it() -> None:
    plan = RoomPlan(
        name="closet",
        stage=Stage.HANG,
        humidity=None,
        temperature=TemperatureTarget(setpoint_c=13, band_c=1, low_limit_c=-2, high_limit_c=30),
        relays={RelayKind.HEATER: RelayRules(min_on_s=0, min_off_s=0, max_run_s=20, lockout_s=21)},
    )
    # Too cold for 24 s, then as hot as the limit; the lockout ends between two readings.
    ticks = [
        Tick(
            uptime_s=2.0 * number,
            plan=plan,
            readings=(reading(12.0 * (number // 6), 31.0 if number >= 14 else 5.0, 75.0),),
        )
        for number in range(40)
    ]
    seen = list(in_turn(plan, starting_state(plan, uptime_s=0.0), ticks))
    assert ["long-run"] in seen
    assert seen[-1] == ["heat-hard-limit"]
