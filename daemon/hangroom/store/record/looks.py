"""What was measured of a group, and looks at it without a scale. Owns measurement and look.

A weigh-in has its own surface findings; a look is for what is seen on a group between weighings.
"""

from dataclasses import dataclass, field
from datetime import datetime
from typing import ClassVar

from sqlite_utils import Database

from hangroom.errors import InputError
from hangroom.product.storage import Measured
from hangroom.store.batch_facts import SurfaceFinding, surface_read, surface_stored
from hangroom.store.checks import check_moment, check_number, check_text, check_whole
from hangroom.store.moments import from_ms, to_ms
from hangroom.store.record.entries import READ, STORED, Entry
from hangroom.store.weigh_ins import DEEPEST_WRINKLE_MM, SQUEEZES


@dataclass(frozen=True, slots=True, kw_only=True)
class Measurement(Entry):
    """Water activity, pH or both, measured on a stick of a group; `instrument` says with what.

    Raises InputError where neither is given, or for what cannot be.
    """

    TABLE: ClassVar[str] = "measurement"
    ORDER: ClassVar[str] = "taken_ms"

    group: str
    taken_at: datetime
    aw: float | None = None
    ph: float | None = None
    instrument: str
    note: str = ""

    def __post_init__(self) -> None:
        Entry.__post_init__(self)
        check_moment("time of the measurement", self.taken_at, entered_at=self.entered_at)
        if self.aw is None and self.ph is None:
            raise InputError("Enter a water activity, a pH, or both; nothing was stored.")
        for what, value, bounds in (
            ("water activity", self.aw, (0.0, 1.0)),
            ("pH", self.ph, (0.0, 14.0)),
        ):
            if value is not None:
                check_number(what, value, bounds)
        self.measured()
        check_text("instrument", self.instrument, needed=True)
        check_text("note", self.note)

    def measured(self) -> Measured:
        """Return the figures as the storage checks take them."""
        return Measured(aw=self.aw, ph=self.ph)


@dataclass(frozen=True, slots=True, kw_only=True)
class Look(Entry):
    """A look at a group without a weight; `surface` is empty where nothing was found.

    `surface` None: not looked at. Raises InputError where nothing is said, or for what cannot be.
    """

    TABLE: ClassVar[str] = "look"
    ORDER: ClassVar[str] = "taken_ms"

    group: str
    taken_at: datetime
    surface: frozenset[SurfaceFinding] | None = field(
        default=None, metadata={STORED: surface_stored, READ: surface_read}
    )
    squeeze: int | None = None
    wrinkle_mm: float | None = None
    note: str = ""

    def __post_init__(self) -> None:
        Entry.__post_init__(self)
        check_moment("time of the look", self.taken_at, entered_at=self.entered_at)
        if self.squeeze is not None:
            check_whole("squeeze", self.squeeze, SQUEEZES)
        if self.wrinkle_mm is not None:
            check_number("wrinkle depth in mm", self.wrinkle_mm, (0.0, DEEPEST_WRINKLE_MM))
        check_text("note", self.note)
        nothing = (None, None, None, "")
        if (self.surface, self.squeeze, self.wrinkle_mm, self.note) == nothing:
            raise InputError("Say what was seen, or that nothing was; nothing was stored.")


def last_look_at(db: Database, batch_number: int, *, until: datetime) -> datetime | None:
    """Return when a batch was last looked at without a scale until a moment, or None."""
    (last_ms,) = db.execute(
        "select max(taken_ms) from look join batch on batch.id = batch_id"
        " where number = ? and struck_ms is null and taken_ms <= ?",
        (batch_number, to_ms(until)),
    ).fetchone()
    return None if last_ms is None else from_ms(last_ms)
