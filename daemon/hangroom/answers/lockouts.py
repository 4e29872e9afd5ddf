"""Ending the lockouts of a room's relays by hand."""

from dataclasses import replace

from sqlite_utils import Database

from hangroom.answers.asked import Applied, Asked, Noted


def lockouts_lift(asked: Asked) -> Applied:
    """Return the plan in which no lockout from before this moment counts any more."""
    return Applied(
        plan=replace(asked.plan, lockouts_lifted_uptime_s=asked.at.uptime_s),
        keep=_nothing,
        said="Every lockout of this room is lifted.",
        noted=Noted(kind="lockouts-lifted"),
    )


def _nothing(_db: Database) -> None:
    """Keep nothing: the control's own memory, which is kept, holds no lifted lockout."""
