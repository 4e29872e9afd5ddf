"""The alarm desk: conditions in, events out, once the relays have been told.

One bank of alarms for each room, one for the service, one for each batch and group that hangs. The
desk looks every ten seconds, and at once where that can turn an alarm at once: when the air is lost
or found, or a plan changes. No alarm on a figure has an on-delay below a minute.

It opens no database. What it notes, and what it must not forget, goes through the journal.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

from hangroom.alarm_desk.acts import INSPECTIONS
from hangroom.alarm_desk.banks import Banks
from hangroom.alarm_desk.bell import BellDesk
from hangroom.alarm_desk.room_watch import LOOK_EVERY_S, RoomWatch, plant_kept_as
from hangroom.alarm_table.log import SERVICE, of_batch, of_group, of_room
from hangroom.alarm_table.row import Scope
from hangroom.alarm_table.table import rows_of
from hangroom.control.alarms.bank import Conditions
from hangroom.control.alarms.batch_conditions import (
    HangingBatch,
    batch_conditions,
    group_conditions,
)
from hangroom.control.alarms.delays import Raw, Side
from hangroom.control.alarms.service_conditions import DiskSpace, service_conditions
from hangroom.control.room import Decision
from hangroom.errors import InputError
from hangroom.ports import Clock, Journal
from hangroom.store.live import LiveAlarm, LiveBell
from hangroom.store.request_body import entry, words
from hangroom.store.requests import Outcome, Request
from hangroom.terms import RoomPlan

# Before the jobs have looked for the first time nobody knows what hangs.
NOT_LOOKED_AT = Conditions(raw={})

# Of a batch or group that no longer hangs nothing is asked.
NOT_HANGING = {
    kind: Conditions(raw=dict.fromkeys(rows_of(kind), Raw(Side.WITHIN)))
    for kind in (Scope.BATCH, Scope.GROUP)
}


class AlarmDesk:
    """Keeps the alarms of every room, of the service and of what hangs.

    `kept`: what an earlier program kept of the alarms, `plants` of each room's plant watch, and
    `sequence` the highest number that stands in the log.
    `off_since`: until when the program before this one lived, None where there was none. `disk`
    tells the room on the disk that the notes lie on, None where it cannot be asked. `bell`: what
    tells of alarms at the rooms, where there is one.
    """

    def __init__(
        self,
        rooms: Iterable[str],
        *,
        clock: Clock,
        journal: Journal,
        kept: Mapping[str, Any] | None = None,
        plants: Mapping[str, Any] | None = None,
        boot_id: str = "",
        sequence: int = 0,
        off_since: datetime | None = None,
        disk: Callable[[], DiskSpace | None] = lambda: None,
        bell: BellDesk | None = None,
    ) -> None:
        uptime_s, now = clock.uptime_s(), clock.now()
        self._journal, self._boot_id = journal, boot_id
        self._banks = Banks(journal, sequence=sequence)
        if kept is not None:
            self._banks.restore(kept, now=now, uptime_s=uptime_s)
        self._rooms = {
            name: RoomWatch.begun(
                name, (plants or {}).get(name), boot_id=boot_id, now=now, uptime_s=uptime_s
            )
            for name in rooms
        }
        for name, room in self._rooms.items():
            if room.forgot:
                words = {"why": room.forgot}
                journal.note_event("memory-forgotten", now=now, figures={}, room=name, words=words)
        for scope in (SERVICE, *(room.scope for room in self._rooms.values())):
            self._banks.open(scope, uptime_s=uptime_s)
        self._service_due_s = uptime_s
        self._restart_gap_s = (
            None if off_since is None else max(0.0, (now - off_since).total_seconds())
        )
        self._bell = bell
        self._disk = disk
        self._disk_space = disk()
        self._flush_failed_s: float | None = None
        self._handed_over: Sequence[HangingBatch] | None = None
        self._taken_over: Sequence[HangingBatch] | None = None
        self._hanging: Mapping[str, Conditions] = {}

    @property
    def flush_is_urgent(self) -> bool:
        """Whether something should be on the disk before the minute is over."""
        return self._banks.urgent

    def after_a_tick(
        self,
        plans: Mapping[str, RoomPlan],
        decisions: Mapping[str, Decision],
        *,
        now: datetime,
        uptime_s: float,
        clock_jump_s: float | None,
    ) -> None:
        """Look where it is due. `clock_jump_s`: how far the wall clock was moved, None for not."""
        for name, decision in decisions.items():
            room, plan = self._rooms[name], plans[name]
            room.show_the_plant_watch(plan, decision, uptime_s=uptime_s)
            if room.is_due(plan, decision, uptime_s=uptime_s):
                if room.newly_asked(plan):
                    self._banks.settle_in(room.scope, uptime_s=uptime_s)
                conditions = room.looked(plan, decision, uptime_s=uptime_s)
                self._banks.look(room.scope, conditions, now=now, uptime_s=uptime_s)
        if uptime_s >= self._service_due_s or clock_jump_s is not None:
            self._service_due_s = uptime_s + LOOK_EVERY_S
            self._look_at_the_service(now, uptime_s, clock_jump_s)
            self._look_at_what_hangs(now, uptime_s)
        if self._bell is not None:
            self._bell.pressed(self._banks.waiting(), self.acted, now=now, uptime_s=uptime_s)
            self._bell.rung(self._banks.waiting(), uptime_s=uptime_s)

    def keep_memory(self, *, now: datetime, uptime_s: float) -> None:
        """Hand over to the journal what the plant watch has learned, where it has changed."""
        for name, room in self._rooms.items():
            changed = room.changed_memory(boot_id=self._boot_id, now=now, uptime_s=uptime_s)
            if changed is not None:
                self._journal.keep(plant_kept_as(name), changed)

    def flushed(self, *, written: bool, uptime_s: float) -> None:
        """Take note of whether what waited could be written, and ask for the disk's free space."""
        self._flush_failed_s = None if written else uptime_s
        self._disk_space = self._disk()
        self._banks.urgent = False

    def hangs(self, batches: Sequence[HangingBatch]) -> None:
        """Take over what hangs; called by the jobs, from a thread of theirs.

        Setting a reference is one step, so the loop's thread sees the old list or the new one.
        """
        self._handed_over = batches

    def acted(self, request: Request, now: datetime, uptime_s: float) -> tuple[Outcome, str]:
        """Do what the page asks of an alarm or of a room's inspection; the loop's thread calls."""
        inspection = INSPECTIONS.get(request.kind)
        try:
            said = self._banks.act(_scope(request), request, now=now, uptime_s=uptime_s)
        except InputError as refused:
            return Outcome.REFUSED, str(refused)
        if inspection:
            self._rooms[request.room].due_s = uptime_s
            by = {"by": request.asked_by}
            self._journal.note_event(inspection, now=now, figures={}, room=request.room, words=by)
        return Outcome.APPLIED, said

    def of_room(self, name: str) -> tuple[LiveAlarm, ...]:
        """Return what the board shows of a room's alarms."""
        return self._banks.of(self._rooms[name].scope)

    def beside_rooms(self) -> tuple[LiveAlarm, ...]:
        """Return what the board shows of the service's alarms and of what hangs."""
        return self._banks.beside_rooms()

    def bell(self) -> LiveBell | None:
        """Return what the board shows of the bell, None where there is none."""
        return None if self._bell is None else self._bell.live()

    def inspection_ends_uptime_s(self, name: str) -> float | None:
        """Return until when a person has announced an open door of a room."""
        return self._banks.inspection_ends_uptime_s(self._rooms[name].scope)

    def _look_at_the_service(
        self, now: datetime, uptime_s: float, clock_jump_s: float | None
    ) -> None:
        if clock_jump_s is not None:
            self._banks.show(now=now, uptime_s=uptime_s)
        failed_s = self._flush_failed_s
        conditions = service_conditions(
            flush_failure_age_s=None if failed_s is None else uptime_s - failed_s,
            disk=self._disk_space,
            clock_jump_s=clock_jump_s,
            restart_gap_s=self._restart_gap_s,
        )
        self._restart_gap_s = None
        self._banks.look(SERVICE, conditions, now=now, uptime_s=uptime_s)

    def _look_at_what_hangs(self, now: datetime, uptime_s: float) -> None:
        if self._handed_over is not self._taken_over:
            self._taken_over = self._handed_over
            self._hanging = _conditions(self._taken_over or ())
            for scope in self._hanging:
                self._banks.open(scope, uptime_s=uptime_s)
        for kind, not_hanging in NOT_HANGING.items():
            otherwise = NOT_LOOKED_AT if self._taken_over is None else not_hanging
            for scope in self._banks.scopes(kind):
                conditions = self._hanging.get(scope, otherwise)
                self._banks.look(scope, conditions, now=now, uptime_s=uptime_s)
                if conditions is not_hanging:
                    self._banks.close_quiet(scope, now=now, uptime_s=uptime_s)


def _scope(request: Request) -> str:
    """Return what the request is about; InputError where it does not say so in words."""
    if request.room or request.kind in INSPECTIONS:
        return of_room(request.room)
    return SERVICE if entry(request.body, "scope") is None else words(request.body, "scope")


def _conditions(batches: Sequence[HangingBatch]) -> dict[str, Conditions]:
    """Return the raw conditions of what hangs, by what the log calls it."""
    conditions = {}
    for batch in batches:
        conditions[of_batch(batch.number)] = batch_conditions(batch)
        for group in batch.groups:
            conditions[of_group(batch.number, group.letter)] = group_conditions(group)
    return conditions
