"""A room's night for the summary, out of its readings; and the alarms that came on in it."""

from collections.abc import Callable, Iterator, Sequence
from datetime import datetime, timedelta
from itertools import groupby

from sqlite_utils import Database

from hangroom.alarm_table.log import SERVICE, of_room
from hangroom.alarm_table.row import AlarmId
from hangroom.alarm_table.titles import TITLES
from hangroom.alarm_table.words import Tell
from hangroom.control.sensors.correction import corrected
from hangroom.control.sensors.oddity import (
    DRIEST_PLAUSIBLE_PCT,
    PLAUSIBLE_TEMPERATURE_C,
    TOP_OF_SCALE_PCT,
)
from hangroom.control.sensors.voting import Air, voted
from hangroom.jobs.looking import Looking
from hangroom.product.summary_words import AirOverNight, AlarmRaised, RoomNight
from hangroom.store.air_means import air_means
from hangroom.store.alarms import events_between
from hangroom.terms import AirReading, RoomPlan

STRETCH_S = 600

# Setpoint and half band.
Wanted = tuple[float, float]


def room_night(
    db: Database,
    name: str,
    title: str,
    plan: RoomPlan | None,
    *,
    since_at: datetime,
    until_at: datetime,
) -> RoomNight:
    """Return a room's night, judged by the bands of its plan of now; `plan` None: not known."""
    air = list(_air(db, name, plan, since_at, until_at))
    humidity = plan.humidity if plan else None
    temperature = plan.temperature if plan else None
    wanted_pct = (humidity.setpoint_pct, humidity.band_pct) if humidity else None
    wanted_c = (temperature.setpoint_c, temperature.band_c) if temperature else None
    stretches = (until_at - since_at) / timedelta(seconds=STRETCH_S)
    return RoomNight(
        title=title,
        air=AirOverNight(
            lowest_pct=min(one.humidity_pct for one in air),
            highest_pct=max(one.humidity_pct for one in air),
            lowest_c=min(one.temperature_c for one in air),
            highest_c=max(one.temperature_c for one in air),
            humid_in_band_pct=_in_band_pct(air, wanted_pct, lambda one: one.humidity_pct),
            warm_in_band_pct=_in_band_pct(air, wanted_c, lambda one: one.temperature_c),
        )
        if air
        else None,
        unread_s=max(0.0, stretches - len(air)) * STRETCH_S,
        wanted_pct=wanted_pct,
        wanted_c=wanted_c,
    )


def alarms_raised(
    db: Database, looking: Looking, *, since_at: datetime, until_at: datetime
) -> list[AlarmRaised]:
    """Return which alarms of the rooms and the controller were told in a time, oldest first.

    One that came on before is among them where it was told again. What nobody was told of, because
    it was shelved or suppressed by design, is not; it is once that has ended and it is told.
    """
    scopes = {of_room(name): room.title for name, room in looking.rooms.items()}
    raised: list[AlarmRaised] = []
    for scope, where in {**scopes, SERVICE: "Controller"}.items():
        known: set[AlarmId] = set()
        for event in (one.event for one in events_between(db, scope, since_at, until_at)):
            again = event.tell is Tell.ANNUNCIATE_AGAIN
            if event.tell is Tell.ANNUNCIATE or (again and event.alarm not in known):
                known.add(event.alarm)
                title = TITLES[event.alarm]
                raised.append(AlarmRaised(where=where, title=title, at=event.at, again=again))
    return sorted(raised, key=lambda alarm: alarm.at)


def _air(
    db: Database, room: str, plan: RoomPlan | None, since_at: datetime, until_at: datetime
) -> Iterator[Air]:
    """Yield the room's air in means, as control takes it: corrected, of several the middle."""
    calibrations = plan.calibrations if plan else {}
    means = air_means(
        db,
        room,
        since=since_at,
        until=until_at,
        stretch_s=STRETCH_S,
        within_pct=(DRIEST_PLAUSIBLE_PCT, TOP_OF_SCALE_PCT),
        within_c=PLAUSIBLE_TEMPERATURE_C,
    )
    for starts_at, of_sensors in groupby(means, key=lambda mean: mean.starts_at):
        yield voted(
            [
                corrected(
                    AirReading(
                        taken_at=starts_at,
                        taken_uptime_s=0.0,
                        temperature_c=mean.temperature_c,
                        humidity_pct=mean.humidity_pct,
                    ),
                    calibrations.get(mean.sensor),
                )
                for mean in of_sensors
            ]
        )


def _in_band_pct(
    air: Sequence[Air], wanted: Wanted | None, value: Callable[[Air], float]
) -> float | None:
    if wanted is None:
        return None
    setpoint, half = wanted
    return 100.0 * sum(abs(value(one) - setpoint) <= half for one in air) / len(air)
