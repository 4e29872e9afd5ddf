"""A journal that keeps counts instead of rows, and whose disk can be full."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from hangroom.alarm_table.log import AlarmEvent
from hangroom.ports import Clock
from hangroom.terms import AirReading, Command, RoomPlan


@dataclass(frozen=True, slots=True, kw_only=True)
class NotedEvent:
    """Something that happened to the program or in a room, and when in monotonic seconds."""

    kind: str
    uptime_s: float
    figures: Mapping[str, float]
    room: str = ""
    words: Mapping[str, str] = field(default_factory=dict)


class Notebook:
    """Fits `ports.Journal`. While `disk_full` nothing is written and rows pile up.

    `kept`, `written_at`: what stands on the disk, and when it was last written.
    """

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self.disk_full = False
        self.written_rows = 0
        self.most_unwritten_rows = 0
        self.events: list[NotedEvent] = []
        self.alarms: list[tuple[str, AlarmEvent]] = []
        self.kept: dict[str, Mapping[str, Any]] = {}
        self.written_at: datetime | None = None
        self._unwritten_rows = 0
        self._unwritten_bodies: dict[str, Mapping[str, Any]] = {}

    @property
    def unwritten_rows(self) -> int:
        """How many rows wait in memory."""
        return self._unwritten_rows

    def begin_ticks(self, *, start_uptime_s: float, tick_s: float) -> None:
        """Nobody makes decisions again from counts."""

    def note_missed_ticks(self, *, after_uptime_s: float, next_uptime_s: float) -> None:  # noqa: ARG002  # the port's
        """Count one row."""
        self._unwritten_rows += 1

    def note_start(self, room: str, kept: object, *, gap_s: float) -> None:  # noqa: ARG002  # the port's
        """Count one start."""
        self._unwritten_rows += 1

    def note_plan(self, room: str, plan: RoomPlan, *, uptime_s: float) -> None:  # noqa: ARG002  # the port's
        """Count one plan."""
        self._unwritten_rows += 1

    def note_reading(
        self,
        room: str,  # noqa: ARG002  # the port's
        sensor: str,  # noqa: ARG002  # the port's
        reading: AirReading,  # noqa: ARG002  # the port's
        *,
        seen_uptime_s: float,  # noqa: ARG002  # the port's
    ) -> None:
        """Count one measurement."""
        self._unwritten_rows += 1

    def note_faults(
        self, room: str, sensor: str, totals: Mapping[str, int], *, now: datetime
    ) -> None:
        """Failed measurements are not kept."""

    def note_command(self, room: str, command: Command, *, now: datetime, uptime_s: float) -> None:  # noqa: ARG002  # the port's
        """Count one command."""
        self._unwritten_rows += 1

    def note_event(
        self,
        kind: str,
        *,
        now: datetime,  # noqa: ARG002  # the port's
        figures: Mapping[str, float],
        room: str = "",
        words: Mapping[str, str] | None = None,
    ) -> None:
        """Keep what happened."""
        self._unwritten_rows += 1
        self.events.append(
            NotedEvent(
                kind=kind,
                uptime_s=self._clock.uptime_s(),
                figures=dict(figures),
                room=room,
                words=dict(words or {}),
            )
        )

    def note_alarm(self, scope: str, event: AlarmEvent) -> None:
        """Keep what happened to an alarm."""
        self._unwritten_rows += 1
        self.alarms.append((scope, event))

    def keep(self, what: str, body: Mapping[str, Any]) -> None:
        """Keep a body for the next start, once there is a flush."""
        self._unwritten_bodies[what] = body

    def flush(self, *, now: datetime) -> bool:
        """Write what waits, unless the disk is full."""
        self.most_unwritten_rows = max(self.most_unwritten_rows, self._unwritten_rows)
        if self.disk_full:
            return False
        self.written_rows += self._unwritten_rows
        self._unwritten_rows = 0
        self.kept |= self._unwritten_bodies
        self._unwritten_bodies.clear()
        self.written_at = now
        return True

    def lose_unwritten(self) -> None:
        """Forget what waits in memory, as a power cut does."""
        self._unwritten_bodies.clear()
        self._unwritten_rows = 0
