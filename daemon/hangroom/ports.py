"""What the loop needs from the outside world; real and simulated parts both fit these."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any, Protocol

from hangroom.alarm_table.log import AlarmEvent
from hangroom.alarm_table.ringing import Ring
from hangroom.terms import AirReading, Command, RoomPlan


class Clock(Protocol):
    """Two clocks and a way to wait."""

    def now(self) -> datetime:
        """Wall time, aware, UTC: for records only. It may jump."""

    def uptime_s(self) -> float:
        """Monotonic seconds since some fixed moment: for rests, limits and ages."""

    def wait_until(self, uptime_s: float) -> None:
        """Return once `uptime_s` has been reached, or earlier when the process shall end."""


class AirSensor(Protocol):
    """One place where air is measured. Never raises and never holds up the caller."""

    @property
    def name(self) -> str:
        """The keeper's name for it."""

    def latest(self) -> AirReading | None:
        """The newest successful measurement, or None while there has been none.

        The same object is returned until a newer one is there; its age is the caller's to judge.
        """

    def faults(self) -> Mapping[str, int]:
        """How many measurements failed so far, by reason."""

    def close(self) -> None:
        """Let go of the bus or pin. Safe to call twice."""


class Relay(Protocol):
    """One switched load. There is no plain 'on': a closed contact is a loan that runs out."""

    def hold_closed(self, *, until_uptime_s: float) -> None:
        """Close, and stay closed at most until that moment unless the loan is renewed."""

    def open(self) -> None:
        """Open now. Safe to call twice; never raises."""

    def is_closed(self) -> bool:
        """Whether the contact is commanded closed at this moment."""

    def close_down(self) -> None:
        """Open, let go of the pin. Safe to call twice; never raises."""


class Bell(Protocol):
    """Buzzer, lamp and acknowledge button at the rooms. Never raises, never holds up the caller."""

    def ring(self, ring: Ring, *, until_uptime_s: float) -> None:
        """Ring like that, at most until that moment unless it is asked for again."""

    def take_presses(self) -> int:
        """How often the button was pressed since this was last asked."""

    def fault(self) -> str:
        """What is wrong with it, in words, '' for nothing."""

    def close_down(self) -> None:
        """Fall silent and let go of the pins. Safe to call twice."""


class Journal(Protocol):
    """The daemon's notebook. Noting never raises and never waits for a disk."""

    @property
    def unwritten_rows(self) -> int:
        """How many rows wait in memory."""

    def begin_ticks(self, *, start_uptime_s: float, tick_s: float) -> None:
        """Note that ticks come every `tick_s` from then on."""

    def note_missed_ticks(self, *, after_uptime_s: float, next_uptime_s: float) -> None:
        """Note that no tick was made between these two."""

    def note_start(self, room: str, kept: object, *, gap_s: float) -> None:
        """Note the memory a room was started with, and how long ago it was kept."""

    def note_plan(self, room: str, plan: RoomPlan, *, uptime_s: float) -> None:
        """Note the plan that holds from this tick on."""

    def note_reading(
        self, room: str, sensor: str, reading: AirReading, *, seen_uptime_s: float
    ) -> None:
        """Note one measurement, and the tick that first saw it."""

    def note_faults(
        self, room: str, sensor: str, totals: Mapping[str, int], *, now: datetime
    ) -> None:
        """Note how many measurements failed, from running totals by reason."""

    def note_command(self, room: str, command: Command, *, now: datetime, uptime_s: float) -> None:
        """Note a command that has been carried out."""

    def note_event(
        self,
        kind: str,
        *,
        now: datetime,
        figures: Mapping[str, float],
        room: str = "",
        words: Mapping[str, str] | None = None,
    ) -> None:
        """Note something that happened to the program itself, or in a room what a person did."""

    def note_alarm(self, scope: str, event: AlarmEvent) -> None:
        """Note what happened to an alarm of a room, the service, a batch or a group."""

    def keep(self, what: str, body: Mapping[str, Any]) -> None:
        """Have this under that name at the next start; the newest body is written with a flush."""

    def flush(self, *, now: datetime) -> bool:
        """Write what waits, if it can be written now; say whether it was."""
