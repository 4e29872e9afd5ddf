"""A calendar as RFC 5545 writes it, escaped and folded by a library that is loaded at first use.

Every moment is written in UTC: each event is one moment of its own and none repeats, so that no
phone has to reckon with a zone's rules, and a look at 08:00 stays at 08:00 across a change of the
clocks because it was worked out in the site's zone before.
"""

from collections.abc import Iterable
from datetime import timedelta
from typing import TYPE_CHECKING
from urllib.parse import urljoin

from hangroom.store.calendar_events import PublishedEvent

if TYPE_CHECKING:
    from icalendar import Event

# How often a phone should ask; a forecast is made every hour. Both names of it: RFC 7986, 5.7, and
# the older one that is still in use.
ASK_EVERY = timedelta(hours=1)


def as_ics(
    events: Iterable[PublishedEvent], *, name: str, domain: str, page: str, version: str
) -> bytes:
    """Return the feed. `domain`: behind the @ of each uid; `page`: the address of the page."""
    from icalendar import Calendar  # noqa: PLC0415 - 28 ms and 4 MB that only the feed needs

    feed = Calendar()
    feed.add("prodid", f"-//hangroom//hangroom {version}//EN")
    feed.add("version", "2.0")
    feed.add("calscale", "GREGORIAN")
    feed.add("name", name)
    feed.add("x-wr-calname", name)
    feed.add("refresh-interval", ASK_EVERY, parameters={"VALUE": "DURATION"})
    feed.add("x-published-ttl", "PT1H")
    for event in events:
        feed.add_component(_event(event, domain=domain, page=page))
    return bytes(feed.to_ical())


def _event(event: PublishedEvent, *, domain: str, page: str) -> "Event":
    from icalendar import Alarm, Event  # noqa: PLC0415 - as above

    entry = event.entry
    told = Event()
    told.add("uid", f"{entry.uid}@{domain}")
    told.add("sequence", event.sequence)
    told.add("dtstamp", event.changed_at)
    told.add("last-modified", event.changed_at)
    told.add("dtstart", entry.starts_at)
    told.add("dtend", entry.ends_at)
    told.add("summary", entry.title)
    told.add("description", entry.text)
    told.add("url", urljoin(page, entry.path))
    told.add("transp", "TRANSPARENT")
    if event.cancelled:
        told.add("status", "CANCELLED")
        return told
    told.add("status", "TENTATIVE" if entry.tentative else "CONFIRMED")
    if entry.remind_at is not None:
        alarm = Alarm()
        alarm.add("action", "DISPLAY")
        alarm.add("description", entry.title)
        # Beside the start and not as a moment: it then moves with an event that somebody shifts.
        alarm.add("trigger", entry.remind_at - entry.starts_at)
        told.add_component(alarm)
    return told
