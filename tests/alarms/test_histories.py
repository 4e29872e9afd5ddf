"""The invariants of the alarms, over random histories of evaluations, acts and restarts.

The oracle keeps its own books from the events alone, and beside the bank runs a second one that
nobody touches and nothing suppresses: whatever people and design do, both must find the same.
"""

import json
from datetime import UTC, datetime, timedelta
from math import inf, nan

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from hangroom.alarm_table.log import AlarmEvent
from hangroom.alarm_table.row import AlarmId
from hangroom.alarm_table.table import TABLE
from hangroom.alarm_table.words import Condition, Event, Suppression, Tell
from hangroom.control.alarms.acts import (
    Act,
    acknowledge,
    begin_inspection,
    reset,
    return_to_service,
    shelve,
    take_out_of_service,
    unshelve,
)
from hangroom.control.alarms.bank import Bank, Conditions, evaluate, new_bank
from hangroom.control.alarms.delays import Raw, above
from hangroom.control.alarms.snapshot import restore, snapshot
from hangroom.control.alarms.states import ANNUNCIATING
from hangroom.errors import InputError

# A process alarm, a latching hard limit, a cause; the longest shelf of each by its priority.
LONGEST_SHELF = {
    AlarmId.HUMIDITY_HIGH: timedelta(hours=8),
    AlarmId.TEMPERATURE_HIGH_HIGH: timedelta(hours=1),
    AlarmId.RELAY_CHATTER: timedelta(hours=24),
}
ROWS = {alarm: TABLE[alarm] for alarm in LONGEST_SHELF}
FIGURES = {"high": 9.0, "middle": -1.0, "low": -9.0, "nan": nan, "inf": inf, "none": None}
NO_FIGURE = {"nan", "inf", "none"}
PLACES = ["high", "high", "high", "middle", "low", "low", "nan", "inf", "none"]

alarms = st.sampled_from(list(ROWS))
passing_s = st.sampled_from([2.0, 60.0, 130.0, 310.0, 900.0, 3700.0, 30000.0])


class Histories(RuleBasedStateMachine):
    """A bank, its untouched twin, and books kept from the events."""

    def __init__(self) -> None:
        super().__init__()
        self.uptime_s = 0.0
        self.now = datetime(2026, 11, 1, tzinfo=UTC)
        self.sequence = 0
        self.bank = new_bank(ROWS, uptime_s=0.0)
        self.twin = new_bank(ROWS, uptime_s=-1e6)
        self.seen = dict.fromkeys(ROWS, False)  # acknowledged by a person since it came on
        self.told = dict.fromkeys(ROWS, False)  # annunciated since it came on
        self.latches = dict.fromkeys(ROWS, False)
        self.shelved_for = dict.fromkeys(ROWS, timedelta())
        self.logged = dict.fromkeys(ROWS, Condition.NORMAL)
        self.ticked = False

    def book(self, bank: Bank, events: tuple[AlarmEvent, ...]) -> None:
        """Keep the books from what happened."""
        self.bank = bank
        for event in events:
            assert event.sequence > self.sequence
            self.sequence = event.sequence
            if event.event is Event.ACTIVATED:
                self.logged[event.alarm] = Condition.ACTIVE
                self.seen[event.alarm] = self.told[event.alarm] = False
            elif event.event is Event.RETURNED_TO_NORMAL:
                self.logged[event.alarm] = Condition.NORMAL
            elif event.event is Event.ACKNOWLEDGED:
                self.seen[event.alarm] = True
            elif event.event is Event.RESET:
                self.latches[event.alarm] = False
            if event.tell in ANNUNCIATING:
                assert event.suppression is Suppression.NONE
                self.told[event.alarm] = True
                self.seen[event.alarm] = False
                self.latches[event.alarm] |= ROWS[event.alarm].latching

    def act(self, alarm: AlarmId) -> Act:
        """Return an act of the keeper on an alarm, now."""
        self.ticked = False
        return Act(
            alarm=alarm,
            by="keeper",
            uptime_s=self.uptime_s,
            now=self.now,
            sequence=self.sequence,
        )

    def pass_time(self, passed_s: float) -> None:
        self.uptime_s += passed_s
        self.now += timedelta(seconds=passed_s)
        for alarm, held in self.bank.alarms.items():
            if Suppression.SHELVED in held.state.holds:
                self.shelved_for[alarm] += timedelta(seconds=passed_s)

    @rule(
        passed_s=passing_s,
        places=st.fixed_dictionaries(dict.fromkeys(ROWS, st.sampled_from(PLACES))),
        blind=st.booleans(),
    )
    def tick(self, passed_s: float, places: dict[AlarmId, str], *, blind: bool) -> None:
        self.pass_time(passed_s)
        raw = {
            alarm: Raw(above(FIGURES[place], limit=0.0, deadband=2.0))
            for alarm, place in places.items()
        }
        bank, events = evaluate(
            self.bank,
            Conditions(raw=raw, blind=blind),
            uptime_s=self.uptime_s,
            now=self.now,
            sequence=self.sequence,
        )
        cleared = {event.alarm for event in events if event.event is Event.RETURNED_TO_NORMAL}
        assert not any(places[alarm] in NO_FIGURE for alarm in cleared)
        self.book(bank, events)
        self.twin, _ = evaluate(
            self.twin, Conditions(raw=raw), uptime_s=self.uptime_s, now=self.now, sequence=0
        )
        self.ticked = True

    @rule(alarm=alarms)
    def acknowledge(self, alarm: AlarmId) -> None:
        before = self.bank.alarms[alarm].state.condition
        self.book(*acknowledge(self.bank, self.act(alarm)))
        assert self.bank.alarms[alarm].state.condition is before

    @rule(alarm=alarms)
    def reset(self, alarm: AlarmId) -> None:
        state = self.bank.alarms[alarm].state
        may = state.condition is Condition.NORMAL and state.acknowledged
        try:
            self.book(*reset(self.bank, self.act(alarm)))
        except InputError:
            assert not may
        else:
            assert may

    @rule(alarm=alarms, share_pct=st.sampled_from([1.0, 50.0, 100.0, 100.1, nan, inf, 0.0]))
    def shelve(self, alarm: AlarmId, share_pct: float) -> None:
        for_s = LONGEST_SHELF[alarm].total_seconds() * share_pct / 100
        try:
            outcome = shelve(self.bank, self.act(alarm), for_s=for_s, reason="waiting for a part")
        except InputError:
            assert not 0 < share_pct <= 100
        else:
            self.book(*outcome)
            self.shelved_for[alarm] = timedelta()

    @rule(alarm=alarms, how=st.sampled_from([unshelve, return_to_service]))
    def end(self, alarm: AlarmId, how: object) -> None:
        kind = Suppression.SHELVED if how is unshelve else Suppression.OUT_OF_SERVICE
        if kind in self.bank.alarms[alarm].state.holds:
            acted = unshelve if how is unshelve else return_to_service
            self.book(*acted(self.bank, self.act(alarm)))

    @rule(alarm=alarms)
    def take_out_of_service(self, alarm: AlarmId) -> None:
        self.book(*take_out_of_service(self.bank, self.act(alarm), reason="cleaning"))

    @rule(for_s=st.sampled_from([60.0, 900.0]))
    def inspect(self, for_s: float) -> None:
        self.bank = begin_inspection(self.bank, for_s=for_s, uptime_s=self.uptime_s)
        self.ticked = False

    @rule(
        off_s=passing_s,
        clock_lost=st.booleans(),
        booted_at_uptime_s=st.sampled_from([0.0, 12.0, 1e6]),
    )
    def restart(self, off_s: float, *, clock_lost: bool, booted_at_uptime_s: float) -> None:
        before = {id_: alarm.state for id_, alarm in self.bank.alarms.items()}
        kept = json.dumps(snapshot(self.bank, uptime_s=self.uptime_s, now=self.now))
        kept_twin = snapshot(self.twin, uptime_s=self.uptime_s, now=self.now)
        self.pass_time(off_s)
        self.uptime_s = booted_at_uptime_s
        woke_at = self.now - timedelta(days=400) if clock_lost else self.now
        self.bank = restore(json.loads(kept), ROWS, uptime_s=self.uptime_s, now=woke_at)
        self.twin = restore(kept_twin, ROWS, uptime_s=self.uptime_s, now=woke_at)
        for id_, alarm in self.bank.alarms.items():
            old, new = before[id_], alarm.state
            assert new.condition is old.condition
            assert (new.acknowledged, new.latched) == (old.acknowledged, old.latched)
            assert (new.display, new.occurrences) == (old.display, old.occurrences)
            assert set(new.holds) == set(old.holds)
            assert {h.reason for h in new.holds.values()} == {h.reason for h in old.holds.values()}
        self.ticked = False

    @invariant()
    def acknowledged_only_by_a_person(self) -> None:
        for id_, alarm in self.bank.alarms.items():
            if alarm.state.condition is Condition.ACTIVE and alarm.state.acknowledged:
                assert self.seen[id_]

    @invariant()
    def log_says_what_the_untouched_twin_finds(self) -> None:
        for id_, alarm in self.bank.alarms.items():
            assert self.logged[id_] is alarm.state.condition
            assert alarm.state.condition is self.twin.alarms[id_].state.condition
            assert alarm.delay.active == (alarm.state.condition is Condition.ACTIVE)

    @invariant()
    def latches_until_reset(self) -> None:
        for id_, alarm in self.bank.alarms.items():
            assert alarm.state.latched == self.latches[id_]

    @precondition(lambda self: self.ticked)
    @invariant()
    def active_in_the_open_was_told(self) -> None:
        for id_, alarm in self.bank.alarms.items():
            if alarm.state.condition is Condition.ACTIVE and not alarm.state.holds:
                assert self.told[id_] or self.seen[id_]

    @precondition(lambda self: self.ticked)
    @invariant()
    def no_shelf_outlives_its_limit(self) -> None:
        for id_, alarm in self.bank.alarms.items():
            if Suppression.SHELVED in alarm.state.holds:
                assert self.shelved_for[id_] < LONGEST_SHELF[id_]


Histories.TestCase.settings = settings(
    max_examples=150,
    stateful_step_count=40,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
)
TestHistories = Histories.TestCase


def test_the_tells_that_ring_are_the_two_the_oracle_counts() -> None:
    assert {Tell.ANNUNCIATE, Tell.ANNUNCIATE_AGAIN} == ANNUNCIATING
