"""The state of one alarm, and what every event makes of it, after ISA-18.2 / IEC 62682.

Three things are kept apart and none is worked out from another: the condition with its
acknowledgement, the latch, and what suppresses the alarm. OPC UA part 9 (IEC 62541-9) keeps the
three kinds of suppression apart as well, so that a shelf survives a suppression by design.

A suppressed alarm is evaluated and logged like any other; only nobody is told.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime

from hangroom.alarm_table.words import Condition, Event, Suppression, Tell


@dataclass(frozen=True, slots=True)
class Move:
    """Where an event leads, what to tell, and whether it takes the latch off."""

    condition: Condition
    acknowledged: bool
    tell: Tell = Tell.NOTHING
    unlatches: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """One suppression: since when, by whom, why, and at which monotonic second it ends by itself.

    By design, `by` is empty and `reason` names the circumstance. `since` (aware) is for the record.
    """

    since: datetime
    by: str
    reason: str
    ends_uptime_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmState:
    """One alarm's state; replaced, never changed.

    `annunciated`: whether anybody was told of it since it was last normal and acknowledged.
    `told_occurrence`: the last one of its occurrences that anybody was told of.
    `quiet_since_uptime_s`: when it was last annunciated or acknowledged.
    """

    condition: Condition = Condition.NORMAL
    acknowledged: bool = True
    latched: bool = False
    annunciated: bool = False
    holds: Mapping[Suppression, Hold] = field(default_factory=dict)
    occurrences: int = 0
    told_occurrence: int = 0
    quiet_since_uptime_s: float | None = None

    @property
    def suppression(self) -> Suppression:
        """The strongest suppression there is, or none."""
        return next((kind for kind in Suppression if kind in self.holds), Suppression.NONE)

    @property
    def display(self) -> str:
        """The state in the standard's words."""
        if self.holds:
            return str(self.suppression)
        if self.condition is Condition.ACTIVE:
            said = "active"
        elif self.latched:
            said = "latched"
        elif self.acknowledged:
            return "normal"
        else:
            said = "returned to normal"
        return f"{said}, {'acknowledged' if self.acknowledged else 'unacknowledged'}"


_NORMAL = Move(Condition.NORMAL, acknowledged=True)
_RETURNED = Move(Condition.NORMAL, acknowledged=False)
_SEEN = Move(Condition.ACTIVE, acknowledged=True)
_UNSEEN = Move(Condition.ACTIVE, acknowledged=False)
_RAISED = replace(_UNSEEN, tell=Tell.ANNUNCIATE)
_RAISED_AGAIN = replace(_UNSEEN, tell=Tell.ANNUNCIATE_AGAIN)

# Condition and acknowledgement, then the event. A shelf or a time out of service that ends finds
# an active alarm unacknowledged, whatever it was before; a suppression by design, which nobody
# chose, leaves an acknowledgement of the same occurrence standing, and `step` does not tell anew of
# one that was told before.
MOVES: dict[tuple[Condition, bool], dict[Event, Move]] = {
    (Condition.NORMAL, True): {
        Event.ACTIVATED: _RAISED,
        Event.RETURNED_TO_NORMAL: _NORMAL,
        Event.RE_ALARMED: _NORMAL,
        Event.ACKNOWLEDGED: _NORMAL,
        Event.RESET: replace(_NORMAL, unlatches=True),
        Event.SHELVED: _NORMAL,
        Event.UNSHELVED: _NORMAL,
        Event.SHELF_ENDED: _NORMAL,
        Event.SUPPRESSED: _NORMAL,
        Event.UNSUPPRESSED: _NORMAL,
        Event.TAKEN_OUT_OF_SERVICE: _NORMAL,
        Event.RETURNED_TO_SERVICE: _NORMAL,
    },
    (Condition.NORMAL, False): {
        Event.ACTIVATED: _RAISED,
        Event.RETURNED_TO_NORMAL: _RETURNED,
        Event.RE_ALARMED: _RETURNED,
        Event.ACKNOWLEDGED: replace(_NORMAL, tell=Tell.SILENCE),
        Event.RESET: _RETURNED,
        Event.SHELVED: replace(_RETURNED, tell=Tell.SILENCE),
        Event.UNSHELVED: _RETURNED,
        Event.SHELF_ENDED: _RETURNED,
        Event.SUPPRESSED: replace(_RETURNED, tell=Tell.SILENCE),
        Event.UNSUPPRESSED: _RETURNED,
        Event.TAKEN_OUT_OF_SERVICE: replace(_RETURNED, tell=Tell.SILENCE),
        Event.RETURNED_TO_SERVICE: _RETURNED,
    },
    (Condition.ACTIVE, False): {
        Event.ACTIVATED: _UNSEEN,
        Event.RETURNED_TO_NORMAL: _RETURNED,
        Event.RE_ALARMED: _RAISED_AGAIN,
        Event.ACKNOWLEDGED: replace(_SEEN, tell=Tell.SILENCE),
        Event.RESET: _UNSEEN,
        Event.SHELVED: replace(_UNSEEN, tell=Tell.SILENCE),
        Event.UNSHELVED: _RAISED,
        Event.SHELF_ENDED: _RAISED,
        Event.SUPPRESSED: replace(_UNSEEN, tell=Tell.SILENCE),
        Event.UNSUPPRESSED: _RAISED,
        Event.TAKEN_OUT_OF_SERVICE: replace(_UNSEEN, tell=Tell.SILENCE),
        Event.RETURNED_TO_SERVICE: _RAISED,
    },
    (Condition.ACTIVE, True): {
        Event.ACTIVATED: _SEEN,
        Event.RETURNED_TO_NORMAL: _NORMAL,
        Event.RE_ALARMED: _RAISED_AGAIN,
        Event.ACKNOWLEDGED: _SEEN,
        Event.RESET: _SEEN,
        Event.SHELVED: _SEEN,
        Event.UNSHELVED: _RAISED,
        Event.SHELF_ENDED: _RAISED,
        Event.SUPPRESSED: _SEEN,
        Event.UNSUPPRESSED: _SEEN,
        Event.TAKEN_OUT_OF_SERVICE: _SEEN,
        Event.RETURNED_TO_SERVICE: _RAISED,
    },
}

# Which suppression an event puts on, and which it takes off.
PUTS_ON = {
    Event.SHELVED: Suppression.SHELVED,
    Event.SUPPRESSED: Suppression.BY_DESIGN,
    Event.TAKEN_OUT_OF_SERVICE: Suppression.OUT_OF_SERVICE,
}
TAKES_OFF = {
    Event.UNSHELVED: Suppression.SHELVED,
    Event.SHELF_ENDED: Suppression.SHELVED,
    Event.UNSUPPRESSED: Suppression.BY_DESIGN,
    Event.RETURNED_TO_SERVICE: Suppression.OUT_OF_SERVICE,
}
ANNUNCIATING = frozenset({Tell.ANNUNCIATE, Tell.ANNUNCIATE_AGAIN})


def step(
    state: AlarmState,
    event: Event,
    *,
    latching: bool,
    uptime_s: float,
    hold: Hold | None = None,
) -> tuple[AlarmState, Tell]:
    """Return the state after an event, and what to tell.

    `hold` says why, with an event that suppresses; without one such an event raises ValueError.
    """
    if event in TAKES_OFF and TAKES_OFF[event] not in state.holds:
        return state, Tell.NOTHING
    holds = _held(state.holds, event, hold)
    move = MOVES[state.condition, state.acknowledged][event]
    active = move.condition is Condition.ACTIVE
    occurrences = state.occurrences + (move.condition is not state.condition and active)
    known = event is Event.UNSUPPRESSED and state.told_occurrence == occurrences
    tell = Tell.NOTHING if (holds or known) and move.tell in ANNUNCIATING else move.tell
    annunciated = state.annunciated or tell in ANNUNCIATING
    # What came and went while suppressed was told to nobody, so nobody has to acknowledge it.
    acknowledged = move.acknowledged or (not active and not annunciated)
    quiet_from_now = tell in ANNUNCIATING or event is Event.ACKNOWLEDGED
    return (
        AlarmState(
            condition=move.condition,
            acknowledged=acknowledged,
            latched=not move.unlatches and (state.latched or (latching and tell in ANNUNCIATING)),
            annunciated=annunciated and (active or not acknowledged),
            holds=holds,
            occurrences=occurrences,
            told_occurrence=occurrences if tell in ANNUNCIATING else state.told_occurrence,
            quiet_since_uptime_s=uptime_s if quiet_from_now else state.quiet_since_uptime_s,
        ),
        tell,
    )


def _held(
    holds: Mapping[Suppression, Hold], event: Event, hold: Hold | None
) -> Mapping[Suppression, Hold]:
    if event in PUTS_ON:
        if hold is None:
            raise ValueError(f"{event} needs a hold that says since when and why")
        return {**holds, PUTS_ON[event]: hold}
    if event in TAKES_OFF:
        return {kind: held for kind, held in holds.items() if kind is not TAKES_OFF[event]}
    return holds
