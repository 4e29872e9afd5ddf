"""A relay's position by hand: for a while, and after everything that protects has been asked.

An override takes the place of the controller's wish. It does not take the place of a safety off
(a hard limit, blindness, the state before the first trusted reading), and the guards, lockouts
and interlocks are asked about it as about any wish.

A stage's prohibition gives way to it. That is a plan for the usual case and not a limit: a person
airs a rest that has become too wet, or tries every relay of an empty room before a batch is hung.
Its time limit and the hard limits hold there as everywhere.
"""

from hangroom.control.wish import Wish, off, on
from hangroom.terms import Override


def in_force(override: Override | None, *, uptime_s: float) -> Override | None:
    """Return the override while its time is not over."""
    return override if override is not None and uptime_s < override.ends_uptime_s else None


def by_hand(wish: Wish, override: Override, *, uptime_s: float) -> Wish:
    """Return what a person wants in place of the controller's wish, unless that is a safety off."""
    if wish.safety:
        return wish
    left_s = override.ends_uptime_s - uptime_s
    return on("by-hand", left_s=left_s) if override.closed else off("by-hand", left_s=left_s)
