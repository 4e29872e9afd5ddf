"""Invariants 4 and 5 across restarts: starts per hour, rests, longest runs, running per hour.

Random histories in which the program dies at any moment and comes back with what was saved. The
oracle keeps its own book of every contact, through all programs, and knows nothing of theirs.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from hangroom.control.memory import RoomState, starting_state
from hangroom.control.room import decide
from hangroom.control.snapshot import off_for_s, restored, snapshot, stamped
from hangroom.terms import (
    AirReading,
    HumidityTarget,
    RelayKind,
    RelayRules,
    RoomPlan,
    Stage,
    TemperatureTarget,
)

START = datetime(2026, 11, 1, tzinfo=UTC)
BOOT = "boot"
HOUR_S = 3600.0
SAVED_EVERY_S = 60.0
TRIPS = {"long-run", "much-running"}

rules = st.builds(
    RelayRules,
    min_on_s=st.sampled_from([0.0, 30.0]),
    # At least as long as what a death may take with it; see `restored`.
    min_off_s=st.sampled_from([70.0, 200.0]),
    max_run_s=st.sampled_from([None, 60.0, 60.0, 900.0]),
    max_starts_per_h=st.sampled_from([None, 1, 2, 6]),
    max_on_s_per_h=st.sampled_from([None, 90.0, 600.0]),
    lockout_s=st.sampled_from([0.0, 1200.0, 1200.0]),
)
plans = st.builds(
    RoomPlan,
    name=st.just("closet"),
    stage=st.just(Stage.HANG),
    humidity=st.just(
        HumidityTarget(setpoint_pct=75, band_pct=3, low_limit_pct=50, high_limit_pct=92)
    ),
    temperature=st.just(TemperatureTarget(setpoint_c=13, band_c=1, low_limit_c=2, high_limit_c=25)),
    relays=st.fixed_dictionaries(dict.fromkeys(RelayKind, rules)),
    settle_s=st.sampled_from([0.0, 60.0]),
    stir_for_s=st.just(40.0),
    stir_every_s=st.just(100.0),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Some ticks in one air; at its end, perhaps a death: how long dark, and whether that is known."""

    tick_s: float
    ticks: int
    humidity_pct: float | None
    temperature_c: float
    dark_s: float | None
    known: bool


histories = st.lists(
    st.builds(
        Stretch,
        tick_s=st.sampled_from([2.0, 5.0]),
        ticks=st.integers(1, 150),
        humidity_pct=st.sampled_from([68.0, 68.0, 75.0, 82.0, 82.0, 93.0, None]),
        temperature_c=st.sampled_from([8.0, 13.0, 18.0, 18.0]),
        dark_s=st.sampled_from([None, None, 0.0, 45.0, 45.0, 4000.0]),
        known=st.booleans(),
    ),
    min_size=4,
    max_size=30,
)


@dataclass(slots=True)
class Contact:
    """What one contact really did: `runs` as [began, ended], the last without end while closed."""

    runs: list[list[float]] = field(default_factory=list)
    closed: bool = False
    locked_until_s: float = -1e9

    def ran_s(self, since_s: float, now_s: float) -> float:
        return sum(
            max(0.0, (run[1] if len(run) == 2 else now_s) - max(run[0], since_s))
            for run in self.runs
        )

    def starts(self, since_s: float) -> int:
        return sum(run[0] > since_s for run in self.runs)


class Book:
    """Every contact of a room through all its programs, and what must not happen to it."""

    def __init__(self, plan: RoomPlan) -> None:
        self._plan = plan
        self.contacts = {kind: Contact() for kind in plan.relays}

    def told(self, relay: RelayKind, code: str, *, closed: bool, now_s: float) -> None:
        contact, rule = self.contacts[relay], self._plan.relays[relay]
        if closed and not contact.closed:
            self._may_start(contact, rule, now_s)
            contact.runs.append([now_s])
            event(f"{relay} started")
        elif contact.closed and not closed:
            contact.runs[-1].append(now_s)
            if code in TRIPS:
                contact.locked_until_s = now_s + rule.lockout_s
                event(f"{relay} {code}")
        contact.closed = closed
        if closed:
            assert rule.max_run_s is None or now_s - contact.runs[-1][0] < rule.max_run_s
            ran_s = contact.ran_s(now_s - HOUR_S, now_s)
            assert rule.max_on_s_per_h is None or ran_s < rule.max_on_s_per_h

    def _may_start(self, contact: Contact, rule: RelayRules, now_s: float) -> None:
        assert not contact.runs or now_s - contact.runs[-1][1] >= rule.min_off_s
        assert now_s >= contact.locked_until_s
        if rule.max_starts_per_h is not None:
            assert contact.starts(now_s - HOUR_S) < rule.max_starts_per_h

    def died(self, now_s: float, saved_s: float) -> None:
        """Every contact opens; a lockout from after the last save is forgotten with it."""
        for contact in self.contacts.values():
            if contact.closed:
                contact.runs[-1].append(now_s)
                contact.closed = False
            if contact.runs and contact.runs[-1][1] > saved_s:
                contact.locked_until_s = -1e9


def lived(plan: RoomPlan, history: Sequence[Stretch]) -> Book:
    """Live through a history as the loop does: saved at a start, then decide, act, save once a minute."""
    book = Book(plan)
    now_s = 1000.0
    state = starting_state(plan, uptime_s=now_s)
    saved_s, saved = now_s, on_the_disk(state, now_s)
    for stretch in history:
        for _ in range(stretch.ticks):
            if now_s - saved_s >= SAVED_EVERY_S:
                saved_s, saved = now_s, on_the_disk(state, now_s)
            now_s += stretch.tick_s
            readings = {"rail": reading(stretch, now_s)}
            decision = decide(state, plan, readings, uptime_s=now_s)
            state = decision.state
            for command in decision.commands:
                book.told(command.relay, command.because.code, closed=command.closed, now_s=now_s)
        if stretch.dark_s is not None:
            book.died(now_s, saved_s)
            now_s += stretch.dark_s
            kept, boot_id = json.loads(saved), BOOT if stretch.known else "another"
            gap_s = off_for_s(kept, boot_id=boot_id, now=START, uptime_s=now_s)
            state, fault = restored(kept, plan, gap_s=gap_s, uptime_s=now_s)
            assert fault is None
            saved_s, saved = now_s, on_the_disk(state, now_s)
    return book


def on_the_disk(state: RoomState, now_s: float) -> str:
    # The wall clock stands still here: it tells a program of another boot nothing.
    taken = snapshot(state, uptime_s=now_s)
    return json.dumps(stamped(taken, boot_id=BOOT, now=START, uptime_s=now_s))


def reading(stretch: Stretch, now_s: float) -> AirReading | None:
    if stretch.humidity_pct is None:
        return None
    return AirReading(
        taken_at=START + timedelta(seconds=now_s),
        taken_uptime_s=now_s - 0.25,
        temperature_c=stretch.temperature_c,
        humidity_pct=stretch.humidity_pct,
    )


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(plans, histories)
def test_no_history_and_no_restart_takes_a_relay_past_its_limits(
    plan: RoomPlan, history: list[Stretch]
) -> None:
    lived(plan, history)
