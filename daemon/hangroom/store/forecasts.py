"""What was forecast for each group, and why the newest try failed. Owns the table forecast.

The daemon writes it. Of each day (UTC) the newest forecast of a group is kept, to look back on.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from pydantic import TypeAdapter
from sqlite_utils import Database

from hangroom.errors import InputError
from hangroom.product.forecast import AirPlanned, Beliefs, Forecast
from hangroom.store.forecast_form import VERSION, read, written
from hangroom.store.moments import from_ms, to_ms

DAY_MS = 86_400_000


class Cause(StrEnum):
    """What made the daemon forecast."""

    START = "start"
    HOURLY = "hourly"
    WEIGH_IN = "weigh-in"
    STAGE = "stage"
    HUNG = "hung"
    PULLED = "pulled"


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptForecast:
    """A forecast and what it went by; its hours count from `hung_at`.

    `room`: where it hung nearly all the time, None where that is none. `recipe`: what its batch is
    called. `diameter_mm`: as hung. `plan`: the air it took to come. `before`: what was believed
    before any weighing, None for the published beliefs. `weighings`: how often its most weighed
    stick was.
    """

    made_at: datetime
    cause: Cause
    hung_at: datetime
    room: str | None
    recipe: str
    diameter_mm: float
    plan: tuple[AirPlanned, ...]
    before: Beliefs | None
    weighings: int
    forecast: Forecast


@dataclass(frozen=True, slots=True, kw_only=True)
class Failure:
    """A try that brought no forecast, and why."""

    at: datetime
    cause: Cause
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """A group's newest forecast, None without one, and the failure since then, None without."""

    kept: KeptForecast | None = None
    failed: Failure | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Body:
    version: int
    hung_ms: int
    room: str | None
    recipe: str
    diameter_mm: float
    plan: tuple[AirPlanned, ...]
    before: Beliefs | None
    weighings: int
    forecast: Forecast


_FORM = TypeAdapter(_Body)


def keep_forecast(db: Database, group_number: int, kept: KeptForecast) -> None:
    """Store a forecast; it takes the place of the same day's, and of earlier failures."""
    body = _Body(
        version=VERSION,
        hung_ms=to_ms(kept.hung_at),
        room=kept.room,
        recipe=kept.recipe,
        diameter_mm=kept.diameter_mm,
        plan=kept.plan,
        before=kept.before,
        weighings=kept.weighings,
        forecast=kept.forecast,
    )
    made_ms = to_ms(kept.made_at)
    with db.atomic():
        db.execute(
            "delete from forecast where group_id = ? and (body is null or made_ms / ? = ? / ?)",
            (group_number, DAY_MS, made_ms, DAY_MS),
        )
        db.execute(
            "insert into forecast (group_id, made_ms, cause, body) values (?, ?, ?, ?)",
            (group_number, made_ms, str(kept.cause), written(_FORM, body)),
        )


def keep_failure(db: Database, group_number: int, failed: Failure) -> None:
    """Store why a try brought nothing; the last forecast stays in place."""
    with db.atomic():
        db.execute("delete from forecast where group_id = ? and body is null", (group_number,))
        db.execute(
            "insert into forecast (group_id, made_ms, cause, error) values (?, ?, ?, ?)",
            (group_number, to_ms(failed.at), str(failed.cause), failed.why),
        )


def known_of(db: Database, group_numbers: Iterable[int]) -> dict[int, Known]:
    """Return what is known of each of some groups; a forecast of another version is none."""
    return {number: _known(db, number) for number in group_numbers}


def kept_before(db: Database, group_number: int, at: datetime) -> KeptForecast | None:
    """Return a group's newest forecast made before a moment, None where there is none."""
    rows = db.execute(
        "select made_ms, cause, body from forecast where group_id = ? and body is not null"
        " and made_ms < ? order by id desc",
        (group_number, to_ms(at)),
    )
    return next(_kept(rows), None)


def pulled_since(db: Database, since: datetime) -> list[tuple[int, str]]:
    """Return batch and letter of each group pulled from a moment on, after its newest forecast."""
    return db.execute(
        "select number, letter from (select group_id, max(to_ms) as pulled_ms from hang"
        " where struck_ms is null group by group_id having sum(to_ms is null) = 0)"
        " join stick_group on stick_group.id = group_id join batch on batch.id = batch_id"
        " where pulled_ms >= ? and pulled_ms > (select made_ms from forecast"
        " where forecast.group_id = stick_group.id and body is not null order by id desc limit 1)",
        (to_ms(since),),
    ).fetchall()


def newest_of_every_group(db: Database) -> dict[int, KeptForecast]:
    """Return each group's newest forecast by the group's number, hanging or not."""
    numbers = db.execute("select distinct group_id from forecast where body is not null").fetchall()
    known = known_of(db, (number for (number,) in numbers))
    return {number: one.kept for number, one in known.items() if one.kept is not None}


def _known(db: Database, group_number: int) -> Known:
    newest = db.execute(
        "select made_ms, cause, error from forecast where group_id = ? order by id desc limit 1",
        (group_number,),
    ).fetchone()
    rows = db.execute(
        "select made_ms, cause, body from forecast where group_id = ? and body is not null"
        " order by id desc limit 1",
        (group_number,),
    )
    failed = None
    if newest is not None and newest[2]:
        at_ms, cause, why = newest
        failed = Failure(at=from_ms(at_ms), cause=Cause(cause), why=why)
    return Known(kept=next(_kept(rows), None), failed=failed)


def _kept(rows: Iterable[tuple[int, str, str]]) -> Iterator[KeptForecast]:
    for made_ms, cause, text in rows:
        try:
            body = read(_FORM, text, what="stored forecast")
        except InputError:
            continue  # written by another version: as good as absent, and made anew within the hour
        yield KeptForecast(
            made_at=from_ms(made_ms),
            cause=Cause(cause),
            hung_at=from_ms(body.hung_ms),
            room=body.room,
            recipe=body.recipe,
            diameter_mm=body.diameter_mm,
            plan=body.plan,
            before=body.before,
            weighings=body.weighings,
            forecast=body.forecast,
        )
