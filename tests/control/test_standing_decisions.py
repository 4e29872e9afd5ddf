"""A decision that stands is what would be decided anew, over the histories of the invariants."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from control.test_invariants import Tick, again, histories, searched
from hypothesis import event, given

from hangroom.control.memory import starting_state
from hangroom.control.room import Decision, followed
from hangroom.terms import RelayKind


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
