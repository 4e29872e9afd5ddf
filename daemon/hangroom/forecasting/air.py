"""The air that was measured where a group hung, as means over half an hour; gaps stay gaps.

Of several sensors the middle counts, as control does it. The store keeps what stood on a sensor, so
its calibration is put in here: today's, for the whole hang, because a sensor's error is found on
the day of a salt check and was there before. Where the alarm log says that a sensor could not be
trusted, a room with fewer than three of them has a gap, for the log does not say which it was.
"""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from itertools import groupby

from sqlite_utils import Database

from hangroom.alarm_table.log import of_room
from hangroom.alarm_table.row import AlarmId
from hangroom.alarm_table.words import Event
from hangroom.control.sensors.correction import corrected
from hangroom.control.sensors.oddity import (
    DRIEST_PLAUSIBLE_PCT,
    PLAUSIBLE_TEMPERATURE_C,
    TOP_OF_SCALE_PCT,
)
from hangroom.control.sensors.voting import voted
from hangroom.product.forecast import AirSeen
from hangroom.store.air_means import AirMean, air_means
from hangroom.store.alarms import events_between
from hangroom.store.hanging import Hang
from hangroom.terms import AirReading, Calibration

STRETCH_S = 1800
STRETCH = timedelta(seconds=STRETCH_S)
# With three the middle one stands, whichever of them is off.
OUTVOTED_FROM = 3
# A doubt that is older and still open was not a doubt about these sticks' air alone.
DOUBTS_FROM = timedelta(days=30)

Span = tuple[datetime, datetime]


def air_of_stays(
    db: Database,
    stays: Sequence[Hang],
    calibrations: Mapping[str, Mapping[str, Calibration]],
    *,
    hung_at: datetime,
    until: datetime,
) -> tuple[AirSeen, ...]:
    """Return the air of a group's stays in order of time, in hours since it was hung.

    `calibrations`: by room and sensor.
    """
    return tuple(
        seen
        for stay in stays
        for seen in air_of_room(
            db,
            stay.room,
            calibrations.get(stay.room, {}),
            since=stay.from_at,
            until=min(until, stay.to_at or until),
            hung_at=hung_at,
        )
    )


def air_of_room(
    db: Database,
    room: str,
    calibrations: Mapping[str, Calibration],
    *,
    since: datetime,
    until: datetime,
    hung_at: datetime,
) -> list[AirSeen]:
    """Return a room's air of a time, each mean at the middle of its stretch."""
    if until <= since:
        return []
    means = air_means(
        db,
        room,
        since=since,
        until=until,
        stretch_s=STRETCH_S,
        within_pct=(DRIEST_PLAUSIBLE_PCT, TOP_OF_SCALE_PCT),
        within_c=PLAUSIBLE_TEMPERATURE_C,
    )
    doubted = _doubted(db, room, since=since, until=until)
    seen = []
    for starts_at, of_sensors in groupby(means, key=lambda mean: mean.starts_at):
        readings = [_reading(mean, calibrations) for mean in of_sensors]
        ends_at = min(starts_at + STRETCH, until)
        if len(readings) < OUTVOTED_FROM and any(
            start < ends_at and end > starts_at for start, end in doubted
        ):
            continue
        air = voted(readings)
        middle = starts_at + (ends_at - starts_at) / 2
        seen.append(
            AirSeen(
                at_h=(middle - hung_at) / timedelta(hours=1),
                temperature_c=air.temperature_c,
                humidity_pct=air.humidity_pct,
            )
        )
    return seen


def _reading(mean: AirMean, calibrations: Mapping[str, Calibration]) -> AirReading:
    read = AirReading(
        taken_at=mean.starts_at,
        taken_uptime_s=0.0,
        temperature_c=mean.temperature_c,
        humidity_pct=mean.humidity_pct,
    )
    return corrected(read, calibrations.get(mean.sensor))


def _doubted(db: Database, room: str, *, since: datetime, until: datetime) -> list[Span]:
    """Return when a sensor of the room could not be trusted, by the alarm log."""
    spans: list[Span] = []
    began: datetime | None = None
    for logged in events_between(db, of_room(room), since - DOUBTS_FROM, until):
        if logged.event.alarm is not AlarmId.SENSOR_IMPLAUSIBLE:
            continue
        if logged.event.event in {Event.ACTIVATED, Event.RE_ALARMED}:
            # The alarm comes a while after the doubt, and the stretch before it is lost as well.
            began = began or logged.event.at - STRETCH / 2
        elif logged.event.event is Event.RETURNED_TO_NORMAL and began is not None:
            spans.append((began, logged.event.at))
            began = None
    return spans if began is None else [*spans, (began, until)]
