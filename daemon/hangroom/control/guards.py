"""What protects a relay and what it switches: rests, shortest and longest runs, use per hour.

A limit on starts makes a relay wait. A limit on running opens it, and locks it out: whatever ran
for so long without effect needs a look by a person, or at least a pause.
"""

from dataclasses import replace
from math import inf

from hangroom.control.use import (
    RelayMemory,
    not_refused,
    ran_in_the_hour_s,
    refused,
    until_next_start_s,
    until_ran_at_most_s,
)
from hangroom.control.wish import Wish, off, on, safe_off
from hangroom.terms import RelayRules

# How much of the running that is allowed in an hour must be left for a start, or it would soon end
# in a lockout. Our judgement.
ROOM_RATIO = 0.1


def guarded(
    wish: Wish,
    memory: RelayMemory,
    rules: RelayRules,
    *,
    uptime_s: float,
    lifted_uptime_s: float | None = None,
) -> tuple[Wish, RelayMemory]:
    """Return the wish, or what the relay must do instead, and the relay's memory after it.

    Only a safety off breaks a minimum run. `lifted_uptime_s`: when a person last ended lockouts.
    """
    if memory.closed:
        return _while_closed(wish, memory, rules, uptime_s)
    if memory.locked_uptime_s is not None:
        left_s = memory.locked_uptime_s + rules.lockout_s - uptime_s
        lifted = lifted_uptime_s is not None and memory.locked_uptime_s < lifted_uptime_s
        if left_s > 0 and not lifted:
            return wish if wish.safety else safe_off("locked-out", left_s=left_s), memory
        memory = replace(memory, locked_uptime_s=None)
    if not wish.closed:
        return wish, not_refused(memory)
    return _before_a_start(wish, memory, rules, uptime_s)


def paused_in_time(wish: Wish, memory: RelayMemory, rules: RelayRules, *, uptime_s: float) -> Wish:
    """Return the wish, or a pause in place of an on that has lasted for as long as a run may.

    For whoever wants a relay on for longer than that, so that it is not locked out for it.
    """
    ran_s = uptime_s - memory.changed_uptime_s
    runs = wish.closed and memory.closed
    if runs and rules.max_run_s is not None and ran_s >= rules.max_run_s:
        return off("long-run", ran_s=ran_s)
    return wish


def until_the_next_turn_s(
    memory: RelayMemory, rules: RelayRules, wish: Wish, *, uptime_s: float
) -> float:
    """Return for how long a guard has nothing new to say of a relay told its position by a wish.

    By what the wish counts down, a lockout, and the limits of a run under way.
    """
    wait_s = wish.because.figures.get("left_s", inf)
    if memory.locked_uptime_s is not None:
        wait_s = min(wait_s, memory.locked_uptime_s + rules.lockout_s - uptime_s)
    if memory.closed and rules.max_run_s is not None:
        wait_s = min(wait_s, memory.changed_uptime_s + rules.max_run_s - uptime_s)
    if memory.closed and rules.max_on_s_per_h is not None:
        ran_s = ran_in_the_hour_s(memory, uptime_s=uptime_s)
        wait_s = min(wait_s, rules.max_on_s_per_h - ran_s)
    return wait_s


def _while_closed(
    wish: Wish, memory: RelayMemory, rules: RelayRules, uptime_s: float
) -> tuple[Wish, RelayMemory]:
    stayed_s = uptime_s - memory.changed_uptime_s
    if not wish.closed and (wish.safety or stayed_s >= rules.min_on_s):
        return wish, memory
    if rules.max_run_s is not None and stayed_s >= rules.max_run_s:
        return safe_off("long-run", ran_s=stayed_s), replace(memory, locked_uptime_s=uptime_s)
    if rules.max_on_s_per_h is not None:
        ran_s = ran_in_the_hour_s(memory, uptime_s=uptime_s)
        if ran_s >= rules.max_on_s_per_h:
            return safe_off("much-running", ran_s=ran_s), replace(memory, locked_uptime_s=uptime_s)
    if wish.closed:
        return wish, memory
    return on("minimum-run", left_s=rules.min_on_s - stayed_s), memory


def _before_a_start(
    wish: Wish, memory: RelayMemory, rules: RelayRules, uptime_s: float
) -> tuple[Wish, RelayMemory]:
    stayed_s = uptime_s - memory.changed_uptime_s
    if stayed_s < rules.min_off_s:
        left_s = rules.min_off_s - stayed_s
        return off("resting", left_s=left_s), refused(memory, uptime_s=uptime_s)
    memory = not_refused(memory)
    if rules.max_starts_per_h is not None:
        left_s = until_next_start_s(memory, rules.max_starts_per_h, uptime_s=uptime_s)
        if left_s > 0:
            return off("starts-used-up", left_s=left_s), memory
    if rules.max_on_s_per_h is not None:
        room_s = max(rules.min_on_s, ROOM_RATIO * rules.max_on_s_per_h)
        most_s = max(0.0, rules.max_on_s_per_h - room_s)
        left_s = until_ran_at_most_s(memory, most_s, uptime_s=uptime_s)
        if left_s > 0:
            return off("running-used-up", left_s=left_s), memory
    return wish, memory
