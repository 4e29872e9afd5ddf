"""Which time of a room is asked for, and in how long stretches it is told. Pure.

Parameters of the page and of the JSON, all optional:

* `range`: 6h, 24h (where nothing is said), 7d, 30d, or batch (as long as a batch hung in the room)
* `end`: where a range ends, ISO 8601 with offset; now where it is left out
* `batch`: the number of the batch of `range=batch`; the newest where it is left out
* `since` and `until` instead of a range, ISO 8601 with offset
* `sensor`: its name, or `outside.NAME`; the one that control goes by where it is left out
* `points`: into how many stretches the time is parted at most, 10 to 1440
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum

from hangroom.errors import InputError
from hangroom.store.room_past import HungBatch
from hangroom_web.words import _

MOST_POINTS, FEWEST_POINTS = 1440, 10

# Each from 900 s on is made of whole quarters of an hour, each from 60 s on of whole minutes.
STRETCHES_S = (
    *(10, 20, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 10_800, 21_600, 43_200),
    *(86_400, 2 * 86_400, 7 * 86_400, 28 * 86_400, 364 * 86_400),
)

# In no stretch may a sensor that is read in time have no reading, or it would look like a gap.
READINGS_PER_STRETCH = 2.0

_FIRST, _LAST = datetime(2000, 1, 1, tzinfo=UTC), datetime(2200, 1, 1, tzinfo=UTC)
_LONGEST = timedelta(days=366 * 8)


class Range(StrEnum):
    """The times that have a button."""

    HOURS = "6h"
    DAY = "24h"
    WEEK = "7d"
    MONTH = "30d"
    BATCH = "batch"


LENGTHS = {
    Range.HOURS: timedelta(hours=6),
    Range.DAY: timedelta(hours=24),
    Range.WEEK: timedelta(days=7),
    Range.MONTH: timedelta(days=30),
}
NAMES = {
    Range.HOURS: _("6 h"),
    Range.DAY: _("24 h"),
    Range.WEEK: _("7 d"),
    Range.MONTH: _("30 d"),
    Range.BATCH: _("Batch"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A time: from `since` to `until`, in `stretches` stretches of `stretch_s` from `since` on.

    `range`: the button it belongs to, None for a time of its own. `live`: it ends now. The last
    stretch may reach beyond `until`.
    """

    range: Range | None
    since: datetime
    until: datetime
    stretch_s: int
    stretches: int
    live: bool
    batch: int | None = None

    @property
    def stretch(self) -> timedelta:
        """How long one stretch is."""
        return timedelta(seconds=self.stretch_s)


def window_of(
    asked: Mapping[str, str],
    *,
    now: datetime,
    hung: Sequence[HungBatch],
    most: int,
    read_every_s: float,
) -> Window:
    """Return the time that is asked for, in `most` stretches; InputError says what is wrong.

    `hung`: the batches that hung in the room, the newest first. `read_every_s`: of the sensor.
    """
    most = _points(asked.get("points"), most)
    name, batch, since, until = _span(asked, now, hung)
    until = min(until, now)
    if since >= until:
        raise InputError(_("That time has not come yet. Choose an earlier one."))
    return _parted(
        since, until, most=most, read_every_s=read_every_s, name=name, now=now, batch=batch
    )


def _parted(
    since: datetime,
    until: datetime,
    *,
    most: int,
    read_every_s: float,
    name: Range | None,
    now: datetime,
    batch: int | None,
) -> Window:
    def count(stretch_s: int) -> int:
        return -(-(until - _floor(since, stretch_s)) // timedelta(seconds=stretch_s))

    least_s = READINGS_PER_STRETCH * read_every_s
    stretch_s = next(
        (each for each in STRETCHES_S if each >= least_s and count(each) <= most), STRETCHES_S[-1]
    )
    start, stretches = _floor(since, stretch_s), count(stretch_s)
    end = start + stretches * timedelta(seconds=stretch_s)
    return Window(
        range=name,
        since=start,
        until=min(end, now),
        stretch_s=stretch_s,
        stretches=stretches,
        live=end >= now,
        batch=batch,
    )


def _span(
    asked: Mapping[str, str], now: datetime, hung: Sequence[HungBatch]
) -> tuple[Range | None, int | None, datetime, datetime]:
    if asked.get("since") or asked.get("until"):
        since, until = _moment(asked, "since"), _moment(asked, "until")
        if not since < until:
            raise InputError(_("`until` must be later than `since`. Exchange them."))
        if until - since > _LONGEST:
            raise InputError(_("That is longer than 8 years. Ask for a shorter time."))
        return None, None, since, until
    try:
        name = Range(asked.get("range") or Range.DAY)
    except ValueError:
        known = ", ".join(Range)
        raise InputError(_("`range` must be one of {known}.").format(known=known)) from None
    if name is Range.BATCH:
        one = _batch(asked.get("batch"), hung)
        return name, one.number, one.from_at, one.to_at or now
    until = min(_moment(asked, "end"), now) if asked.get("end") else now
    return name, None, until - LENGTHS[name], until


def _batch(asked: str | None, hung: Sequence[HungBatch]) -> HungBatch:
    if not hung:
        raise InputError(_("No batch has hung in this room. Choose another time."))
    if not asked:
        return hung[0]
    found = next((one for one in hung if str(one.number) == asked), None)
    if found is None:
        known = ", ".join(str(one.number) for one in hung)
        raise InputError(
            _("That batch did not hang in this room. These did: {known}.").format(known=known)
        )
    return found


def _moment(asked: Mapping[str, str], name: str) -> datetime:
    # A + in an address that nobody encoded arrives as a blank.
    typed = asked.get(name, "").strip().replace(" ", "+")
    try:
        moment = datetime.fromisoformat(typed)
    except ValueError:
        moment = None
    if moment is None or moment.utcoffset() is None or not _FIRST <= moment <= _LAST:
        raise InputError(
            _(
                "`{name}` must be a time such as 2026-11-26T09:30:00+01:00 or 2026-11-26T08:30:00Z."
            ).format(name=name)
        )
    return moment.astimezone(UTC)


def _points(typed: str | None, most: int) -> int:
    if not typed:
        return most
    if (
        not (typed.isascii() and typed.isdecimal())
        or len(typed) > 6  # noqa: PLR2004 - too long to be a number of points
        or not FEWEST_POINTS <= int(typed) <= MOST_POINTS
    ):
        raise InputError(
            _("`points` must be a whole number from {fewest} to {most}.").format(
                fewest=FEWEST_POINTS, most=MOST_POINTS
            )
        )
    return int(typed)


def _floor(at: datetime, stretch_s: int) -> datetime:
    start_s = int(at.timestamp()) // stretch_s * stretch_s
    return datetime.fromtimestamp(start_s, UTC)
