"""A message's title and text, from the notices in it. Pure.

The same notices give the same words at any time: a message that comes again is the same message.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from hangroom.dates import say_clock, say_day
from hangroom.product.notice import RANK, Notice

# Beyond this a phone's screen is no help: then titles alone are told, and the page has the rest.
MOST_IN_FULL = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class House:
    """What notices are told by: the site's name and zone, and where its page is, '' for unknown."""

    name: str
    zone: ZoneInfo
    page: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Letter:
    """What a receiver gets."""

    title: str
    text: str


def letter_of(notices: Sequence[Notice], house: House) -> Letter:
    """Return one message that tells all of some notices, the most urgent first."""
    told = sorted(notices, key=lambda notice: RANK[notice.urgency])
    first = told[0]
    if len(told) == 1:
        title, parts = first.title, [f"{first.text}\n{_moment(first, house)}"]
    else:
        title = f"{len(told)} notices. {first.title}"
        in_full = len(told) <= MOST_IN_FULL
        parts = [
            f"{notice.title} ({_moment(notice, house)})" + (f"\n{notice.text}" if in_full else "")
            for notice in told
        ]
    if house.page:
        parts.append(house.page)
    between = "\n\n" if len(told) <= MOST_IN_FULL else "\n"
    return Letter(title=f"{house.name}: {title}", text=between.join(parts))


def letter_for_a_test(house: House, *, asked_by: str, at: datetime) -> Letter:
    """Return the message that shows that a channel works; `asked_by` '' for nobody named."""
    by = f" by {asked_by}" if asked_by else ""
    moment = f"{say_day(at, house.zone)} {say_clock(at, house.zone)}"
    return Letter(
        title=f"{house.name}: test",
        text=f"Asked for{by}, {moment}. This channel works. Nothing has happened, nothing is to do."
        + (f"\n\n{house.page}" if house.page else ""),
    )


def _moment(notice: Notice, house: House) -> str:
    # With the day, always: it may arrive days later, and must then not sound like today.
    at = notice.made_at
    return f"{say_day(at, house.zone)} {say_clock(at, house.zone)}"
