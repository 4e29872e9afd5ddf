"""Temperatures inside a stick as they are typed one by one, pasted, or read from a file. Pure."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from hangroom.errors import InputError
from hangroom.product.temperatures import celsius
from hangroom.store.record.loggers import read_temperatures
from hangroom.store.record.series import INTERNAL_C, TemperaturePoint
from hangroom.units import (
    TemperatureUnit,
    Units,
    say_temperature,
    temperature_shown,
    typed_number,
)
from hangroom_web.dates import say_moment
from hangroom_web.forms import Form, Question, local_moment
from hangroom_web.words import _

# In a smoker a stick's core changes by no more than this without somebody wondering; an ice bath is
# quicker. Common practice, no source.
MOST_STEP_K, MOST_K_PER_H = 20.0, 60.0

# A time that lies so much before the one on the line above is of the next day.
NEXT_DAY_AFTER = timedelta(hours=12)

PASTED = re.compile(
    r"(?:(?P<day>\d{4}-\d\d-\d\d)[ T])?(?P<clock>\d{1,2}:\d\d(?::\d\d)?)"
    r"[\s,;]+(?P<figure>-?\d[\d.,]*)\s*°?\s*(?P<unit>[CcFf])?"
)
MOST_FAULTS = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Going:
    """The readings of the series that goes on; `cooling` where it is of the chill."""

    points: Sequence[TemperaturePoint]
    cooling: bool


def read_point(form: Form, going: Going) -> TemperaturePoint | None:
    """Return the reading that a form holds, or None where something is wrong or asked."""
    temperature_c = form.temperature_c("core", needed=True)
    at = form.moment("at")
    last = going.points[-1] if going.points else None
    if temperature_c is not None:
        near = None if going.cooling else last
        form.ask("core", _doubt(temperature_c, at, near, form.units))
    if last is not None and form.sound and at <= last.at:
        form.refuse(
            _("The reading before is of {moment}. Write a later time, or correct that one.").format(
                moment=say_moment(last.at, form.zone, now=form.now)
            ),
            "at",
        )
    if temperature_c is None or not form.sound:
        return None
    return TemperaturePoint(at=at, temperature_c=temperature_c)


def _doubt(
    temperature_c: float, at: datetime, last: TemperaturePoint | None, units: Units
) -> Question | None:
    """Return what to ask about a reading that cannot be, or that is far from the one before."""
    lowest_c, highest_c = INTERNAL_C
    shown = temperature_shown(temperature_c, units)
    possible = lowest_c <= temperature_c <= highest_c
    if possible and (last is None or _is_near(temperature_c, at, last)):
        return None
    said = (
        _("The reading before was {last}.").format(last=say_temperature(last.temperature_c, units))
        if last is not None and possible
        else _("{shown:g} °{unit} cannot be inside a stick.").format(
            shown=round(shown, 1), unit=units.temperature
        )
    )
    for meant in _other_ways(shown, units):
        meant_c = _stored_c(meant, units)
        if lowest_c <= meant_c <= highest_c and (last is None or _is_near(meant_c, at, last)):
            figure = f"{round(meant, 1):g}"
            return Question(
                said=_("{said} Did you mean {figure}?").format(said=said, figure=figure),
                instead=figure,
                may_keep=possible,
            )
    return Question(
        said=_("{said} Is it the right probe, and the right unit?").format(said=said),
        may_keep=possible,
    )


def _is_near(temperature_c: float, at: datetime, last: TemperaturePoint) -> bool:
    passed_h = max(0.0, (at - last.at) / timedelta(hours=1))
    return abs(temperature_c - last.temperature_c) <= MOST_STEP_K + MOST_K_PER_H * passed_h


def _other_ways(shown: float, units: Units) -> list[float]:
    """Return what else may have been meant: a slip of the point, or the other scale."""
    ways = [shown / 10.0, shown * 10.0]
    if units.temperature is TemperatureUnit.CELSIUS:
        ways.append(celsius(shown))
    return ways


def _stored_c(shown: float, units: Units) -> float:
    return celsius(shown) if units.temperature is TemperatureUnit.FAHRENHEIT else shown


def read_pasted(
    text: str, *, day: date, units: Units, zone: ZoneInfo
) -> tuple[TemperaturePoint, ...]:
    """Return the readings of pasted lines such as '09:40 61.2', or of a table with a header.

    `day` is that of the first line without one of its own. Raises InputError with the faults by
    line, out of order too.
    """
    lines = text.strip().splitlines()
    if lines and "temperature" in lines[0].lower():
        return read_temperatures(text, zone=zone)
    points: list[TemperaturePoint] = []
    faults = []
    for number, line in enumerate(lines, start=1):
        if not line.strip():
            continue
        try:
            point = _pasted(line, day=day, units=units, zone=zone, points=points)
        except InputError as fault:
            faults.append(_("Line {number}: {fault}").format(number=number, fault=fault))
        else:
            points.append(point)
    if faults:
        more = len(faults) - MOST_FAULTS
        told = faults[:MOST_FAULTS] + (
            [_("And {more} more.").format(more=more)] if more > 0 else []
        )
        raise InputError(" ".join(told))
    if not points:
        raise InputError(_("There is no reading. Paste lines such as 09:40 61.2."))
    return tuple(points)


def _pasted(
    line: str, *, day: date, units: Units, zone: ZoneInfo, points: Sequence[TemperaturePoint]
) -> TemperaturePoint:
    found = PASTED.fullmatch(line.strip())
    if found is None:
        raise InputError(_("Write a time and a temperature, for example 09:40 61.2."))
    at = _at(found, day=day, zone=zone, after=points[-1].at if points else None)
    if points and at <= points[-1].at:
        raise InputError(
            _("It is not later than the line before. If two probes are mixed, enter each alone.")
        )
    shown = typed_number(found["figure"], what=_("temperature"))
    unit = (found["unit"] or units.temperature).upper()
    temperature_c = celsius(shown) if unit == TemperatureUnit.FAHRENHEIT else shown
    return TemperaturePoint(at=at, temperature_c=temperature_c)


def _at(found: re.Match[str], *, day: date, zone: ZoneInfo, after: datetime | None) -> datetime:
    hours, rest = found["clock"].split(":", 1)
    clock = f"{int(hours):02d}:{rest}"
    if found["day"]:
        return local_moment(f"{found['day']}T{clock}", zone)
    on = day if after is None else after.astimezone(zone).date()
    at = local_moment(f"{on}T{clock}", zone)
    if after is not None and after - at > NEXT_DAY_AFTER:
        return local_moment(f"{on + timedelta(days=1)}T{clock}", zone)
    return at
