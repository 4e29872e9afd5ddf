"""What can be said of the rooms at this moment: live where it is live, plainly unknown elsewhere.

Pure: settings, board and times in, frozen views out. The pages and the JSON API are both made of
these, so that neither can show what the other would not.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from hangroom.alarm_table.row import AlarmId
from hangroom.store.live import LiveAir, LiveBoard
from hangroom.terms import AirReading
from hangroom.units import say_duration
from hangroom_web.alarms import AlarmNow, Standing, alarms_now
from hangroom_web.dates import say_moment
from hangroom_web.freshness import Freshness, ask_again_s, board_age_s, is_alive
from hangroom_web.rooms import RoomNow, room_now
from hangroom_web.site import Site
from hangroom_web.words import _

# More rows than this wait in the daemon's memory only when the disk takes none: it writes once a
# minute, and two rooms make fewer than a hundred rows in that time.
ROWS_OF_TROUBLE = 400

# What these alarms say in the strip, the page need not say as well.
OF_SENSORS = frozenset({AlarmId.SENSOR_STALE, AlarmId.SENSOR_IMPLAUSIBLE})


class Loudness(StrEnum):
    """How loud a line of the strip is: a trouble that the page sees itself, or an alarm."""

    TROUBLE = "trouble"
    HIGH = "high"
    MEDIUM = "medium"
    LOW = "low"

    @property
    def word(self) -> str:
        """What stands before it, so that it does not go by its colour alone."""
        return _("Trouble") if self is Loudness.TROUBLE else _("Alarm")


@dataclass(frozen=True, slots=True)
class StripLine:
    """One line of the strip on top of the rooms."""

    said: str
    loudness: Loudness


@dataclass(frozen=True, slots=True, kw_only=True)
class Status:
    """All rooms, whether the daemon lives, and what is wrong, worst first.

    `troubles`: what the page sees by itself. `alarms`: those of the daemon. `strip`: both, as far
    as somebody has to do something. `outside`: the air out there, where it is known.
    """

    at: datetime
    alive: bool
    board_age_s: float | None
    ask_again_s: float
    rooms: Sequence[RoomNow]
    troubles: Sequence[str]
    alarms: Sequence[AlarmNow]
    strip: Sequence[StripLine]
    outside: LiveAir | None


def status_of(
    site: Site,
    board: LiveBoard | None,
    *,
    last_seen_at: datetime | None = None,
    kept: Mapping[str, AirReading] | None = None,
    asked: Mapping[str, str] | None = None,
    records_fault: str | None = None,
) -> Status:
    """Return what may be shown now.

    `kept`: the newest reading of each room in the database, spoken of where there is no board.
    `last_seen_at`: when the daemon last wrote to the database. `asked`: what became of a wish, by
    its room. `records_fault`: why the database cannot be used.
    """
    now, uptime_s = site.now(), site.clock.uptime_s()
    alive = is_alive(board, boot_id=site.boot_id, uptime_s=uptime_s)
    rooms = [
        room_now(
            name,
            table,
            board.rooms.get(name) if board else None,
            (kept or {}).get(name),
            asked=(asked or {}).get(name),
            site=site,
            alive=alive,
            now=now,
            uptime_s=uptime_s if board and board.boot_id == site.boot_id else None,
        )
        for name, table in site.settings.room.items()
    ]
    seen_at = board.written_at if board else last_seen_at
    alarms = alarms_now(board, site=site) if alive and board else []
    of_daemon = list(_daemon_troubles(site, alive=alive, seen_at=seen_at, now=now))
    of_readings = list(_reading_troubles(rooms)) if alive else []
    of_records = [
        *([records_fault] if records_fault else ()),
        *(_writing_troubles(board) if alive and board else ()),
    ]
    return Status(
        at=now,
        alive=alive,
        board_age_s=board_age_s(board, boot_id=site.boot_id, uptime_s=uptime_s),
        ask_again_s=ask_again_s(board, boot_id=site.boot_id, uptime_s=uptime_s),
        rooms=rooms,
        troubles=[*of_daemon, *(said for _room, said in of_readings), *of_records],
        alarms=alarms,
        strip=_strip(of_daemon, of_readings, alarms, of_records),
        outside=board.outside if alive and board else None,
    )


def banner_of(
    site: Site, board: LiveBoard | None, *, last_seen_at: datetime | None = None
) -> StripLine | None:
    """Return what stands on every page: a daemon that is silent, else an alarm to act on now.

    That is one of high priority that is on and was not acknowledged. None for neither.
    """
    if not is_alive(board, boot_id=site.boot_id, uptime_s=site.clock.uptime_s()):
        seen_at = board.written_at if board else last_seen_at
        (said,) = _daemon_troubles(site, alive=False, seen_at=seen_at, now=site.now())
        return StripLine(said, Loudness.TROUBLE)
    for alarm in alarms_now(board, site=site) if board else ():
        if alarm.needs_somebody and alarm.unacknowledged and _loudness(alarm) is Loudness.HIGH:
            return StripLine(alarm.said, Loudness.HIGH)
    return None


def _strip(
    of_daemon: Sequence[str],
    of_readings: Sequence[tuple[str, str]],
    alarms: Sequence[AlarmNow],
    of_records: Sequence[str],
) -> list[StripLine]:
    """Return what somebody has to do something about, the worst first, nothing said twice."""
    waiting = [alarm for alarm in alarms if alarm.standing is Standing.NEEDS_SOMEBODY]
    told_of = {alarm.room for alarm in waiting if alarm.alarm in OF_SENSORS and not alarm.over}
    return [
        *(StripLine(said, Loudness.TROUBLE) for said in of_daemon),
        *(StripLine(said, Loudness.TROUBLE) for room, said in of_readings if room not in told_of),
        *(StripLine(alarm.said, _loudness(alarm)) for alarm in waiting),
        *(StripLine(said, Loudness.TROUBLE) for said in of_records),
    ]


def _loudness(alarm: AlarmNow) -> Loudness:
    return Loudness.LOW if alarm.over else Loudness(alarm.row.priority.value)


def _daemon_troubles(
    site: Site, *, alive: bool, seen_at: datetime | None, now: datetime
) -> Iterator[str]:
    if alive:
        return
    if seen_at is None:
        yield _(
            "The controller program has never reported here. No room is being run. "
            "Start `hangroom daemon`, then look here again."
        )
        return
    yield _(
        "The controller program has not reported since {moment} ({silence}). "
        "Relays may be in any state: look at the rooms, then start it again."
    ).format(
        moment=say_moment(seen_at, site.zone, now=now),
        silence=say_duration((now - seen_at).total_seconds()),
    )


def _reading_troubles(rooms: Sequence[RoomNow]) -> Iterator[tuple[str, str]]:
    """Yield room and sentence."""
    for room in rooms:
        match room.reading.freshness:
            case Freshness.STALE:
                yield (
                    room.name,
                    _(
                        "{room}: no good reading for {age}. Its relays go to their resting "
                        "positions. Check the sensor and its wire."
                    ).format(room=room.title, age=say_duration(room.reading.age_s or 0.0)),
                )
            case Freshness.NONE | Freshness.DOUBTED:
                yield room.name, f"{room.title}: {room.reading.said}"
            case _:
                pass


def _writing_troubles(board: LiveBoard) -> Iterator[str]:
    if board.unwritten_rows > ROWS_OF_TROUBLE:
        yield _(
            "The controller cannot write its records: {rows} rows wait in its memory. "
            "Control goes on. Check that the disk is there and not full."
        ).format(rows=board.unwritten_rows)
