"""What the daily look still asks for, and whether somebody is to be asked now. Pure.

A stick that is tagged is done when it was weighed; a group without one, when it was looked at.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from hangroom.terms import CALIBRATION_OLD_AFTER

# Nobody is asked twice within this time, however early in the morning the last entries came: the
# two hours by which the usual 26 h are longer than a day. Our own judgement.
LEAST_BETWEEN = timedelta(hours=2)

# A clock before this was never set: this program did not exist then.
WRITTEN = datetime.fromisoformat("2026-01-01T00:00:00+00:00")


@dataclass(frozen=True, slots=True, kw_only=True)
class StickWork:
    """A tagged stick, and when it was last weighed or passed over with a reason; None: never."""

    tag: str
    entered_at: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupWork:
    """A group that hangs, since when, its tagged sticks, and when it was looked at unweighed."""

    letter: str
    hung_at: datetime
    looked_at: datetime | None
    sticks: tuple[StickWork, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """What hangs of a batch in one room: a group at least."""

    batch_number: int
    room: str
    groups: tuple[GroupWork, ...]

    @property
    def seen_at(self) -> datetime:
        """When any of it was last weighed or looked at, or else hung."""
        entered = [s.entered_at for g in self.groups for s in g.sticks]
        entered += [group.looked_at for group in self.groups]
        seen = [at for at in entered if at is not None]
        return max([*seen, min(group.hung_at for group in self.groups)])


@dataclass(frozen=True, slots=True, kw_only=True)
class Left:
    """What a look still asks for: sticks to weigh by their tags, groups to look at by letter."""

    tags: tuple[str, ...]
    letters: tuple[str, ...]

    def __bool__(self) -> bool:
        return bool(self.tags or self.letters)


def left(work: Work, *, due_at: datetime, counts_from_at: datetime) -> Left:
    """Return what is left of a look; what was hung after it came due was in hands, and waits."""

    def counts(entered_at: datetime | None) -> bool:
        return entered_at is not None and entered_at >= counts_from_at

    due = [group for group in work.groups if group.hung_at <= due_at]
    return Left(
        tags=tuple(s.tag for g in due for s in g.sticks if not counts(s.entered_at)),
        letters=tuple(g.letter for g in due if not g.sticks and not counts(g.looked_at)),
    )


def hung_by(work: Work, moment: datetime) -> bool:
    """Whether any of it hung at a moment."""
    return any(group.hung_at <= moment for group in work.groups)


class Step(StrEnum):
    """What to do about one batch in one room."""

    NOTHING = "nothing"
    ASK = "ask"
    ASK_AGAIN = "ask again"
    DONE = "done"
    GONE = "gone"


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The open reminder: which look it is of, when it was asked last, until when it is put off."""

    due_at: datetime
    counts_from_at: datetime
    asked_at: datetime
    snoozed_until: datetime | None


def next_step(
    work: Work | None,
    asked: Asked | None,
    *,
    due_at: datetime,
    counts_from_at: datetime,
    now: datetime,
    ask_again_after: timedelta,
    snooze_at_most: timedelta,
) -> Step:
    """Return what to do now; after DONE and GONE ask anew, without the open reminder.

    `work`: None where nothing hangs. `due_at`: the newest look that is due. A look that nobody made
    is asked for once more when `ask_again_after` has passed since the last entries, and then with
    each look that comes due.
    """
    if asked is None:
        waits = work is not None and left(work, due_at=due_at, counts_from_at=counts_from_at)
        return Step.ASK if waits else Step.NOTHING
    if work is None or not hung_by(work, asked.due_at):
        return Step.GONE
    if not left(work, due_at=asked.due_at, counts_from_at=asked.counts_from_at):
        return Step.DONE
    if is_snoozed(asked.snoozed_until, now=now, at_most=snooze_at_most):
        return Step.NOTHING
    if due_at > asked.due_at:
        return Step.ASK
    again_at = work.seen_at + ask_again_after
    missed = asked.asked_at < again_at and now >= max(again_at, asked.asked_at + LEAST_BETWEEN)
    return Step.ASK_AGAIN if missed or asked.snoozed_until is not None else Step.NOTHING


def is_snoozed(until: datetime | None, *, now: datetime, at_most: timedelta) -> bool:
    """Whether nobody is asked yet; a moment further ahead than allowed is of a wrong clock."""
    return until is not None and timedelta() < until - now <= at_most


def salt_check_is_due(checked_at: datetime | None, *, now: datetime) -> bool:
    """Whether a sensor should be proved over a wet salt: never was, or too long ago."""
    return checked_at is None or now - checked_at >= CALIBRATION_OLD_AFTER


def clock_can_be_right(now: datetime, *, seen: Sequence[datetime]) -> bool:
    """Whether a wall clock is not plainly wrong: never before this program, or what it recorded.

    `seen`: moments of the record that lie behind.
    """
    return now >= max([WRITTEN, *seen])
