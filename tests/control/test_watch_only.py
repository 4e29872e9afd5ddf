"""A relay that is not proved: read, decided and told as if, but closed by nothing except a trial."""

from dataclasses import replace
from itertools import cycle, pairwise

import pytest
from control.believable import Tick, beyond_doubt, measured, usable
from control.test_invariants import EXHAUST, HUMIDIFIER, again, histories, played, searched
from control.test_overrides import COOLING, DRY, FINE, HEATER, PLAN, START_S, STIRRER, WET, Room
from hypothesis import event, given
from hypothesis import strategies as st

from hangroom.control.interlocks import WAITS_FOR
from hangroom.terms import Because, Override, RelayKind, RelayRules, RoomPlan

WAITS = {code: relay for relay, code in WAITS_FOR.items()}
TRIAL = Override(closed=True, ends_uptime_s=START_S + 15.0, by="keeper", why="", trial=True)
ALL = frozenset(RelayKind)

History = tuple[float, tuple[Tick, ...]]


@st.composite
def watched_histories(draw: st.DrawFn) -> History:
    """Return a history in which some relays are not proved, some trials asked, some proofs given."""
    started_s, ticks = draw(histories())
    unproved = draw(st.frozensets(st.sampled_from(RelayKind), min_size=1))
    only_trials = draw(st.booleans())
    changed = []
    for tick in ticks:
        overrides = {
            relay: replace(override, trial=only_trials or override.ends_uptime_s % 2 < 1)
            for relay, override in tick.plan.overrides.items()
        }
        if draw(st.integers(0, 19)) == 0:
            unproved ^= {draw(st.sampled_from(RelayKind))}
        plan = replace(tick.plan, overrides=overrides, unproved=unproved)
        changed.append(replace(tick, plan=plan))
    return started_s, tuple(changed)


def tried(tick: Tick, relay: RelayKind) -> bool:
    """Whether somebody has asked to try a relay at this moment."""
    override = tick.plan.overrides.get(relay)
    return (
        override is not None
        and override.trial
        and override.closed
        and tick.uptime_s < override.ends_uptime_s
    )


@searched
@given(watched_histories())
def test_over_any_history_only_a_trial_closes_what_is_not_proved_and_within_every_limit(
    history: History,
) -> None:
    done = played(history)
    trusted_once = False
    for decided, known, sure in zip(
        done, measured(history[1]), beyond_doubt(history[1]), strict=True
    ):
        tick, closed, plan = decided.tick, decided.closed, decided.tick.plan
        shut = {relay for relay, is_closed in closed.items() if is_closed}
        for relay in plan.unproved & shut:
            event("closed for a trial")
            assert tried(tick, relay)
        trusted_once = trusted_once or bool(usable(tick))
        if not trusted_once:
            assert not shut
        if not known:
            assert shut <= {STIRRER, EXHAUST}
        assert not shut >= {HUMIDIFIER, EXHAUST}
        assert plan.reheats or not shut >= {COOLING, HEATER}
        if plan.humidity and known:
            # The moistest of those beyond doubt; of the others whichever counts, the driest.
            seen_pct = [min(r.humidity_pct for r in known), *(r.humidity_pct for r in sure)]
            if max(seen_pct) >= plan.humidity.high_limit_pct:
                assert HUMIDIFIER not in shut
        for command in decided.decision.commands:
            other = WAITS.get(command.because.code)
            if other in plan.unproved:
                assert tried(tick, other), "what is only watched holds nothing back"
    # Each tick again, out of order, as the journal's replay must come to the same.
    for before, decided in reversed(list(pairwise(done))):
        assert again(before.decision.state, decided.tick) == decided.decision


@pytest.mark.parametrize(
    ("relay", "humidity_pct", "temperature_c", "code"),
    [
        (HUMIDIFIER, DRY, 13.0, "too-dry"),
        (EXHAUST, WET, 13.0, "too-humid"),
        (HEATER, FINE, 10.0, "too-cold"),
    ],
)
def test_what_it_would_do_is_told_with_its_reason(
    relay: RelayKind, humidity_pct: float, temperature_c: float, code: str
) -> None:
    relays = dict.fromkeys((HUMIDIFIER, EXHAUST, HEATER), RelayRules(min_on_s=0, min_off_s=0))
    room = Room(replace(PLAN, relays=relays, unproved=ALL))
    command = room.tick(humidity_pct, temperature_c)[relay]
    assert (command.closed, command.because) == (False, Because("not-proved"))
    would = room.decision.would
    assert {kind for kind, wish in would.items() if wish.closed} == {relay}
    assert would[relay].because.code == code


def test_nothing_is_foretold_of_a_relay_that_is_proved() -> None:
    room = Room(PLAN)
    room.tick(DRY)
    assert room.decision.would == {}


@pytest.mark.parametrize("relay", RelayKind)
def test_a_trial_runs_for_its_time_and_then_it_is_watched_again(relay: RelayKind) -> None:
    """A shortest run of minutes does not keep on what nobody has heard yet."""
    rules = dict.fromkeys(RelayKind, RelayRules(min_on_s=180.0, min_off_s=0))
    room = Room(replace(PLAN, relays=rules, unproved=ALL, overrides={relay: TRIAL}))
    assert [room.closed(FINE) for _ in range(4)] == [{relay}, {relay}, set(), set()]


@pytest.mark.parametrize(("relay", "reheats"), [(EXHAUST, False), (HEATER, True)])
def test_what_was_only_watched_for_hours_dries_no_more_after_its_proof(
    relay: RelayKind, reheats: bool
) -> None:
    """Ten %RH too much are a share of 0.01 * 10 and 0.02 * 10 of the first cycle of 1200 s: 360 s.

    By the proportional-integral rule as it is written down; a share that went on growing while
    nothing could dry would end at the whole cycle.
    """
    plan = replace(PLAN, reheats=reheats, unproved=frozenset({relay}))
    room = Room(plan)
    seen = cycle((WET - 0.2, WET + 0.2))  # no sensor says the same for hours
    for _ in range(6 * 360):
        room.tick(next(seen))
    assert room.decision.would[relay].closed
    room.plan = replace(plan, unproved=frozenset())
    ran_s = sum(10.0 for _ in range(120) if relay in room.closed(next(seen)))
    assert ran_s == pytest.approx(360.0, abs=10.0)


def by_hand(closed: bool) -> dict[RelayKind, Override]:
    return dict.fromkeys(RelayKind, replace(TRIAL, trial=False, closed=closed))


def test_by_hand_an_unproved_relay_stays_open() -> None:
    room = Room(replace(PLAN, unproved=ALL, overrides=by_hand(closed=True)))
    assert room.closed(FINE) == set()


@pytest.mark.parametrize("relay", [EXHAUST, STIRRER])
def test_a_fan_can_be_tried_while_the_air_is_not_known(relay: RelayKind) -> None:
    room = Room(replace(PLAN, unproved=ALL))
    assert room.closed(FINE) == set()
    trial = replace(TRIAL, ends_uptime_s=START_S + 25.0)
    room.plan = replace(room.plan, overrides={relay: trial})
    assert room.closed(None) == {relay}


@pytest.mark.parametrize("relay", [HUMIDIFIER, COOLING, HEATER])
def test_nothing_else_can(relay: RelayKind) -> None:
    room = Room(replace(PLAN, unproved=ALL))
    room.closed(FINE)
    trial = replace(TRIAL, ends_uptime_s=START_S + 25.0)
    room.plan = replace(room.plan, overrides={relay: trial})
    assert room.closed(None) == set()


@pytest.mark.parametrize("relay", RelayKind)
def test_before_the_first_trusted_reading_no_trial_closes_anything(relay: RelayKind) -> None:
    assert Room(replace(PLAN, unproved=ALL, overrides={relay: TRIAL})).closed(None) == set()


def test_a_room_with_nothing_unproved_is_a_room_as_before() -> None:
    """The plans of journals that knew no proofs read as proved, so that they replay the same."""
    assert (
        RoomPlan(
            name="closet", stage=PLAN.stage, humidity=None, temperature=None, relays={}
        ).unproved
        == frozenset()
    )
