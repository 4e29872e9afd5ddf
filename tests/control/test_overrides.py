"""Relays by hand: what an override may do, and what goes before it."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from hangroom.control.memory import RoomState, starting_state
from hangroom.control.overrides import by_hand, in_force
from hangroom.control.room import Decision, decide
from hangroom.control.wish import off, on, safe_off
from hangroom.terms import (
    LONGEST_OVERRIDE_S,
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

HUMIDIFIER, EXHAUST = RelayKind.HUMIDIFIER, RelayKind.EXHAUST_FAN
COOLING, HEATER, STIRRER = RelayKind.COOLING, RelayKind.HEATER, RelayKind.CIRCULATION_FAN
START_S = 400.0  # between two stirs
FINE, DRY, WET = 75.0, 60.0, 85.0
PLAN = RoomPlan(
    name="closet",
    stage=Stage.HANG,
    humidity=HumidityTarget(setpoint_pct=75, band_pct=3, low_limit_pct=50, high_limit_pct=92),
    temperature=TemperatureTarget(setpoint_c=13, band_c=1, low_limit_c=2, high_limit_c=20),
    relays=dict.fromkeys(RelayKind, RelayRules(min_on_s=0, min_off_s=0)),
    settle_s=0.0,
)
# A cooled room's doses go by the mean over its compressor's cycle.
UNCOOLED = replace(
    PLAN, relays={kind: rules for kind, rules in PLAN.relays.items() if kind is not COOLING}
)


def wanted(closed: bool, for_s: float = 600.0) -> Override:
    return Override(closed=closed, ends_uptime_s=START_S + for_s, by="keeper", why="a test")


def with_override(relay: RelayKind, closed: bool, for_s: float = 600.0) -> RoomPlan:
    return replace(PLAN, overrides={relay: wanted(closed, for_s)})


class Room:
    """A room that is decided on every ten seconds."""

    def __init__(self, plan: RoomPlan) -> None:
        self.plan = plan
        self.uptime_s = START_S - 10.0
        self.state: RoomState = starting_state(plan, uptime_s=0.0)

    def tick(
        self, humidity_pct: float | None, temperature_c: float = 13.0
    ) -> dict[RelayKind, Command]:
        self.uptime_s += 10.0
        reading = (
            None
            if humidity_pct is None
            else AirReading(
                taken_at=datetime(2026, 11, 1, tzinfo=UTC) + timedelta(seconds=self.uptime_s),
                taken_uptime_s=self.uptime_s,
                temperature_c=temperature_c,
                humidity_pct=humidity_pct,
            )
        )
        decision: Decision = decide(
            self.state, self.plan, {"rail": reading}, uptime_s=self.uptime_s
        )
        self.decision, self.state = decision, decision.state
        return {command.relay: command for command in decision.commands}

    def closed(self, humidity_pct: float | None, temperature_c: float = 13.0) -> set[RelayKind]:
        commands = self.tick(humidity_pct, temperature_c)
        return {relay for relay, command in commands.items() if command.closed}


@pytest.mark.parametrize("relay", RelayKind)
def test_an_override_switches_a_relay_that_its_controller_would_leave(relay: RelayKind) -> None:
    assert Room(PLAN).closed(FINE) == set()
    assert Room(with_override(relay, closed=True)).closed(FINE) == {relay}


@pytest.mark.parametrize(
    ("relay", "humidity_pct", "temperature_c"),
    [(HUMIDIFIER, DRY, 13.0), (EXHAUST, WET, 13.0), (COOLING, FINE, 16.0), (HEATER, FINE, 10.0)],
)
def test_an_override_keeps_a_relay_off_that_its_controller_wants_on(
    relay: RelayKind, humidity_pct: float, temperature_c: float
) -> None:
    plan = PLAN if relay is COOLING else UNCOOLED
    assert Room(plan).closed(humidity_pct, temperature_c) == {relay}
    overridden = replace(plan, overrides={relay: wanted(closed=False)})
    assert Room(overridden).closed(humidity_pct, temperature_c) == set()


def test_it_says_that_it_is_by_hand_and_for_how_long() -> None:
    command = Room(with_override(EXHAUST, closed=True)).tick(FINE)[EXHAUST]
    assert command.because == Because("by-hand", {"left_s": 600.0})


def test_it_ends_with_its_time_though_nobody_takes_it_away() -> None:
    room = Room(with_override(EXHAUST, closed=True, for_s=15.0))
    assert room.closed(FINE) == {EXHAUST}
    assert room.closed(FINE) == {EXHAUST}
    assert room.closed(FINE) == set()


@pytest.mark.parametrize(
    ("relay", "humidity_pct", "temperature_c", "code"),
    [
        (HUMIDIFIER, 92.0, 13.0, "humidity-hard-limit"),
        (HUMIDIFIER, 97.0, 13.0, "humidity-hard-limit"),
        (EXHAUST, 50.0, 13.0, "humidity-low-limit"),
        (COOLING, FINE, 2.0, "cold-hard-limit"),
        (HEATER, FINE, 20.0, "heat-hard-limit"),
    ],
)
def test_a_hard_limit_goes_before_it(
    relay: RelayKind, humidity_pct: float, temperature_c: float, code: str
) -> None:
    room = Room(with_override(relay, closed=True))
    assert room.tick(humidity_pct, temperature_c)[relay].because.code == code
    assert not room.tick(humidity_pct, temperature_c)[relay].closed
    # And opens what it had closed already.
    running = Room(with_override(relay, closed=True))
    assert running.closed(FINE) == {relay}
    assert relay not in running.closed(humidity_pct, temperature_c)


@pytest.mark.parametrize("stage", [Stage.EMPTY, Stage.REST, Stage.CASING_DRY])
@pytest.mark.parametrize(
    ("relay", "humidity_pct", "temperature_c"),
    [(HUMIDIFIER, 92.0, 13.0), (EXHAUST, 50.0, 13.0), (COOLING, FINE, 2.0), (HEATER, FINE, 20.0)],
)
def test_a_hard_limit_goes_before_it_in_every_stage(
    stage: Stage, relay: RelayKind, humidity_pct: float, temperature_c: float
) -> None:
    room = Room(replace(with_override(relay, closed=True), stage=stage))
    assert not room.tick(humidity_pct, temperature_c)[relay].closed


@pytest.mark.parametrize("relay", RelayKind)
def test_in_a_stage_that_does_not_use_a_relay_it_runs_by_hand(relay: RelayKind) -> None:
    room = Room(replace(with_override(relay, closed=True), stage=Stage.EMPTY))
    assert room.closed(FINE) == {relay}
    idle = Room(replace(PLAN, stage=Stage.EMPTY))
    assert idle.tick(FINE)[relay].because.code == "stage-forbids"


@pytest.mark.parametrize("reheats", [False, True])
@pytest.mark.parametrize("stage", Stage)
@pytest.mark.parametrize("relay", RelayKind)
def test_before_the_first_trusted_reading_nothing_closes(
    relay: RelayKind, stage: Stage, reheats: bool
) -> None:
    plan = replace(with_override(relay, closed=True), stage=stage, reheats=reheats)
    assert Room(plan).closed(None) == set()


@pytest.mark.parametrize("relay", sorted(set(RelayKind) - {STIRRER}))
def test_what_acts_on_the_air_is_off_when_the_air_is_not_known(relay: RelayKind) -> None:
    room = Room(with_override(relay, closed=True))
    assert room.closed(FINE) == {relay}
    assert room.closed(None) == set()


def test_stirring_goes_on_by_hand_when_the_air_is_not_known() -> None:
    room = Room(with_override(STIRRER, closed=True))
    assert room.closed(FINE) == {STIRRER}
    assert room.closed(None) == {STIRRER}


def test_a_fan_that_airs_blindly_is_kept_off_by_hand() -> None:
    """Whoever has a hand in the fan must be able to rely on it."""
    room = Room(PLAN)
    room.tick(FINE)
    codes = {room.tick(None)[EXHAUST].because.code for _ in range(360)}
    assert "blind-airing" in codes
    room.plan = with_override(EXHAUST, closed=False, for_s=9000.0)
    assert not any(room.tick(None)[EXHAUST].closed for _ in range(360))


def test_rests_and_shortest_runs_hold_under_it() -> None:
    rules = RelayRules(min_on_s=45.0, min_off_s=65.0)
    room = Room(
        replace(
            with_override(EXHAUST, closed=True, for_s=15.0),
            relays=dict.fromkeys(RelayKind, rules),
        )
    )
    assert room.closed(FINE) == {EXHAUST}
    room.plan = replace(room.plan, overrides={EXHAUST: wanted(closed=False)})
    assert [room.tick(FINE)[EXHAUST].because.code for _ in range(5)] == [
        *["minimum-run"] * 4,
        "by-hand",
    ]
    room.plan = replace(room.plan, overrides={EXHAUST: wanted(closed=True)})
    assert [room.tick(FINE)[EXHAUST].because.code for _ in range(7)] == [
        *["resting"] * 6,
        "by-hand",
    ]


def test_opposites_are_kept_apart_under_it() -> None:
    both = replace(PLAN, overrides={HUMIDIFIER: wanted(True), EXHAUST: wanted(True)})
    assert len(Room(both).closed(FINE) & {HUMIDIFIER, EXHAUST}) == 1
    # A dose of water is still on its way to the sensor.
    room = Room(replace(UNCOOLED, settle_s=120.0))
    assert room.closed(DRY) == {HUMIDIFIER}
    room.plan = replace(room.plan, overrides={EXHAUST: wanted(closed=True)})
    assert [room.tick(FINE)[EXHAUST].because.code for _ in range(14)] == [
        *["settling"] * 12,
        *["by-hand"] * 2,
    ]


def test_a_longest_run_is_followed_by_a_rest_and_no_lockout() -> None:
    rules = RelayRules(min_on_s=0, min_off_s=30, max_run_s=50.0, lockout_s=1200.0)
    room = Room(
        replace(with_override(HUMIDIFIER, closed=True, for_s=1800.0), relays={HUMIDIFIER: rules})
    )
    codes = [room.tick(FINE)[HUMIDIFIER].because.code for _ in range(18)]
    assert codes == [*["by-hand"] * 5, "long-run", *["resting"] * 2] * 2 + ["by-hand"] * 2


def test_a_lockout_goes_before_it() -> None:
    rules = RelayRules(min_on_s=0, min_off_s=0, max_on_s_per_h=45.0, lockout_s=300.0)
    room = Room(
        replace(with_override(HUMIDIFIER, closed=True, for_s=1800.0), relays={HUMIDIFIER: rules})
    )
    codes = [room.tick(FINE)[HUMIDIFIER].because.code for _ in range(8)]
    assert codes == [*["by-hand"] * 5, "much-running", "locked-out", "locked-out"]


def test_a_run_by_hand_teaches_no_dose() -> None:
    """A long run by hand lifts the humidity far; the next dose must be as long as before it."""
    room = Room(UNCOOLED)
    before = room.state.doses[HUMIDIFIER].s_per_pct
    room.plan = replace(UNCOOLED, overrides={HUMIDIFIER: wanted(closed=True, for_s=55.0)})
    for humidity_pct in (72.0, 74.0, 78.0, 82.0, 84.0, 85.0):
        assert HUMIDIFIER in room.closed(humidity_pct)
    for _ in range(30):
        room.tick(FINE)
    assert room.state.doses[HUMIDIFIER].s_per_pct == before
    # Whereas the controller's own dose, with a rise that is much too large, makes the next smaller.
    taught = Room(UNCOOLED)
    assert HUMIDIFIER in taught.closed(71.0)
    for _ in range(30):
        taught.tick(85.0)
    assert taught.state.doses[HUMIDIFIER].s_per_pct < before


def test_every_relay_has_a_longest_override() -> None:
    assert set(LONGEST_OVERRIDE_S) == set(RelayKind)


@pytest.mark.parametrize(("uptime_s", "holds"), [(999.9, True), (1000.0, False), (1e9, False)])
def test_an_override_is_in_force_until_its_end(uptime_s: float, holds: bool) -> None:
    override = wanted(True)
    assert in_force(override, uptime_s=uptime_s) is (override if holds else None)
    assert in_force(None, uptime_s=uptime_s) is None


def test_a_safety_off_stays_what_it_is() -> None:
    safe = safe_off("humidity-hard-limit", seen_pct=95.0, limit_pct=92.0)
    for wish, code in ((safe, safe.because.code), (on("x"), "by-hand"), (off("x"), "by-hand")):
        told = by_hand(wish, wanted(True), uptime_s=START_S)
        assert told.because.code == code
