"""What a batch's page is said in: units, zone, the moment of now, what the keeper calls rooms."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, time
from zoneinfo import ZoneInfo

from hangroom.settings.inspection import InspectionTable
from hangroom.units import Units, say_duration
from hangroom_web.dates import day_of, say_clock, say_day, say_moment
from hangroom_web.words import _


@dataclass(frozen=True, slots=True, kw_only=True)
class Wording:
    """Fixed for one request; `room` gives the title of a room that the settings name.

    `look_at`: the local times of the daily look.
    """

    units: Units
    zone: ZoneInfo
    now: datetime
    room: Callable[[str], str]
    printed: bool = False
    look_at: Sequence[time] = InspectionTable().times()

    def moment(self, at: datetime) -> str:
        """Return '09:41' or 'Thu 26 Nov 09:41', with the year of another; in print the date."""
        if self.printed:
            return f"{at.astimezone(self.zone):%Y-%m-%d %H:%M}"
        said = say_moment(at, self.zone, now=self.now)
        year = at.astimezone(self.zone).year
        return said if year == self.now.astimezone(self.zone).year else f"{said} {year}"

    def day(self, at: datetime) -> str:
        """Return 'Thu 26 Nov'; in print the date."""
        return f"{at.astimezone(self.zone):%Y-%m-%d}" if self.printed else say_day(at, self.zone)

    def span(self, from_at: datetime, to_at: datetime) -> str:
        """Return for example 'Thu 26 Nov 10:30 to 11:30 (60 min)'."""
        same_day = day_of(from_at, self.zone) == day_of(to_at, self.zone)
        return _("{start} to {end} ({lasted})").format(
            start=self.moment(from_at),
            end=say_clock(to_at, self.zone) if same_day else self.moment(to_at),
            lasted=say_duration((to_at - from_at).total_seconds()),
        )


def say_groups(letters: Sequence[str]) -> str:
    """Return for example 'group A' or 'groups A and B'."""
    words = _("group {}") if len(letters) == 1 else _("groups {}")
    return words.format(_(" and ").join(letters))
