"""What was done to a batch before it hung: casing dried, smoked, cooked, finished, chilled.

Owns the table step. Hanging, moving and pulling are stays in rooms: `hangroom.store.hanging`.
"""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import ClassVar

from hangroom.errors import InputError
from hangroom.store.checks import (
    check_aware,
    check_moment,
    check_number,
    check_span,
    check_text,
)
from hangroom.store.hanging import LONGEST_ROOM
from hangroom.store.record.entries import Entry

# No smoker runs hotter, no bath is colder.
SET_TEMPERATURE_C = (-30.0, 250.0)


class StepKind(StrEnum):
    """What was done."""

    CASING_DRY = "casing-dry"
    SMOKE = "smoke"
    COOK = "cook"
    FINISH = "finish"
    CHILL = "chill"


@dataclass(frozen=True, slots=True, kw_only=True)
class Step(Entry):
    """One step with its air (or bath) as set, degC and %RH where known; `to_at` None: it lasts.

    `room` names one of the settings' rooms where it was done in one, such as raw sticks drying
    their casings in the closet. `group` None: the whole batch. Raises InputError for what cannot
    be.
    """

    TABLE: ClassVar[str] = "step"
    ORDER: ClassVar[str] = "from_ms"

    kind: StepKind
    from_at: datetime
    to_at: datetime | None = None
    group: str | None = None
    set_temperature_c: float | None = None
    wet_bulb_c: float | None = None
    humidity_pct: float | None = None
    room: str | None = None
    note: str = ""

    def __post_init__(self) -> None:
        Entry.__post_init__(self)
        check_moment(f"start of the {self.kind} step", self.from_at, entered_at=self.entered_at)
        if self.to_at is not None:
            # Entered when it began, a step ends later; whoever notes the end looks at the clock.
            check_aware(f"end of the {self.kind} step", self.to_at)
        check_span(f"{self.kind} step", self.from_at, self.to_at)
        for what, value, bounds in (
            ("set temperature in degC", self.set_temperature_c, SET_TEMPERATURE_C),
            ("wet bulb in degC", self.wet_bulb_c, SET_TEMPERATURE_C),
            ("humidity in %", self.humidity_pct, (0.0, 100.0)),
        ):
            if value is not None:
                check_number(what, value, bounds)
        wet_c, air_c = self.wet_bulb_c, self.set_temperature_c
        if wet_c is not None and air_c is not None and wet_c > air_c:
            raise InputError(
                f"A wet bulb of {wet_c:g} degC is above the air's {air_c:g} degC, which cannot be."
                " Check both; nothing was stored."
            )
        if self.room is not None:
            check_text("room", self.room, needed=True, longest=LONGEST_ROOM)
        check_text("note", self.note)
