"""Minimum on and off times and the longest unbroken run, for one relay at a time."""

from hangroom.control.memory import RelayMemory
from hangroom.control.wish import Wish, off, on, safe_off
from hangroom.terms import RelayRules


def guarded(wish: Wish, memory: RelayMemory, rules: RelayRules, *, uptime_s: float) -> Wish:
    """Return the wish, or what the relay must do instead.

    Only a safety off breaks a minimum run.
    """
    stayed_s = uptime_s - memory.changed_uptime_s
    if not memory.closed:
        if wish.closed and stayed_s < rules.min_off_s:
            return off("resting", left_s=rules.min_off_s - stayed_s)
        return wish
    if wish.closed:
        if rules.max_run_s is not None and stayed_s >= rules.max_run_s:
            return safe_off("long-run", ran_s=stayed_s)
        return wish
    if not wish.safety and stayed_s < rules.min_on_s:
        return on("minimum-run", left_s=rules.min_on_s - stayed_s)
    return wish
