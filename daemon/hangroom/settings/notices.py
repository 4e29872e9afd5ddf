"""What is told away from the page, when, and where its channels stand; their addresses do not.

Addresses are secrets: they stand in a file of their own that only the notices' user may read.
"""

import re
from datetime import time
from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import Field, field_validator, model_validator

from hangroom.settings.base import ClockTime, Table, Whole

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
Weekday = Literal[
    "monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday", "never"
]


class NoticesTable(Table):
    """Notices by mail, push or chat; without `channels_file` none is sent."""

    channels_file: Path | None = None
    quiet_from: ClockTime | None = None
    quiet_until: ClockTime | None = None
    most_per_hour: Annotated[Whole, Field(ge=1, le=60)] = 6
    alive_weekday: Weekday = "sunday"
    alive_at: ClockTime = "12:00"
    page_address: Annotated[str, Field(strict=True)] | None = None
    ping_every_min: Annotated[Whole, Field(ge=1, le=1440)] = 15

    @field_validator("page_address")
    @classmethod
    def _is_an_address(cls, value: str | None) -> str | None:
        if value is not None and not re.fullmatch(r"https?://[^\s/]\S*", value):
            raise ValueError("is no address; write it like 'http://hangroom.local:8080/'")
        return value

    @model_validator(mode="after")
    def _quiet_has_two_ends(self) -> Self:
        if (self.quiet_from is None) != (self.quiet_until is None):
            raise ValueError(
                "quiet hours need quiet_from and quiet_until together; give both, or neither"
            )
        if self.quiet_from is not None and self.quiet_from == self.quiet_until:
            raise ValueError(
                "quiet_from and quiet_until are the same moment, so it is not said which hours"
                " are quiet; move one, or remove both"
            )
        return self

    def quiet_hours(self) -> tuple[time, time] | None:
        """Return from when until when nothing but the urgent is sent, local time."""
        if self.quiet_from is None or self.quiet_until is None:
            return None
        return time.fromisoformat(self.quiet_from), time.fromisoformat(self.quiet_until)

    def alive_due(self) -> tuple[int, time] | None:
        """Return weekday (Monday is 0) and time of 'still running', None for never."""
        if self.alive_weekday == "never":
            return None
        return WEEKDAYS.index(self.alive_weekday), time.fromisoformat(self.alive_at)
