"""A batch's curing sums as they were worked, and a second person's check of them.

Owns the table frozen_sums. A sum is kept whole: result, formula in words, inputs. It stands as it
was worked, whatever is corrected in the recipe afterwards; sums worked anew are frozen beside it.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from types import MappingProxyType
from typing import ClassVar

from sqlite_utils import Database

from hangroom.errors import InputError
from hangroom.product.curing import Dose, Ingoing, Share, Working
from hangroom.store.checks import LONGEST_NAME, check_moment, check_text
from hangroom.store.database import durably
from hangroom.store.moments import from_ms, to_ms
from hangroom.store.record.entries import READ, STORED, Entry

Sum = Ingoing | Dose | Share

# The name of a result tells what kind of sum it is of.
_RESULTS: Mapping[str, type[Sum]] = MappingProxyType(
    {"result_ppm": Ingoing, "result_g": Dose, "result_pct": Share}
)


def sums_stored(sums: Sequence[Sum]) -> str:
    """Return sums as the table holds them, floats exact."""
    return json.dumps([_plain(one) for one in sums])


def sums_read(stored: str) -> tuple[Sum, ...]:
    """Return sums from what the table holds; raises InputError for what is none."""
    return tuple(_sum(one) for one in json.loads(stored))


@dataclass(frozen=True, slots=True, kw_only=True)
class FrozenSums(Entry):
    """Curing sums as they were worked, by `entered_by`; who checked them and when, or None."""

    TABLE: ClassVar[str] = "frozen_sums"

    sums: tuple[Sum, ...] = field(metadata={STORED: sums_stored, READ: sums_read})
    checked_at: datetime | None = None
    checked_by: str | None = None

    def __post_init__(self) -> None:
        Entry.__post_init__(self)
        if not self.sums:
            raise InputError("There are no sums to freeze. Work them out first.")
        if (self.checked_at is None) != (self.checked_by is None):
            raise InputError("A check needs both who did it and when. Nothing was stored.")


def check_sums(db: Database, key: str, *, by: str, now: datetime) -> bool:
    """Note a second person's check of frozen sums and return True; False where one is noted.

    Raises InputError where there are no such sums, or where the one who worked them checks them.
    """
    check_text("name of who checked the sums", by, needed=True, longest=LONGEST_NAME)
    with durably(db):
        row = db.execute(
            "select entered_by, checked_by, entered_ms from frozen_sums where key = ?", (key,)
        ).fetchone()
        if row is None:
            raise InputError("There are no such sums to check. Load the page again.")
        worked_by, checked_by, entered_ms = row
        check_moment("time the sums were checked", from_ms(entered_ms), entered_at=now)
        if by.strip().casefold() == worked_by.strip().casefold():
            raise InputError(
                f"{by} worked these sums. A second person has to check them; nothing was stored."
            )
        if checked_by is None:
            db.execute(
                "update frozen_sums set checked_ms = ?, checked_by = ? where key = ?",
                (to_ms(now), by, key),
            )
    return checked_by is None


def _plain(one: Sum) -> dict[str, object]:
    result = next(name for name, kind in _RESULTS.items() if isinstance(one, kind))
    working = one.working
    return {
        "what": working.what,
        "formula": working.formula,
        "inputs": dict(working.inputs),
        result: getattr(one, result),
    }


def _sum(plain: object) -> Sum:
    match plain:
        case {"what": str(what), "formula": str(formula), "inputs": dict(inputs), **results}:
            for name, kind in _RESULTS.items():
                match results.get(name):
                    case float() as result:
                        working = Working(
                            what=what, formula=formula, inputs=MappingProxyType(inputs)
                        )
                        return kind(result, working)
    raise InputError(f"{plain!r} is no curing sum; it has no result, formula and inputs.")
