"""What the keeper set about the daily look and the morning, and what a room asks for besides."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import time, timedelta
from zoneinfo import ZoneInfo

from hangroom.settings import Settings
from hangroom.terms import RelayKind
from hangroom.units import Units


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomLooked:
    """A room: what it is called, whether it has a humidifier's tank, its sensors."""

    title: str
    has_tank: bool = False
    sensors: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Looking:
    """The settings that reminders and summaries go by; `at`: times of the look, local.

    `scale_sd_g`: standard deviation of one reading, g.
    """

    at: tuple[time, ...]
    zone: ZoneInfo
    ask_again_after: timedelta = timedelta(hours=26)
    snooze_at_most: timedelta = timedelta(hours=12)
    summary_at: time = time(7)
    scale_sd_g: float = 0.5
    units: Units = field(default_factory=Units)
    rooms: Mapping[str, RoomLooked] = field(default_factory=dict)

    def title(self, room: str) -> str:
        """Return what the keeper calls a room; its name where the settings do not have it."""
        return self.rooms[room].title if room in self.rooms else room


def looking_of(settings: Settings) -> Looking:
    """Return what the settings say."""
    inspection = settings.inspection
    return Looking(
        at=inspection.times(),
        zone=settings.zone(),
        ask_again_after=inspection.ask_again_after(),
        snooze_at_most=inspection.snooze_at_most(),
        summary_at=inspection.summary_time(),
        scale_sd_g=inspection.scale_sd_g,
        units=settings.units.units(),
        rooms={
            name: RoomLooked(
                title=room.title,
                has_tank=RelayKind.HUMIDIFIER in {r.switches() for r in room.relay.values()},
                sensors=tuple(room.sensor),
            )
            for name, room in settings.room.items()
        },
    )
