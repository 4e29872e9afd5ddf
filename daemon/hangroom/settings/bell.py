"""The bell at the rooms: buzzer, lamp and button."""

from typing import Annotated, Self

from pydantic import Field, model_validator

from hangroom.alarm_table.row import Priority
from hangroom.settings.base import Table, Whole
from hangroom.terms import Wiring


class SounderTable(Table):
    """A buzzer or a lamp: its BCM pin, and whether a high level of it switches it on."""

    pin: Whole
    active_high: Annotated[bool, Field(strict=True)] = True

    def wiring(self) -> Wiring:
        """Return how it is wired."""
        return Wiring(pin=self.pin, active_high=self.active_high)


class ButtonTable(Table):
    """A button that connects its BCM pin to ground."""

    pin: Whole


class BellTable(Table):
    """What tells of alarms at the rooms; `least`: the lowest priority that it tells of."""

    buzzer: SounderTable | None = None
    lamp: SounderTable | None = None
    button: ButtonTable | None = None
    least: Priority = Priority.HIGH

    @model_validator(mode="after")
    def _can_be_noticed(self) -> Self:
        if self.buzzer is None and self.lamp is None:
            raise ValueError(
                "has neither a buzzer nor a lamp, so nobody could know what its button "
                "acknowledges; give it one, or remove the table"
            )
        if self.least is not Priority.HIGH and self.lamp is None:
            raise ValueError(
                f"least = '{self.least}' needs a lamp, because only alarms of high priority are "
                "heard; give [bell.lamp], or leave least out"
            )
        return self
