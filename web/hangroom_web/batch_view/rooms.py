"""The rooms that a batch hung in, while it hung there: their air by day, and their alarms. Pure.

What was read stands in the tables of the daemon; `AirIn` and `AlarmsIn` bring it.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta

from hangroom.alarm_table.titles import TITLES
from hangroom.store.alarms import Logged
from hangroom.store.hanging import Hang
from hangroom.store.history import AirBetween
from hangroom.units import Units, temperature_shown
from hangroom_web.alarm_history import BY_DESIGN
from hangroom_web.alarm_words import EVENTS, say_figures
from hangroom_web.batch_view.wording import Wording, say_groups
from hangroom_web.words import _

# The air of a room, and what happened to its alarms, from a moment to a moment.
AirIn = Callable[[str, datetime, datetime], AirBetween | None]
AlarmsIn = Callable[[str, datetime, datetime], Sequence[Logged]]


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomView:
    """One room while groups hung there from the same moment to the same."""

    title: str
    days: Sequence[Mapping[str, str]]
    alarms: Sequence[Mapping[str, str]]


def room_views(
    stays: Sequence[Hang], *, air: AirIn, alarms: AlarmsIn, wording: Wording
) -> list[RoomView]:
    """Return each room with its days and alarms, in the order that sticks came there."""
    spans: dict[tuple[str, datetime, datetime], list[str]] = {}
    for stay in stays:
        span = (stay.room, stay.from_at, stay.to_at or wording.now)
        spans.setdefault(span, []).append(stay.group)
    return [
        RoomView(
            title=_("{room}, {groups}, {span}").format(
                room=wording.room(room),
                groups=say_groups(groups),
                span=wording.span(since, until),
            ),
            days=[
                {"day": wording.day(start), **_air(air(room, start, end), wording.units)}
                for start, end in _days(since, until, wording)
            ],
            alarms=[
                _alarm(one, wording)
                for one in alarms(room, since, until)
                if one.event.event not in BY_DESIGN
            ],
        )
        for (room, since, until), groups in spans.items()
    ]


def _days(
    since: datetime, until: datetime, wording: Wording
) -> Iterator[tuple[datetime, datetime]]:
    """Yield the parts of a time that lie in one local day each."""
    start = since
    while start < until:
        tomorrow = start.astimezone(wording.zone).date() + timedelta(days=1)
        end = min(until, datetime.combine(tomorrow, time(), wording.zone))
        yield start, end
        start = end


def _air(air: AirBetween | None, units: Units) -> dict[str, str]:
    if air is None:
        return {"temperature": _("no reading"), "humidity": ""}
    low, mean, high = (
        f"{temperature_shown(t_c, units):.1f}" for t_c in (air.lowest_c, air.mean_c, air.highest_c)
    )
    return {
        "temperature": _("{low} to {high}, mean {mean} °{unit}").format(
            low=low, high=high, mean=mean, unit=units.temperature
        ),
        "humidity": _("{low:.0f} to {high:.0f}, mean {mean:.0f} %").format(
            low=air.lowest_pct, high=air.highest_pct, mean=air.mean_pct
        ),
    }


def _alarm(logged: Logged, wording: Wording) -> dict[str, str]:
    event = logged.event
    said = EVENTS[event.event]
    return {
        "when": wording.moment(event.at),
        "what": TITLES[event.alarm],
        "said": _("{said} by {by}").format(said=said, by=event.by) if event.by else said,
        "figures": say_figures(event.figures, wording.units),
    }
