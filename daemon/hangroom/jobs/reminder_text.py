"""A reminder's words, from what the store knows of the batch, its forecasts and its room."""

from collections.abc import Iterator
from datetime import datetime

from sqlite_utils import Database

from hangroom.jobs.looking import Looking
from hangroom.jobs.standings import standing_of
from hangroom.product.daily_look import next_due
from hangroom.product.daily_work import Left, salt_check_is_due
from hangroom.product.expected import stick_range, weight_band_g
from hangroom.product.group_standing import Standing, near_by, say_standing
from hangroom.product.reminder_words import (
    GroupAsked,
    Look,
    SaltCheckDue,
    StickAsked,
    text_of,
    title_of,
)
from hangroom.store.batches import Batch, Group, Stick
from hangroom.store.forecasts import known_of
from hangroom.store.reminders import Reminder
from hangroom.store.salt_checks import newest_check_at


def in_words(
    db: Database, batch: Batch, reminder: Reminder, left: Left, looking: Looking, *, of_room: bool
) -> tuple[str, str]:
    """Return a reminder's title and text; `of_room`: with what the room asks for besides."""
    now = reminder.asked_at
    here = [group for group in batch.groups if group.room == reminder.room]
    known = known_of(db, (group.number for group in here))
    room = looking.rooms.get(reminder.room) if of_room else None
    look = Look(
        batch_number=reminder.batch_number,
        room_title=looking.title(reminder.room),
        since_at=reminder.since_at,
        times_asked=reminder.times_asked,
        groups=tuple(
            _group(group, standing_of(group, known[group.number].kept), left, looking, now)
            for group in here
        ),
        has_tank=room is not None and room.has_tank,
        salt_checks=tuple(_salt_checks(db, reminder.room, room.sensors, now)) if room else (),
    )
    return title_of(look), text_of(look, units=looking.units, zone=looking.zone, now=now)


def _group(
    group: Group, standing: Standing, left: Left, looking: Looking, now: datetime
) -> GroupAsked:
    next_look_at = next_due(now, at=looking.at, zone=looking.zone).at
    near = ""
    if near_by(standing, now=now, next_look_at=next_look_at):
        said = say_standing(standing, zone=looking.zone, now=now)
        near = f"{group.letter}, {group.finish}, is near its target: {said}"
    return GroupAsked(
        letter=group.letter,
        finish=group.finish,
        sticks=tuple(
            StickAsked(tag=stick.tag, expected_g=_expected_g(stick, standing, looking, now))
            for stick in group.tagged
            if stick.tag in left.tags
        ),
        only_look=group.letter in left.letters,
        near=near,
    )


def _expected_g(
    stick: Stick, standing: Standing, looking: Looking, now: datetime
) -> tuple[float, float] | None:
    forecast = standing.live(now)
    if forecast is None:
        return None
    expected = stick_range(forecast, stick.tag, now_h=standing.now_h(now))
    if expected is None:
        return None
    return weight_band_g(
        expected, green_weight_g=stick.green_weight_g, scale_sd_g=looking.scale_sd_g
    )


def _salt_checks(
    db: Database, room: str, sensors: tuple[str, ...], now: datetime
) -> Iterator[SaltCheckDue]:
    checked = newest_check_at(db)
    for sensor in sensors:
        checked_at = checked.get((room, sensor))
        if salt_check_is_due(checked_at, now=now):
            yield SaltCheckDue(sensor=sensor, checked_at=checked_at)
