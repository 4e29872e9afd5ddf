"""One alarm's state machine, against the transitions ISA-18.2 / IEC 62682 describe."""

from datetime import UTC, datetime
from itertools import combinations, product

import pytest

from hangroom.alarm_table.words import Condition, Event, Suppression, Tell
from hangroom.control.alarms.states import ANNUNCIATING, MOVES, PUTS_ON, AlarmState, Hold, step

HOLD = Hold(since=datetime(2026, 11, 1, tzinfo=UTC), by="keeper", reason="cleaning the disc")
KINDS = (Suppression.OUT_OF_SERVICE, Suppression.BY_DESIGN, Suppression.SHELVED)
HOLDS = [dict.fromkeys(some, HOLD) for many in range(4) for some in combinations(KINDS, many)]
STATES = [
    AlarmState(condition=condition, acknowledged=acknowledged, latched=latched, holds=holds)
    for condition, acknowledged, latched, holds in product(
        Condition, (True, False), (True, False), HOLDS
    )
]


def after(state: AlarmState, *events: Event, latching: bool = False) -> tuple[AlarmState, Tell]:
    """Take a state through events, one second after the other; return what the last one told."""
    tell = Tell.NOTHING
    for second, event in enumerate(events):
        hold = HOLD if event in PUTS_ON else None
        state, tell = step(state, event, latching=latching, uptime_s=float(second), hold=hold)
    return state, tell


def named(state: AlarmState) -> str:
    """Name a state for a test's id."""
    kinds = "+".join(state.holds) or "open"
    ack = "acked" if state.acknowledged else "unacked"
    return f"{state.condition}-{ack}-{'latched' if state.latched else 'free'}-{kinds}"


def test_the_table_names_every_state_and_every_event() -> None:
    assert set(MOVES) == set(product(Condition, (True, False)))
    assert all(set(row) == set(Event) for row in MOVES.values())


@pytest.mark.parametrize("event", Event)
@pytest.mark.parametrize("state", STATES, ids=named)
def test_every_state_answers_every_event(state: AlarmState, event: Event) -> None:
    for latching in (True, False):
        new, tell = after(state, event, latching=latching)
        by_evaluation = {
            Event.ACTIVATED: Condition.ACTIVE,
            Event.RETURNED_TO_NORMAL: Condition.NORMAL,
        }
        assert new.condition is by_evaluation.get(event, state.condition)
        if new.holds:
            assert tell not in ANNUNCIATING
        if event is not Event.ACKNOWLEDGED and new.condition is Condition.ACTIVE:
            assert new.acknowledged <= (state.acknowledged and state.condition is new.condition)
        if state.latched and event is not Event.RESET:
            assert new.latched


# From, event, to, as the standards' state diagram has them; words as displayed.
DIAGRAM = [
    ("normal", Event.ACTIVATED, "active, unacknowledged"),
    ("active, unacknowledged", Event.ACKNOWLEDGED, "active, acknowledged"),
    ("active, unacknowledged", Event.RETURNED_TO_NORMAL, "returned to normal, unacknowledged"),
    ("active, acknowledged", Event.RETURNED_TO_NORMAL, "normal"),
    ("active, acknowledged", Event.RE_ALARMED, "active, unacknowledged"),
    ("returned to normal, unacknowledged", Event.ACKNOWLEDGED, "normal"),
    ("returned to normal, unacknowledged", Event.ACTIVATED, "active, unacknowledged"),
    ("normal", Event.SHELVED, "shelved"),
    ("normal", Event.SUPPRESSED, "suppressed by design"),
    ("normal", Event.TAKEN_OUT_OF_SERVICE, "out of service"),
]
WAYS_TO = {
    "normal": (),
    "active, unacknowledged": (Event.ACTIVATED,),
    "active, acknowledged": (Event.ACTIVATED, Event.ACKNOWLEDGED),
    "returned to normal, unacknowledged": (Event.ACTIVATED, Event.RETURNED_TO_NORMAL),
}


@pytest.mark.parametrize(("before", "event", "expected"), DIAGRAM)
def test_an_open_alarm_moves_as_the_standards_diagram_says(
    before: str, event: Event, expected: str
) -> None:
    state, _ = after(AlarmState(), *WAYS_TO[before])
    assert state.display == before
    assert after(state, event)[0].display == expected


@pytest.mark.parametrize(
    ("events", "expected"),
    [
        ((Event.RETURNED_TO_NORMAL,), "latched, unacknowledged"),
        ((Event.RETURNED_TO_NORMAL, Event.RESET), "latched, unacknowledged"),
        ((Event.RETURNED_TO_NORMAL, Event.ACKNOWLEDGED), "latched, acknowledged"),
        ((Event.ACKNOWLEDGED, Event.RETURNED_TO_NORMAL), "latched, acknowledged"),
        ((Event.RETURNED_TO_NORMAL, Event.ACKNOWLEDGED, Event.RESET), "normal"),
        ((Event.ACKNOWLEDGED, Event.RESET), "active, acknowledged"),
        ((Event.ACKNOWLEDGED, Event.RESET, Event.RETURNED_TO_NORMAL), "latched, acknowledged"),
    ],
)
def test_a_latching_alarm_stays_until_it_is_normal_acknowledged_and_reset(
    events: tuple[Event, ...], expected: str
) -> None:
    raised, _ = after(AlarmState(), Event.ACTIVATED, latching=True)
    assert after(raised, *events, latching=True)[0].display == expected


@pytest.mark.parametrize(
    "ends", [Event.UNSHELVED, Event.SHELF_ENDED, Event.RETURNED_TO_SERVICE], ids=str
)
def test_an_end_of_a_shelf_or_of_maintenance_finds_an_active_alarm_unacknowledged(
    ends: Event,
) -> None:
    begins = Event.TAKEN_OUT_OF_SERVICE if ends is Event.RETURNED_TO_SERVICE else Event.SHELVED
    state, tell = after(AlarmState(), Event.ACTIVATED, Event.ACKNOWLEDGED, begins, ends)
    assert (state.display, tell) == ("active, unacknowledged", Tell.ANNUNCIATE)


def test_a_suppression_by_design_leaves_an_acknowledgement_of_the_same_occurrence() -> None:
    seen = (Event.ACTIVATED, Event.ACKNOWLEDGED, Event.SUPPRESSED)
    state, tell = after(AlarmState(), *seen, Event.UNSUPPRESSED)
    assert (state.display, tell) == ("active, acknowledged", Tell.NOTHING)
    again = (Event.RETURNED_TO_NORMAL, Event.ACTIVATED, Event.UNSUPPRESSED)
    state, tell = after(AlarmState(), *seen, *again)
    assert (state.display, tell) == ("active, unacknowledged", Tell.ANNUNCIATE)


def test_a_suppression_by_design_does_not_tell_anew_of_an_occurrence_that_was_told() -> None:
    standing = (Event.ACTIVATED, Event.SUPPRESSED, Event.UNSUPPRESSED)
    state, tell = after(AlarmState(), *standing)
    assert (state.display, tell) == ("active, unacknowledged", Tell.NOTHING)
    hidden = (Event.SUPPRESSED, Event.RETURNED_TO_NORMAL, Event.ACTIVATED, Event.UNSUPPRESSED)
    state, tell = after(AlarmState(), Event.ACTIVATED, *hidden)
    assert (state.display, tell) == ("active, unacknowledged", Tell.ANNUNCIATE)


def test_what_came_and_went_while_suppressed_is_counted_and_asks_for_nothing() -> None:
    hidden = (Event.SUPPRESSED, Event.ACTIVATED, Event.RETURNED_TO_NORMAL, Event.UNSUPPRESSED)
    state, tell = after(AlarmState(), *hidden, latching=True)
    assert (state.display, tell, state.occurrences) == ("normal", Tell.NOTHING, 1)


def test_what_was_told_before_a_suppression_still_asks_to_be_acknowledged_after_it() -> None:
    events = (Event.ACTIVATED, Event.SUPPRESSED, Event.RETURNED_TO_NORMAL, Event.UNSUPPRESSED)
    assert after(AlarmState(), *events)[0].display == "returned to normal, unacknowledged"


def test_a_shelf_outlasts_a_suppression_by_design() -> None:
    events = (Event.SHELVED, Event.SUPPRESSED, Event.ACTIVATED)
    state, _ = after(AlarmState(), *events)
    assert state.display == "suppressed by design"
    state, tell = after(state, Event.UNSUPPRESSED)
    assert (state.display, tell) == ("shelved", Tell.NOTHING)
    assert after(state, Event.SHELF_ENDED)[1] is Tell.ANNUNCIATE


def test_the_end_of_a_suppression_that_was_not_there_changes_nothing() -> None:
    state, _ = after(AlarmState(), Event.ACTIVATED, Event.ACKNOWLEDGED)
    for event in (Event.UNSHELVED, Event.SHELF_ENDED, Event.RETURNED_TO_SERVICE):
        assert after(state, event) == (state, Tell.NOTHING)


def test_occurrences_count_activations_and_not_what_is_told_again() -> None:
    events = (Event.ACTIVATED, Event.RE_ALARMED, Event.RETURNED_TO_NORMAL, Event.ACTIVATED)
    assert after(AlarmState(), *events)[0].occurrences == 2


def test_a_suppression_without_a_reason_is_a_mistake_of_the_program() -> None:
    with pytest.raises(ValueError, match="since when and why"):
        step(AlarmState(), Event.SHELVED, latching=False, uptime_s=0.0)
