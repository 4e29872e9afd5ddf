"""What hangs, room by room, as the daily look asks after it. Owns no table."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime

from sqlite_utils import Database

from hangroom.product.daily_look import COUNTS_BEFORE
from hangroom.product.daily_work import WRITTEN, GroupWork, StickWork, Work
from hangroom.store.batches import Batch, Stick
from hangroom.store.moments import from_ms, to_ms
from hangroom.store.record.skips import FOR_GOOD, NO_SKIP, Skip, newest_skips


def works_of(db: Database, kept: Sequence[Batch], *, now: datetime) -> list[Work]:
    """Return what hangs of each batch in each room, oldest batch first."""
    looked, skips = _looked_at(db, now), newest_skips(db)
    there: defaultdict[tuple[int, str], list[GroupWork]] = defaultdict(list)
    for batch in sorted(kept, key=lambda batch: batch.number):
        for group in batch.groups:
            if group.room is not None and group.hung_at is not None:
                there[batch.number, group.room].append(
                    GroupWork(
                        letter=group.letter,
                        hung_at=_hung_at(group.hung_at, now),
                        looked_at=looked.get(group.number),
                        sticks=tuple(
                            StickWork(tag=stick.tag, entered_at=entered_at)
                            for stick in group.tagged
                            for entered_at in _entered_at(stick, skips.get(stick.tag), now)
                        ),
                    )
                )
    return [
        Work(batch_number=number, room=room, groups=tuple(groups))
        for (number, room), groups in there.items()
    ]


def _hung_at(noted_at: datetime, now: datetime) -> datetime:
    """Return since when a group hangs; where a clock that was ahead noted it, since nobody knows.

    Then it is asked after at once: by what was noted it would be left alone until that moment.
    """
    return noted_at if noted_at <= now + COUNTS_BEFORE else WRITTEN


def _entered_at(stick: Stick, skip: Skip | None, now: datetime) -> Iterator[datetime | None]:
    """Yield when a stick was last entered; nothing for one that will never be weighed again."""
    # One from far ahead was typed while the clock was wrong, and tells of no look to come.
    latest = now + COUNTS_BEFORE
    taken = [entry.taken_at for entry in stick.weigh_ins if entry.taken_at <= latest]
    weighed_at = max(taken, default=None)
    if skip is None or (weighed_at is not None and weighed_at >= skip.at):
        yield weighed_at
    elif skip.reason not in FOR_GOOD:
        yield skip.at if skip.at <= latest else weighed_at


def _looked_at(db: Database, now: datetime) -> Mapping[int, datetime]:
    rows = db.execute(
        f"select group_id, max(taken_ms) from look where struck_ms is null and {NO_SKIP}"  # noqa: S608 - this project's own text
        " and taken_ms <= ? group by group_id",
        (to_ms(now + COUNTS_BEFORE),),
    )
    return {group_id: from_ms(taken_ms) for group_id, taken_ms in rows}
