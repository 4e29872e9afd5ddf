"""Putting off what the daily look asks for: nobody is asked again before a while has passed."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from functools import partial

from sqlite_utils import Database

from hangroom.answers.asked import Noted
from hangroom.errors import InputError
from hangroom.store.began import Instant
from hangroom.store.reminders import open_reminders, snooze
from hangroom.store.request_body import figure
from hangroom.store.requests import Request
from hangroom.units import say_duration

SHORTEST_S = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Snoozed:
    """What becomes of a wish that holds; `keep` writes in the caller's transaction."""

    keep: Callable[[Database], object]
    said: str
    noted: Noted


def reminder_snooze(request: Request, db: Database, at: Instant, *, at_most: timedelta) -> Snoozed:
    """Return what becomes of the wish to be asked later; InputError where it is refused."""
    for_s = figure(request.body, "for_s")
    if not SHORTEST_S <= for_s <= at_most.total_seconds():
        raise InputError(
            f"The look can be put off for {say_duration(SHORTEST_S)} to"
            f" {say_duration(at_most.total_seconds())}. Choose such a time."
        )
    if not open_reminders(db):
        raise InputError("No look is asked for now, so there is nothing to put off.")
    return Snoozed(
        keep=partial(snooze, until=at.now + timedelta(seconds=for_s), by=request.asked_by),
        said=f"You are asked again in {say_duration(for_s)}.",
        noted=Noted(kind="look-put-off", figures={"for_s": for_s}),
    )
