"""The morning's summary: rooms over night, where each group stands, what to do today. Pure.

One line for each thing. What was not measured is said to be missing, never passed over.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from hangroom.dates import say_clock, say_day, say_since
from hangroom.units import Units, say_duration, temperature_shown


@dataclass(frozen=True, slots=True, kw_only=True)
class AirOverNight:
    """Lowest and highest mean of ten minutes, and the share of them in each band of now, %.

    A share is None where the room wants nothing of that kind.
    """

    lowest_pct: float
    highest_pct: float
    lowest_c: float
    highest_c: float
    humid_in_band_pct: float | None = None
    warm_in_band_pct: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomNight:
    """A room's night; `air` None: nothing was read. `unread_s`: for how long of it nothing was.

    `wanted_pct`, `wanted_c`: setpoint and half band of now, None where nothing is wanted.
    """

    title: str
    air: AirOverNight | None
    unread_s: float
    wanted_pct: tuple[float, float] | None
    wanted_c: tuple[float, float] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmRaised:
    """An alarm that was told over night: of which room or of the controller, when, what.

    `again`: it had come on before the night and was still on.
    """

    where: str
    title: str
    at: datetime
    again: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupMorning:
    """A group that hangs: what it is called, where it stands in words, whether it has arrived."""

    title: str
    standing: str
    arrived: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SticksToWeigh:
    """What of a batch in a room is to be weighed; `due_at`: since then, or then."""

    title: str
    tags: tuple[str, ...]
    due_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Morning:
    """Everything a morning's summary tells; the night is from `since_at` to `until_at`."""

    since_at: datetime
    until_at: datetime
    rooms: Sequence[RoomNight]
    alarms: Sequence[AlarmRaised]
    groups: Sequence[GroupMorning]
    weigh: Sequence[SticksToWeigh]
    salt_checks: Sequence[str]


def summary_title(morning: Morning, zone: ZoneInfo) -> str:
    """Return for example 'Tue 1 Dec: 6 sticks to weigh, 1 group at its target, 2 alarms'."""
    counted = (
        (sum(len(one.tags) for one in morning.weigh), "stick to weigh", "sticks to weigh"),
        (sum(g.arrived for g in morning.groups), "group at its target", "groups at their targets"),
        (len(morning.alarms), "alarm over night", "alarms over night"),
    )
    said = [f"{count} {one if count == 1 else more}" for count, one, more in counted if count]
    hang = len(morning.groups)
    said = said or ["1 group hangs" if hang == 1 else f"{hang} groups hang"]
    return f"{say_day(morning.until_at, zone)}: {', '.join(said)}"


def summary_text(morning: Morning, *, units: Units, zone: ZoneInfo, now: datetime) -> str:
    """Return the summary's lines, in the keeper's units and zone."""
    night = f"{say_clock(morning.since_at, zone)} to {say_clock(morning.until_at, zone)}"
    lines = [f"{room.title}, {night}: {_air(room, units)}" for room in morning.rooms]
    lines += [_alarm(alarm, zone) for alarm in morning.alarms]
    if not morning.alarms:
        lines.append("No alarm came on over night.")
    lines += [f"{group.title}: {group.standing}" for group in morning.groups]
    lines += [f"To do: pull {_small(group.title)}." for group in morning.groups if group.arrived]
    for one in morning.weigh:
        when = (
            f"at {say_clock(one.due_at, zone)}"
            if one.due_at > now
            else f"due since {say_since(one.due_at, zone, now=now)}"
        )
        lines.append(f"To do, {when}: weigh {', '.join(one.tags)} of {one.title}.")
    lines += [f"To do: salt check of {sensor}." for sensor in morning.salt_checks]
    return "\n".join(lines)


def _alarm(alarm: AlarmRaised, zone: ZoneInfo) -> str:
    what = "alarm still on" if alarm.again else "alarm"
    return f"{alarm.where}, {say_clock(alarm.at, zone)}: {what}, {alarm.title}."


def _small(title: str) -> str:
    return title[:1].lower() + title[1:]


def _air(room: RoomNight, units: Units) -> str:
    air = room.air
    if air is None:
        return "no reading at all; look at its sensor."
    humid = f"humidity {air.lowest_pct:.1f} to {air.highest_pct:.1f} %"
    if room.wanted_pct is not None and air.humid_in_band_pct is not None:
        setpoint_pct, half_pct = room.wanted_pct
        humid += f", {_share(air.humid_in_band_pct, room)} of {setpoint_pct:g} ± {half_pct:g} %"
    lowest, highest = (temperature_shown(c, units) for c in (air.lowest_c, air.highest_c))
    warm = f"{lowest:.1f} to {highest:.1f} °{units.temperature}"
    if room.wanted_c is not None and air.warm_in_band_pct is not None:
        setpoint_c, half_c = room.wanted_c
        half = temperature_shown(half_c, units) - temperature_shown(0.0, units)
        warm += (
            f", {_share(air.warm_in_band_pct, room)} of {temperature_shown(setpoint_c, units):.1f}"
            f" ± {half:.1f} °{units.temperature}"
        )
    missing = f" Nothing was read for {say_duration(room.unread_s)} of it." if room.unread_s else ""
    return f"{humid}; {warm}.{missing}"


def _share(in_band_pct: float, room: RoomNight) -> str:
    """Return for example '97 % of the time in the band'; never a whole that was none."""
    if in_band_pct >= 100.0:  # noqa: PLR2004 - all of it
        return f"{'whenever it was read' if room.unread_s else 'all the time'} in the band"
    return f"{min(in_band_pct, 99.0):.0f} % of the time in the band"
