"""What a group was like when it was tasted, so that another can become as dry. Owns finish_profile.

The air is the mean of the room's own readings while the group hung, kept with the profile because
readings are thinned out later.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from statistics import fmean, median_low
from typing import ClassVar

from sqlite_utils import Database

from hangroom.store.batch_facts import GroupName
from hangroom.store.batches import group_named
from hangroom.store.checks import ZERO_OR_MORE, check_moment, check_number, check_text, check_whole
from hangroom.store.moments import to_ms
from hangroom.store.record.entries import Entry, columns_of, values_read
from hangroom.store.weigh_ins import SQUEEZES

RATINGS = (1, 5)
MOST_YIELD_PCT = 150.0

# The air is averaged in stretches of ten minutes, so that a sensor read more often counts no more.
_STRETCH_MS = 600_000


@dataclass(frozen=True, slots=True, kw_only=True)
class HungAir:
    """How long a group hung, and the mean air of `known_h` of those hours, degC and %RH."""

    hung_h: float
    known_h: float
    temperature_c: float | None
    humidity_pct: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishProfile(Entry):
    """A tasted group: how dry, how soft, how long and in which air; how good (1 to 5), in words.

    The yield is on green weight, `squeeze` the middle one of the last squeezes. Raises InputError
    for what cannot be.
    """

    TABLE: ClassVar[str] = "finish_profile"
    ORDER: ClassVar[str] = "tasted_ms"

    group: str
    tasted_at: datetime
    rating: int | None = None
    words: str = ""
    yield_pct: float | None = None
    squeeze: int | None = None
    hung_h: float | None = None
    air_temperature_c: float | None = None
    air_humidity_pct: float | None = None
    air_known_h: float | None = None

    def __post_init__(self) -> None:
        Entry.__post_init__(self)
        check_moment("time it was tasted", self.tasted_at, entered_at=self.entered_at)
        if self.rating is not None:
            check_whole("rating", self.rating, RATINGS)
        if self.squeeze is not None:
            check_whole("squeeze", self.squeeze, SQUEEZES)
        check_text("words", self.words)
        for what, value, bounds in (
            ("yield in %", self.yield_pct, (0.0, MOST_YIELD_PCT)),
            ("hours it hung", self.hung_h, ZERO_OR_MORE),
        ):
            if value is not None:
                check_number(what, value, bounds)


@dataclass(frozen=True, slots=True, kw_only=True)
class TastedGroup:
    """A group that another can be asked to become as dry as."""

    name: GroupName
    finish: str
    profile: FinishProfile


def finish_profile(
    db: Database,
    name: GroupName,
    *,
    key: str,
    tasted_at: datetime,
    by: str,
    now: datetime,
    rating: int | None = None,
    words: str = "",
) -> FinishProfile:
    """Return the profile of a group as it stands in the store, to be added with `add_entry`.

    Yield and squeeze are those of each stick's last weigh-in by then; the air is that of its rooms.
    Raises InputError where there is no such group.
    """
    group_id, _ = group_named(db, name)
    yields, squeezes = _last_looks(db, group_id, until=tasted_at)
    air = hung_air(db, name, until=tasted_at)
    return FinishProfile(
        key=key,
        group=name.letter,
        tasted_at=tasted_at,
        rating=rating,
        words=words,
        yield_pct=fmean(yields) if yields else None,
        squeeze=median_low(squeezes) if squeezes else None,
        hung_h=air.hung_h,
        air_temperature_c=air.temperature_c,
        air_humidity_pct=air.humidity_pct,
        air_known_h=air.known_h,
        entered_at=now,
        entered_by=by,
    )


def hung_air(db: Database, name: GroupName, *, until: datetime) -> HungAir:
    """Return how long a group hung by a moment, and the mean air of its rooms in that time.

    Raises InputError where there is no such group.
    """
    group_id, _ = group_named(db, name)
    hung_h = 0.0
    stretches: list[tuple[float, float]] = []
    for room, from_ms_, to_ms_ in db.execute(
        "select room, from_ms, min(coalesce(to_ms, ?), ?) from hang where group_id = ?"
        " and from_ms < ? and struck_ms is null order by from_ms",
        (to_ms(until), to_ms(until), group_id, to_ms(until)),
    ).fetchall():
        hung_h += (to_ms_ - from_ms_) / 3_600_000
        stretches += _stretches(db, room, from_ms_, to_ms_)
    known_h = min(hung_h, len(stretches) * _STRETCH_MS / 3_600_000)
    return HungAir(
        hung_h=hung_h,
        known_h=known_h,
        temperature_c=fmean(t_c for t_c, _ in stretches) if stretches else None,
        humidity_pct=fmean(h_pct for _, h_pct in stretches) if stretches else None,
    )


def tasted_groups(db: Database) -> list[TastedGroup]:
    """Return every group that was tasted with its newest profile, newest first."""
    columns = columns_of(FinishProfile)
    selected = ", ".join(f"finish_profile.{column}" for column in columns.values())
    rows = db.execute(
        "select number, letter, finish,"  # noqa: S608 - our own names
        f" {selected} from finish_profile join stick_group on stick_group.id = group_id"
        " join batch on batch.id = stick_group.batch_id where struck_ms is null"
        " order by tasted_ms desc, finish_profile.id desc"
    ).fetchall()
    newest: dict[GroupName, TastedGroup] = {}
    for number, letter, finish, *row in rows:
        name = GroupName(batch=number, letter=letter)
        values = values_read(FinishProfile, dict(zip(columns, row, strict=True)))
        tasted = TastedGroup(
            name=name, finish=finish, profile=FinishProfile(group=letter, **values)
        )
        newest.setdefault(name, tasted)
    return list(newest.values())


def _stretches(
    db: Database, room: str, from_ms_: int, to_ms_: int
) -> Sequence[tuple[float, float]]:
    return list(
        db.execute(
            "select avg(temperature_c), avg(humidity_pct) from reading where sensor_id in"
            " (select sensor.id from sensor join room on room.id = room_id where room.name = ?)"
            " and taken_ms >= ? and taken_ms < ? group by taken_ms / ?",
            (room, from_ms_, to_ms_, _STRETCH_MS),
        )
    )


def _last_looks(db: Database, group_id: int, *, until: datetime) -> tuple[list[float], list[int]]:
    rows = db.execute(
        "select 100 * weight_g / green_weight_g, squeeze from stick join weigh_in on weigh_in.id ="
        " (select id from weigh_in where stick_id = stick.id and struck_ms is null"
        " and taken_ms <= ? order by taken_ms desc, id desc limit 1) where group_id = ?",
        (to_ms(until), group_id),
    ).fetchall()
    return [pct for pct, _ in rows], [squeeze for _, squeeze in rows if squeeze is not None]
