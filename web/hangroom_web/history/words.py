"""A room's past in sentences: the same that its picture shows. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from statistics import fmean
from zoneinfo import ZoneInfo

from hangroom.alarm_table.row import AlarmId
from hangroom.alarm_table.titles import TITLES
from hangroom.store.relay_times import RelayTime
from hangroom.store.room_past import Mark, MarkKind
from hangroom.terms import RelayKind, Stage
from hangroom.units import Units, say_duration, say_temperature, temperature_shown
from hangroom_web.dates import day_of, say_clock, say_day
from hangroom_web.history.past import Gap, Past, Quantity
from hangroom_web.look import say_sticks
from hangroom_web.relays import RELAY_NAMES
from hangroom_web.stages import STAGE_NAMES
from hangroom_web.words import _

# A change is told from this on; less is the noise of a room that keeps its band. Our judgement.
TELLING_CHANGE = {"t": 0.5, "h": 1.5}

# The trend is from the mean of the first part of the stretches to that of the last.
_PARTS = 6

# More gaps than this are told by their number and length.
MOST_GAPS_TOLD = 3

MARK_WORDS = {
    MarkKind.ALARM: _("Alarm"),
    MarkKind.DOOR: _("Door"),
    MarkKind.INSPECTION: _("Inspection"),
    MarkKind.SETPOINT: _("Setpoint"),
    MarkKind.STAGE: _("Stage"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Saying:
    """The zone and the moment that times are said in."""

    zone: ZoneInfo
    now: datetime

    def moment(self, at: datetime) -> str:
        """Return '09:41' for today, 'Thu 26 Nov 09:41' otherwise, with a year that is not now's."""
        clock = say_clock(at, self.zone)
        if day_of(at, self.zone) == day_of(self.now, self.zone):
            return clock
        year = at.astimezone(self.zone).year
        day = say_day(at, self.zone)
        if year != self.now.astimezone(self.zone).year:
            day = f"{day} {year}"
        return f"{day} {clock}"

    def span(self, from_at: datetime, to_at: datetime) -> str:
        """Return for example 'Thu 26 Nov 02:10 to 05:45', or '... to today 09:41'."""
        end = self.moment(to_at)
        if day_of(from_at, self.zone) == day_of(to_at, self.zone):
            end = say_clock(to_at, self.zone)
        elif day_of(to_at, self.zone) == day_of(self.now, self.zone):
            end = _("today {clock}").format(clock=end)
        return _("{start} to {end}").format(start=self.moment(from_at), end=end)


def say_quantity(quantity: Quantity, past: Past, saying: Saying) -> str:
    """Return lowest, highest, last and trend, or that there was no reading."""
    lows = [value for value in quantity.low if value is not None]
    highs = [value for value in quantity.high if value is not None]
    means = [value for value in quantity.mean if value is not None]
    if not means:
        return _("{name}: no reading.").format(name=quantity.name)
    last = max(place for place, value in enumerate(quantity.mean) if value is not None)
    at = min(past.starts(last + 1), past.window.until)
    return _("{name} {low:.1f} to {high:.1f} {unit}; at {moment} {last:.1f}; {trend}.").format(
        name=quantity.name,
        low=min(lows),
        high=max(highs),
        unit=quantity.unit,
        moment=saying.moment(at),
        last=means[-1],
        trend=_trend(quantity, means, past.units),
    )


def say_gap(gap: Gap, saying: Saying, *, live: bool = False) -> str:
    """Return for example 'No readings from 02:10 to 05:45. The controller was off.'."""
    if gap.before_all:
        return _("The record begins {moment}.").format(moment=saying.moment(gap.to_at))
    why = (
        _("The controller was off.")
        if gap.controller_off
        else _("The controller ran; its sensor gave none.")
    )
    said = (
        _("No readings since {moment}.").format(moment=saying.moment(gap.from_at))
        if live
        else _("No readings from {span}.").format(span=saying.span(gap.from_at, gap.to_at))
    )
    return f"{said} {why}"


def say_gaps(past: Past, saying: Saying) -> list[str]:
    """Return the gaps in words; many are told together."""
    gaps = past.gaps
    if not any(cell is not None for cell in past.cells):
        return [_("No readings in this time.")]
    if len(gaps) <= MOST_GAPS_TOLD:
        return [say_gap(gap, saying, live=_is_now(gap, past)) for gap in gaps]
    longest = max(gaps, key=lambda gap: gap.to_at - gap.from_at)
    total_s = sum((gap.to_at - gap.from_at).total_seconds() for gap in gaps)
    told = _("{count} times without readings, {lasted} together; the longest: {span}.").format(
        count=len(gaps),
        lasted=say_duration(total_s),
        span=saying.span(longest.from_at, longest.to_at),
    )
    newest = [say_gap(gaps[-1], saying, live=True)] if _is_now(gaps[-1], past) else []
    return [told, *newest]


def say_relays(past: Past) -> list[str]:
    """Return for example ['Humidifier on 11 % of the time.', ...]."""
    return [_("{said}.").format(said=say_relay(kind, past.relays[kind])) for kind in past.relays]


def say_relay(kind: RelayKind, times: Sequence[RelayTime]) -> str:
    """Return for example 'Humidifier on 11 % of the time'."""
    return _("{relay} {share}").format(relay=RELAY_NAMES[kind], share=say_share(times))


def say_share(times: Sequence[RelayTime]) -> str:
    """Return for example 'on 11 % of the time'; of the time that the controller ran."""
    known_ms = sum(time.known_ms for time in times)
    if not known_ms:
        return _("not known")
    on_pct = 100.0 * sum(time.on_ms for time in times) / known_ms
    if 0 < on_pct < 1:
        return _("on less than 1 % of the time")
    return _("on {share:.0f} % of the time").format(share=on_pct)


def say_picture(past: Past, saying: Saying) -> str:
    """Return the whole picture in words, for those who cannot see it."""
    told = [
        *(say_quantity(quantity, past, saying) for quantity in past.quantities),
        *say_gaps(past, saying),
        *say_relays(past),
    ]
    if past.marks:
        told.append(_("{count} marks, listed below.").format(count=len(past.marks)))
    return " ".join(told)


def say_mark(mark: Mark, saying: Saying, units: Units) -> str:
    """Return what a mark stands for, without its kind."""
    by = mark.words.get("by") or mark.words.get("asked_by") or ""
    match mark.kind:
        case MarkKind.ALARM:
            return _alarm(mark, saying)
        case MarkKind.DOOR:
            return _by(_("opened"), by)
        case MarkKind.INSPECTION:
            return _("{sticks} of batch {batch} weighed: {tags}").format(
                sticks=say_sticks(int(mark.figures["sticks"])),
                batch=f"{mark.figures['batch']:g}",
                tags=", ".join(dict.fromkeys(mark.words["tags"].split(" "))),
            )
        case MarkKind.SETPOINT:
            return _by(_setpoint(mark, units), by)
        case MarkKind.STAGE:
            return _by(_stage(mark.words), by)


def _trend(quantity: Quantity, means: Sequence[float], units: Units) -> str:
    part = max(1, len(means) // _PARTS)
    change = fmean(means[-part:]) - fmean(means[:part])
    least = TELLING_CHANGE[quantity.css]
    if quantity.css == "t":
        least *= temperature_shown(1.0, units) - temperature_shown(0.0, units)
    if abs(change) < least:
        return _("steady")
    way = _("up by {change:.1f}") if change > 0 else _("down by {change:.1f}")
    return way.format(change=abs(change))


def _is_now(gap: Gap, past: Past) -> bool:
    return past.window.live and gap.to_at == past.window.until


def _alarm(mark: Mark, saying: Saying) -> str:
    title = TITLES[AlarmId(mark.what)]
    if mark.until is None:
        return title
    same = day_of(mark.at, saying.zone) == day_of(mark.until, saying.zone)
    end = say_clock(mark.until, saying.zone) if same else saying.moment(mark.until)
    return _("{title}, until {end}").format(title=title, end=end)


def _setpoint(mark: Mark, units: Units) -> str:
    pct, celsius = mark.figures.get("setpoint_pct"), mark.figures.get("setpoint_c")
    if pct is not None:
        return _("humidity {value:g} %").format(value=pct)
    if celsius is not None:
        return _("temperature {value}").format(value=say_temperature(celsius, units))
    return _("changed")


def _stage(words: Mapping[str, str]) -> str:
    after = words.get("next") or words.get("stage", "")
    before = words.get("before") or (words.get("stage", "") if words.get("next") else "")
    names = [
        STAGE_NAMES[Stage(stage)] if stage in set(Stage) else stage for stage in (before, after)
    ]
    return _("{before} to {after}").format(before=names[0], after=names[1]) if before else names[1]


def _by(said: str, by: str) -> str:
    return _("{said}, by {by}").format(said=said, by=by) if by else said
