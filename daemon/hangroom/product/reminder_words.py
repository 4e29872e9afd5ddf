"""What a reminder of the daily look says: which sticks, what to look for, what else is due. Pure.

One line for each thing, for a page, a message and a print alike.
"""

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from hangroom.dates import say_since
from hangroom.units import Units, say_weight

# What hands and eyes tell and no sensor does; common practice, no source.
LOOK_FOR = ("wrinkles", "mould", "slime", "insects", "drip", "an off smell", "sticks that touch")


@dataclass(frozen=True, slots=True, kw_only=True)
class StickAsked:
    """A stick to weigh; `expected_g`: between which weights, lighter first, None: not foretold."""

    tag: str
    expected_g: tuple[float, float] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupAsked:
    """A group of the look: its sticks that are left, or that it shall be looked at unweighed.

    `near`: where it stands, for a group that is at its target or near it; else ''.
    """

    letter: str
    finish: str
    sticks: tuple[StickAsked, ...]
    only_look: bool = False
    near: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SaltCheckDue:
    """A sensor to be proved over a wet salt; `checked_at` None: it never was."""

    sensor: str
    checked_at: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """What is asked of one batch in one room; `has_tank`: a humidifier's."""

    batch_number: int
    room_title: str
    since_at: datetime
    times_asked: int
    groups: tuple[GroupAsked, ...]
    has_tank: bool
    salt_checks: tuple[SaltCheckDue, ...]


def title_of(look: Look) -> str:
    """Return for example 'Inspect batch 14, Closet: 3 sticks'."""
    sticks = sum(len(group.sticks) for group in look.groups)
    what = "look at it" if not sticks else "1 stick" if sticks == 1 else f"{sticks} sticks"
    verb = "Inspect" if look.times_asked == 1 else "Still to inspect:"
    return f"{verb} batch {look.batch_number}, {look.room_title}: {what}"


def text_of(look: Look, *, units: Units, zone: ZoneInfo, now: datetime) -> str:
    """Return the reminder's lines, in the keeper's units and zone."""
    lines = [_due(look, zone, now)]
    lines += [_group(group, units) for group in look.groups if group.sticks or group.only_look]
    lines.append(f"Look for {', '.join(LOOK_FOR[:-1])} and {LOOK_FOR[-1]}.")
    lines += [group.near for group in look.groups if group.near]
    if look.has_tank:
        lines.append("Water: look at the humidifier's tank level.")
    lines += [_salt_check(check, zone, now) for check in look.salt_checks]
    return "\n".join(lines)


def _due(look: Look, zone: ZoneInfo, now: datetime) -> str:
    said = f"Due since {say_since(look.since_at, zone, now=now)}"
    return f"{said}." if look.times_asked == 1 else f"{said}; asked {look.times_asked} times."


def _group(group: GroupAsked, units: Units) -> str:
    title = f"{group.letter}, {group.finish}"
    if group.only_look:
        return f"{title}: no stick is tagged; squeeze some, and enter what you find."
    sticks = [_stick(stick, units) for stick in group.sticks]
    foretold = any(stick.expected_g for stick in group.sticks)
    said = f"{title}: weigh and squeeze {', '.join(sticks)}."
    return said if foretold else f"{said} No forecast of what they weigh."


def _stick(stick: StickAsked, units: Units) -> str:
    if stick.expected_g is None:
        return stick.tag
    return f"{stick.tag} (expect {say_between(*stick.expected_g, units)})"


def say_between(lightest_g: float, heaviest_g: float, units: Units) -> str:
    """Return for example '70.1 to 73.3 g'."""
    lightest = say_weight(lightest_g, units).split(" ")[0]
    return f"{lightest} to {say_weight(heaviest_g, units)}"


def _salt_check(check: SaltCheckDue, zone: ZoneInfo, now: datetime) -> str:
    if check.checked_at is None:
        return f"Salt check due: sensor {check.sensor} was never checked."
    last = say_since(check.checked_at, zone, now=now)
    return f"Salt check due: sensor {check.sensor}, last checked {last}."
