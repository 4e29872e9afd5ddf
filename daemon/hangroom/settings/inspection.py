"""The settings' table of the daily look: when it is due, when it is asked for again."""

from datetime import time, timedelta
from typing import Annotated, Any, Self

from pydantic import BeforeValidator, Field, model_validator

from hangroom.settings.base import ClockTime, Number, Table

MOST_LOOKS_A_DAY = 6


def _listed(value: Any) -> Any:  # noqa: ANN401 - whatever TOML can hold
    """Take one time for a list of one."""
    return (value,) if isinstance(value, str) else value


ClockTimes = Annotated[
    tuple[ClockTime, ...],
    BeforeValidator(_listed),
    Field(min_length=1, max_length=MOST_LOOKS_A_DAY),
]


class InspectionTable(Table):
    """When the daily look is due, in the site's zone, and how well the scale weighs.

    `ask_again_h`: without entries for so long, it is asked once more that day. `snooze_at_most_h`:
    the longest that the page may put it off. `summary_at`: when the morning's summary is made.
    `scale_sd_g`: standard deviation of one reading, g; a kitchen scale that shows whole grams has
    about 0.5.
    """

    at: ClockTimes = ("08:00",)
    ask_again_h: Annotated[Number, Field(ge=1, le=168)] = 26.0
    snooze_at_most_h: Annotated[Number, Field(ge=1, le=24)] = 12.0
    summary_at: ClockTime = "07:00"
    scale_sd_g: Annotated[Number, Field(ge=0.01, le=10)] = 0.5

    @model_validator(mode="after")
    def _no_time_twice(self) -> Self:
        twice = sorted({clock for clock in self.at if self.at.count(clock) > 1})
        if twice:
            raise ValueError(f"at names {twice[0]} twice; write each time of the look once")
        return self

    def times(self) -> tuple[time, ...]:
        """Return when the look is due on each day, earliest first."""
        return tuple(sorted(time.fromisoformat(clock) for clock in self.at))

    def ask_again_after(self) -> timedelta:
        """Return after how long without entries it is asked again."""
        return timedelta(hours=self.ask_again_h)

    def snooze_at_most(self) -> timedelta:
        """Return how long it may be put off at most."""
        return timedelta(hours=self.snooze_at_most_h)

    def summary_time(self) -> time:
        """Return when the morning's summary is made."""
        return time.fromisoformat(self.summary_at)
