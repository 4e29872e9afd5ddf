"""What a batch's page reads from the database; the one file here that does."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from functools import cache

from sqlite_utils import Database

from hangroom.alarm_table.log import of_room
from hangroom.store.alarms import events_between
from hangroom.store.history import air_between, warmest_by_stretch
from hangroom.store.record.edits import Edit
from hangroom.store.record.finish import tasted_groups
from hangroom.store.record.tables import Row, rows_of_table
from hangroom.store.record.whole import BatchRecord
from hangroom_web.batch.likeness import like_target, say_group
from hangroom_web.batch_view.evidence import AirOf, recorded_recipe
from hangroom_web.batch_view.rooms import AirIn, AlarmsIn
from hangroom_web.batch_view.wording import Wording
from hangroom_web.site import Site
from hangroom_web.words import _, sentence

# Of each stretch the warmest reading counts, so that what is warm may be told longer, never
# shorter. Weeks are read in longer stretches than days, which bounds what a page costs.
STRETCHES_S = (60, 120, 300, 600, 900)
MOST_STRETCHES = 3000


def air_of(db: Database) -> AirOf:
    """Return what reads a room's warmest temperatures; asked for the same twice, it reads once."""

    @cache
    def read(room: str, since: datetime, until: datetime) -> Sequence[tuple[float, float]]:
        long_s = (until - since).total_seconds()
        stretch_s = next(
            (each for each in STRETCHES_S if long_s / each <= MOST_STRETCHES), STRETCHES_S[-1]
        )
        return warmest_by_stretch(db, room, since=since, until=until, stretch_s=stretch_s)

    return read


def corrected_rows(db: Database, edits: Sequence[Edit]) -> Mapping[str, Row]:
    """Return the row of each entry that was corrected, struck out or not, by its key."""
    return {
        edit.entry_key: row
        for edit in edits
        for row in rows_of_table(db, edit.kept, edit.entry_key)
    }


def wording_of(site: Site, *, printed: bool = False) -> Wording:
    """Return what the page's words are said in."""
    rooms = site.settings.room
    return Wording(
        units=site.units,
        zone=site.zone,
        now=site.now(),
        room=lambda name: rooms[name].title if name in rooms else name,
        printed=printed,
        look_at=site.settings.inspection.times(),
    )


def likes_of(db: Database, record: BatchRecord) -> Mapping[str, str]:
    """Return, by its letter, whom a group shall be as dry as and what that makes its target."""
    wanted = {group.letter: group.like for group in record.batch.groups if group.like is not None}
    if not wanted:
        return {}
    recipe = recorded_recipe(record).recipe
    tasted = {each.name: each for each in tasted_groups(db)}
    said = {}
    for letter, name in wanted.items():
        found = tasted.get(name)
        target = like_target(db, found, recipe.green if recipe else None) if found else None
        told = _("As dry as {group}.").format(group=say_group(name))
        said[letter] = f"{told} {sentence(target.because)}" if target else told
    return said


def air_in(db: Database) -> AirIn:
    """Return what reads a room's air of a time."""
    return lambda room, since, until: air_between(db, room, since=since, until=until)


def alarms_in(db: Database) -> AlarmsIn:
    """Return what reads what happened to a room's alarms in a time."""
    return lambda room, since, until: events_between(db, of_room(room), since, until)
