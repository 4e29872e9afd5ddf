"""Moments in words for the page: the daemon's own, because what is sent says them too."""

from hangroom.dates import (
    day_of,
    say_ago,
    say_clock,
    say_day,
    say_hour,
    say_moment,
    say_since,
    say_weekday,
)

__all__ = [
    "day_of",
    "say_ago",
    "say_clock",
    "say_day",
    "say_hour",
    "say_moment",
    "say_since",
    "say_weekday",
]
