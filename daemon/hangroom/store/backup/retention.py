"""Which backups of a folder to keep: one for each of 7 days and of 4 weeks before. Pure."""

import re
from collections.abc import Hashable, Iterable, Sequence
from datetime import date, datetime

DAYS, WEEKS = 7, 4

_NAME = re.compile(r"hangroom-(\d{8}-\d{6})\.zip")
_STAMP = "%Y%m%d-%H%M%S"


def name_of(made_at: datetime) -> str:
    """Return the file name of a backup made at a moment, in that moment's own zone."""
    return f"hangroom-{made_at.strftime(_STAMP)}.zip"


def made_of(name: str) -> datetime | None:
    """Return when a backup was made by its file name, local time; None for any other file."""
    found = _NAME.fullmatch(name)
    if found is None:
        return None
    try:
        return datetime.strptime(found[1], _STAMP)  # noqa: DTZ007 - local time, as the name has it
    except ValueError:
        return None


def to_drop(names: Iterable[str], *, just_made: str) -> list[str]:
    """Return which of a folder's files to remove, the oldest first; never one that is no backup.

    Kept are the newest backup of each of the 7 latest days that have one, then of each of the 4
    latest weeks (Monday to Sunday) whose newest is not among those, and `just_made`, whatever the
    clock said.
    """
    dated = sorted(
        ((made, name) for name in names if (made := made_of(name)) is not None), reverse=True
    )
    kept = {just_made}
    kept |= _newest_each([(made.date(), name) for made, name in dated], most=DAYS)
    by_week = [(_week(made.date()), name) for made, name in dated]
    kept |= _newest_each(by_week, most=WEEKS, but=kept)
    return [name for _made, name in reversed(dated) if name not in kept]


def _week(day: date) -> tuple[int, int]:
    return day.isocalendar()[:2]


def _newest_each(
    stretches: Sequence[tuple[Hashable, str]], *, most: int, but: Iterable[str] = ()
) -> set[str]:
    """Return the first name of each stretch, of so many at most; those in `but` do not count."""
    newest: dict[Hashable, str] = {}
    for stretch, name in stretches:
        newest.setdefault(stretch, name)
    done = set(but)
    return set([name for name in newest.values() if name not in done][:most])
