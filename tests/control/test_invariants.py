"""The safety invariants, over random histories: readings, gaps, dead sensors, changed settings.

The oracles here and in `control.believable` are written apart from the rules they watch.
"""

from collections.abc import Iterator, Sequence
from copy import deepcopy
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from math import nan
from string import Formatter

from control.believable import Tick, beyond_doubt, measured, usable
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from hangroom.air import vapour_density_g_per_m3
from hangroom.control.memory import RoomState, starting_state
from hangroom.control.room import Decision, decide
from hangroom.reasons import REASONS, say
from hangroom.terms import (
    AirOutside,
    AirReading,
    Because,
    Command,
    HumidityTarget,
    Override,
    RelayKind,
    RelayRules,
    RoomPlan,
    Stage,
    TemperatureTarget,
)
from hangroom.units import TemperatureUnit, Units

HUMIDIFIER, EXHAUST = RelayKind.HUMIDIFIER, RelayKind.EXHAUST_FAN
START = datetime(2026, 11, 1, tzinfo=UTC)

# The only offs that may cut a minimum run short: nothing known, a hard limit, or forbidden.
SAFETY_OFF = {
    "future-reading", "out-of-range-reading", "glitch-reading", "top-of-scale", "jumped",
    "temperature-jumped", "wet-element", "frozen-reading", "regaining-trust",
    "no-reading", "stale-reading", "implausible-reading", "started", "stage-forbids", "no-target",
    "humidity-hard-limit", "humidity-low-limit", "heat-hard-limit", "cold-hard-limit",
}  # fmt: skip

# What failing sensors of this kind are known to report: an all-zero frame, a soaked element, a
# sign bit read as a number, no number at all.
BAD_VALUES = ((0.0, 0.0), (12.0, 99.9), (25.5, 25.5), (-3276.6, 60.0), (nan, 60.0), (12.0, nan))

PLACES = (-9.0, -1.0, -0.4, -0.3, 0.0, 0.3, 0.8, 1.0, 9.0, "low limit", "high limit", "soaked")


@dataclass(frozen=True, slots=True, kw_only=True)
class Decided:
    """A tick with its decision and every relay's position."""

    tick: Tick
    decision: Decision
    closed: dict[RelayKind, bool]


rules = st.builds(
    RelayRules,
    min_on_s=st.sampled_from([0.0, 2.0, 30.0]),
    min_off_s=st.sampled_from([0.0, 10.0, 300.0]),
    max_run_s=st.sampled_from([None, 30.0, 120.0]),
)

plans = st.builds(
    RoomPlan,
    name=st.just("closet"),
    stage=st.sampled_from([Stage.HANG, Stage.HANG, Stage.HANG, *Stage]),
    humidity=st.builds(
        lambda setpoint_pct, band_pct: HumidityTarget(
            setpoint_pct=setpoint_pct, band_pct=band_pct, low_limit_pct=50, high_limit_pct=92
        ),
        st.sampled_from([62.0, 75.0, 85.0]),
        st.sampled_from([1.0, 3.0]),
    ),
    temperature=st.builds(
        lambda setpoint_c: TemperatureTarget(
            setpoint_c=setpoint_c, band_c=1.0, low_limit_c=-2.0, high_limit_c=30.0
        ),
        st.sampled_from([4.0, 13.0]),
    ),
    relays=st.one_of(
        st.fixed_dictionaries(dict.fromkeys(RelayKind, rules)),
        st.dictionaries(st.sampled_from(list(RelayKind)), rules),
    ),
    settle_s=st.sampled_from([0.0, 30.0, 120.0]),
    reheats=st.booleans(),
)

airs_outside = st.sampled_from(
    [
        None,
        AirOutside(temperature_c=2.0, humidity_pct=60.0),
        AirOutside(temperature_c=13.0, humidity_pct=73.0),
        AirOutside(temperature_c=30.0, humidity_pct=90.0),
    ]
)

steps = st.tuples(
    st.sampled_from([0.5, 2.0, 2.0, 2.0, 2.0, 6.0, 6.0, 31.0, 45.0, 130.0, 400.0]),
    st.sampled_from(PLACES),
    st.sampled_from([-20.0, -1.0, 0.0, 1.0, 30.0]),
    st.tuples(
        *[st.sampled_from(["new", "new", "new", "keep", "off", "off", "bad", "late", "future"])] * 3
    ),
    st.sampled_from([None, None, None, None, None, "drier", "moister", *Stage]),
    st.none()
    | st.none()
    | st.tuples(
        st.sampled_from(list(RelayKind)), st.booleans(), st.sampled_from([3.0, 60.0, 1800.0])
    ),
)


def place_pct(place: float | str, target: HumidityTarget) -> float:
    """Turn a place of `PLACES` into a humidity: named, or in half-bands from the setpoint."""
    if place == "low limit":
        return target.low_limit_pct
    if place == "high limit":
        return target.high_limit_pct
    if place == "soaked":
        return 99.5
    return min(99.5, max(2.0, target.setpoint_pct + float(place) * target.band_pct))


def report(
    how: str, before: AirReading | None, uptime_s: float, air: tuple[float, float], number: int
) -> AirReading | None:
    """Return what one sensor's newest reading is after this step."""
    if how == "keep":
        return before
    temperature_c, humidity_pct = BAD_VALUES[number % len(BAD_VALUES)] if how == "bad" else air
    if how == "off":
        humidity_pct = min(99.5, humidity_pct + 9.0)
    ahead_s = {"future": 5.0, "late": 1.5}.get(how, -0.25)
    return AirReading(
        taken_at=START + timedelta(seconds=uptime_s),
        taken_uptime_s=uptime_s + ahead_s,
        temperature_c=temperature_c,
        humidity_pct=humidity_pct,
    )


@st.composite
def histories(draw: st.DrawFn) -> tuple[float, tuple[Tick, ...]]:
    """Return the moment the program started and its ticks."""
    plan = draw(plans)
    sensors = draw(st.integers(1, 3))
    uptime_s = started_s = draw(st.sampled_from([0.0, 1700.0, 86_400.0]))
    newest: list[AirReading | None] = [None] * sensors
    ticks = []
    outside = draw(airs_outside)
    for number, (dt_s, place, off_c, hows, change, hand) in enumerate(
        draw(st.lists(steps, min_size=10, max_size=60))
    ):
        uptime_s += dt_s
        if isinstance(change, Stage):
            plan = replace(plan, stage=change)
        elif change is not None and plan.humidity:
            setpoint_pct = 62.0 if change == "drier" else 85.0
            plan = replace(plan, humidity=replace(plan.humidity, setpoint_pct=setpoint_pct))
        if hand is not None:
            relay, closed, for_s = hand
            override = Override(closed=closed, ends_uptime_s=uptime_s + for_s, by="", why="")
            plan = replace(plan, overrides={**plan.overrides, relay: override})
        assert plan.humidity
        assert plan.temperature
        air = (plan.temperature.setpoint_c + off_c, place_pct(place, plan.humidity))
        newest = [
            report(how, before, uptime_s, air, number)
            for how, before in zip(hows, newest, strict=False)
        ]
        ticks.append(Tick(uptime_s=uptime_s, plan=plan, readings=tuple(newest), outside=outside))
    return started_s, tuple(ticks)


def again(state: RoomState, tick: Tick) -> Decision:
    return decide(state, tick.plan, tick.by_sensor(), uptime_s=tick.uptime_s, outside=tick.outside)


def played(history: tuple[float, tuple[Tick, ...]]) -> list[Decided]:
    """Put a history through the real decisions, as the loop does."""
    started_s, ticks = history
    state = starting_state(ticks[0].plan, uptime_s=started_s)
    done = []
    for tick in ticks:
        decision = again(state, tick)
        state = decision.state
        closed = {command.relay: command.closed for command in decision.commands}
        done.append(Decided(tick=tick, decision=decision, closed=closed))
        for relay, is_closed in closed.items():
            if is_closed:
                event(f"{relay} closed")
    return done


def started(relay: RelayKind, done: Sequence[Decided]) -> Iterator[tuple[Command, Decided]]:
    """Yield every tick at which a relay was told to close, with the command."""
    was_closed = False
    for decided in done:
        closed = decided.closed.get(relay, False)
        if closed and not was_closed:
            yield next(c for c in decided.decision.commands if c.relay is relay), decided
        was_closed = closed


def switchings(started_s: float, done: Sequence[Decided]) -> Iterator[tuple[Command, float, float]]:
    """Yield every change of position: the command, its moment, how long the old one had lasted."""
    for relay in done[0].closed:
        was_closed, since_s = False, started_s
        for decided in done:
            if decided.closed[relay] != was_closed:
                command = next(c for c in decided.decision.commands if c.relay is relay)
                now_s = decided.tick.uptime_s
                yield command, now_s, now_s - since_s
                was_closed, since_s = command.closed, now_s


searched = settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@searched
@given(histories())
def test_without_a_trusted_humidity_for_30_s_the_humidifier_is_off(
    history: tuple[float, tuple[Tick, ...]],
) -> None:
    for decided, known in zip(played(history), measured(history[1]), strict=True):
        if not known:
            assert not decided.closed.get(HUMIDIFIER)


@searched
@given(histories())
def test_blind_control_opens_everything_but_the_fans(
    history: tuple[float, tuple[Tick, ...]],
) -> None:
    for decided, known in zip(played(history), measured(history[1]), strict=True):
        if not known:
            closed = {relay for relay, is_closed in decided.closed.items() if is_closed}
            assert closed <= {RelayKind.CIRCULATION_FAN, EXHAUST}


@searched
@given(histories())
def test_at_or_above_the_hard_limit_the_humidifier_is_off(
    history: tuple[float, tuple[Tick, ...]],
) -> None:
    ticks = history[1]
    for decided, known, sure in zip(
        played(history), measured(ticks), beyond_doubt(ticks), strict=True
    ):
        # The moistest of those beyond doubt; and whichever of the others counts, the driest.
        surely_pct = [r.humidity_pct for r in sure]
        seen_pct = [r.humidity_pct for r in known]
        target = decided.tick.plan.humidity
        if not target or not seen_pct:
            continue
        if max([min(seen_pct), *surely_pct]) >= target.high_limit_pct:
            event("humidity at the hard limit")
            assert not decided.closed.get(HUMIDIFIER)


@searched
@given(histories())
def test_opposites_are_never_both_closed(history: tuple[float, tuple[Tick, ...]]) -> None:
    for decided in played(history):
        closed = decided.closed
        assert not (closed.get(HUMIDIFIER) and closed.get(EXHAUST))
        if not decided.tick.plan.reheats:
            assert not (closed.get(RelayKind.COOLING) and closed.get(RelayKind.HEATER))


@searched
@given(histories())
def test_at_or_above_the_high_limit_no_heater_is_on_reheating_or_not(
    history: tuple[float, tuple[Tick, ...]],
) -> None:
    for decided, known in zip(played(history), measured(history[1]), strict=True):
        seen_c = [r.temperature_c for r in known]
        target = decided.tick.plan.temperature
        if seen_c and target and min(seen_c) >= target.high_limit_c:
            assert not decided.closed.get(RelayKind.HEATER)


@searched
@given(histories())
def test_only_a_person_or_blindness_airs_an_uncooled_room_with_moister_air(
    history: tuple[float, tuple[Tick, ...]],
) -> None:
    """Vapour on either side by a library that the gate does not use; 0.5 % is the gate's own error."""
    for command, decided in started(EXHAUST, played(history)):
        tick, air = decided.tick, decided.decision.air
        if RelayKind.COOLING in tick.plan.relays or tick.outside is None:
            continue
        if isinstance(air, Because) or command.because.code == "by-hand":
            continue
        inside_g = vapour_density_g_per_m3(air.temperature_c, air.humidity_pct)
        outside_g = vapour_density_g_per_m3(tick.outside.temperature_c, tick.outside.humidity_pct)
        event("gate passed")
        assert inside_g - outside_g > 0.3 - 0.005 * (inside_g + outside_g)


@searched
@given(histories())
def test_no_dose_starts_while_its_opposite_still_settles(
    history: tuple[float, tuple[Tick, ...]],
) -> None:
    done = played(history)
    settle_s = done[0].tick.plan.settle_s
    for this, other in ((HUMIDIFIER, EXHAUST), (EXHAUST, HUMIDIFIER)):
        ended_s = None
        before = dict.fromkeys(RelayKind, False)
        for decided in done:
            now_s, closed = decided.tick.uptime_s, decided.closed
            if before[other] and not closed.get(other):
                ended_s = now_s
            if closed.get(this) and not before[this] and ended_s is not None:
                assert now_s - ended_s >= settle_s
            before = before | closed


@searched
@given(histories())
def test_only_a_safety_off_breaks_a_minimum_on_and_nothing_a_minimum_off(
    history: tuple[float, tuple[Tick, ...]],
) -> None:
    for command, _, lasted_s in switchings(history[0], played(history)):
        rule = history[1][0].plan.relays[command.relay]
        if command.closed:
            assert lasted_s >= rule.min_off_s, command
        elif command.because.code not in SAFETY_OFF:
            assert lasted_s >= rule.min_on_s, command


@searched
@given(histories())
def test_no_run_goes_on_past_its_limit(history: tuple[float, tuple[Tick, ...]]) -> None:
    since_s: dict[RelayKind, float] = {}
    for decided in played(history):
        now_s = decided.tick.uptime_s
        for relay, is_closed in decided.closed.items():
            longest_s = decided.tick.plan.relays[relay].max_run_s
            if not is_closed:
                since_s.pop(relay, None)
            elif longest_s is not None:
                assert now_s - since_s.setdefault(relay, now_s) < longest_s


@searched
@given(histories())
def test_every_relay_stays_open_until_the_first_trusted_reading_after_a_start(
    history: tuple[float, tuple[Tick, ...]],
) -> None:
    for decided in played(history):
        if usable(decided.tick):
            break
        assert not any(decided.closed.values())


@searched
@given(histories())
def test_a_relay_is_where_a_person_wants_it_only_in_time_and_in_known_air(
    history: tuple[float, tuple[Tick, ...]],
) -> None:
    for decided, known in zip(played(history), measured(history[1]), strict=True):
        tick = decided.tick
        for command in decided.decision.commands:
            if command.because.code == "by-hand":
                event(f"by hand, {'on' if command.closed else 'off'}")
                override = tick.plan.overrides[command.relay]
                assert command.closed == override.closed
                assert tick.uptime_s < override.ends_uptime_s
                # A fan may run in unknown air, as much as it may without a person.
                assert known or command.relay in {RelayKind.CIRCULATION_FAN, EXHAUST}


@searched
@given(histories())
def test_every_command_gives_a_reason_that_can_be_said_with_exactly_its_figures(
    history: tuple[float, tuple[Tick, ...]],
) -> None:
    for decided in played(history):
        assert set(decided.closed) == set(decided.tick.plan.relays)
        assert len(decided.decision.commands) == len(decided.tick.plan.relays)
        reasons = [command.because for command in decided.decision.commands]
        if isinstance(decided.decision.air, Because):
            reasons.append(decided.decision.air)
        for because in reasons:
            named = {name for _, name, _, _ in Formatter().parse(REASONS[because.code]) if name}
            assert set(because.figures) == named, because
            assert say(because, Units(temperature=TemperatureUnit.FAHRENHEIT))


@searched
@given(histories())
def test_replaying_a_history_gives_the_same_decisions_and_leaves_its_input_alone(
    history: tuple[float, tuple[Tick, ...]],
) -> None:
    first = played(history)
    states = [starting_state(history[1][0].plan, uptime_s=history[0])]
    states += [decided.decision.state for decided in first]
    kept = deepcopy(states)
    assert played(history) == first
    assert states == kept
    # Each tick again, out of order, as nothing may be remembered outside the state.
    for (state, _), decided in reversed(list(zip(pairwise(states), first, strict=True))):
        tick = decided.tick
        assert again(state, tick) == decided.decision
