"""From what shall stand in the calendar to what is published: moved, not doubled. Pure.

After RFC 5545: an event keeps its uid for good; its sequence rises whenever its time or its status
changes (3.8.7.4), and its stamp with every change (3.8.7.2, without a METHOD). What is no longer
expected is cancelled and stays as such for a while, because a phone that was out of reach would
otherwise keep it.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from hangroom.store.calendar_events import CalendarEntry, PublishedEvent

# How long what is over, or was cancelled, stays in the feed. Our choice: longer than a holiday.
KEPT_AFTER = timedelta(days=14)


@dataclass(frozen=True, slots=True, kw_only=True)
class Publication:
    """The events of the feed in order of their start, and those of them that are to be stored."""

    events: Sequence[PublishedEvent]
    changed: Sequence[PublishedEvent]


def published(
    before: Iterable[PublishedEvent], wanted: Iterable[CalendarEntry], *, now: datetime
) -> Publication:
    """Return what is published now. `before`: everything that ever was."""
    known = {event.entry.uid: event for event in before}
    asked = {entry.uid: entry for entry in wanted}
    after = {uid: _asked_for(known.get(uid), entry, now=now) for uid, entry in asked.items()} | {
        uid: _no_more(event, now=now) for uid, event in known.items() if uid not in asked
    }
    return Publication(
        events=sorted(
            (event for event in after.values() if _is_shown(event, now=now)),
            key=lambda event: (event.entry.starts_at, event.entry.uid),
        ),
        changed=[event for uid, event in after.items() if event != known.get(uid)],
    )


def unchanged(before: Iterable[PublishedEvent], *, now: datetime) -> Publication:
    """Return what was published last: for a moment at which nobody can say what is wanted."""
    return Publication(events=[event for event in before if _is_shown(event, now=now)], changed=())


def _asked_for(
    event: PublishedEvent | None, entry: CalendarEntry, *, now: datetime
) -> PublishedEvent:
    if event is None:
        return PublishedEvent(entry=entry, sequence=0, changed_at=now)
    if event.entry == entry and not event.cancelled:
        return event
    moved = event.cancelled or _when(event.entry) != _when(entry)
    return PublishedEvent(entry=entry, sequence=event.sequence + moved, changed_at=now)


def _no_more(event: PublishedEvent, *, now: datetime) -> PublishedEvent:
    """Cancel what was still to come; what has been stays as it was."""
    if event.cancelled or event.entry.ends_at <= now:
        return event
    return replace(event, sequence=event.sequence + 1, changed_at=now, cancelled=True)


def _when(entry: CalendarEntry) -> tuple[datetime, datetime]:
    return entry.starts_at, entry.ends_at


def _is_shown(event: PublishedEvent, *, now: datetime) -> bool:
    over_at = event.changed_at if event.cancelled else event.entry.ends_at
    return now <= over_at + KEPT_AFTER
