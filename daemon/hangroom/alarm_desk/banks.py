"""Every bank of alarms by what it is about: evaluated, acted on, noted, shown and kept."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from hangroom.alarm_desk.acts import acted_on
from hangroom.alarm_desk.live import live_alarms
from hangroom.alarm_table.log import AlarmEvent, kind_of
from hangroom.alarm_table.row import Scope
from hangroom.alarm_table.table import TABLE, rows_of
from hangroom.alarm_table.words import Condition, Suppression
from hangroom.control.alarms.annunciation import Waiting
from hangroom.control.alarms.bank import Bank, Conditions, evaluate, new_bank, settling_in
from hangroom.control.alarms.snapshot import restore, snapshot
from hangroom.control.alarms.states import ANNUNCIATING
from hangroom.errors import InputError, StoreError
from hangroom.ports import Journal
from hangroom.store.live import LiveAlarm
from hangroom.store.requests import Request

# Under this name the journal keeps what a restart must not forget.
KEPT_AS = "alarms"


class Banks:
    """The banks, the one numbering of their events, and what the board shows of them.

    `sequence`: the highest number that an event was ever given. `urgent`: whether a
    person acted or was told of something, which should be on the disk before the minute is over.
    """

    def __init__(self, journal: Journal, *, sequence: int) -> None:
        self._journal = journal
        self._sequence = sequence
        self._banks: dict[str, Bank] = {}
        self._live: dict[str, tuple[LiveAlarm, ...]] = {}
        self._beside_rooms: tuple[LiveAlarm, ...] = ()
        self.urgent = False

    def restore(self, kept: Mapping[str, Any], *, now: datetime, uptime_s: float) -> None:
        """Open the banks that an earlier program kept, with all that was acknowledged and shelved.

        What cannot be understood begins anew, and that is noted.
        """
        match kept:
            case {"sequence": int(sequence), "scopes": dict(scopes)}:
                self._sequence = max(self._sequence, sequence)
            case _:
                scopes = {"": kept}
        for scope, body in scopes.items():
            try:
                rows = rows_of(kind_of(scope))
                self._banks[scope] = restore(body, rows, uptime_s=uptime_s, now=now)
            except (StoreError, ValueError) as fault:
                words = {"scope": scope, "why": str(fault)}
                self._journal.note_event("alarms-forgotten", now=now, figures={}, words=words)
        self.show(now=now, uptime_s=uptime_s)

    def open(self, scope: str, *, uptime_s: float) -> None:
        """Make sure that there is such a bank.

        A room that was never watched before is given time to come to what is asked of it.
        """
        if scope not in self._banks:
            bank = new_bank(rows_of(kind_of(scope)), uptime_s=uptime_s)
            is_room = kind_of(scope) is Scope.ROOM
            self._banks[scope] = settling_in(bank, uptime_s=uptime_s) if is_room else bank

    def close_quiet(self, scope: str, *, now: datetime, uptime_s: float) -> None:
        """Let go of a bank, unless it still has something to tell."""
        if not self._live.get(scope):
            self._live.pop(scope, None)
            del self._banks[scope]
            self._keep(now=now, uptime_s=uptime_s)

    def scopes(self, *kinds: Scope) -> list[str]:
        """Return what there are banks of these kinds for."""
        return [scope for scope in self._banks if kind_of(scope) in kinds]

    def settle_in(self, scope: str, *, uptime_s: float) -> None:
        """Give a room time to come to what is newly asked of it."""
        self._banks[scope] = settling_in(self._banks[scope], uptime_s=uptime_s)

    def inspection_ends_uptime_s(self, scope: str) -> float | None:
        """Return until when a person has announced an open door."""
        return self._banks[scope].inspection_ends_uptime_s

    def look(self, scope: str, conditions: Conditions, *, now: datetime, uptime_s: float) -> None:
        """Evaluate a bank, and note what happened."""
        bank, events = evaluate(
            self._banks[scope], conditions, uptime_s=uptime_s, now=now, sequence=self._sequence
        )
        self._replace(scope, bank, events, now=now, uptime_s=uptime_s)

    def act(self, scope: str, request: Request, *, now: datetime, uptime_s: float) -> str:
        """Do what a person asked, note it and return the answer; InputError where refused."""
        if scope not in self._banks:
            raise InputError(f"There are no alarms of {scope!r}. Reload the page and choose again.")
        bank, events, said = acted_on(
            self._banks[scope], request, uptime_s=uptime_s, now=now, sequence=self._sequence
        )
        self._replace(scope, bank, events, now=now, uptime_s=uptime_s)
        return said

    def of(self, scope: str) -> tuple[LiveAlarm, ...]:
        """Return what the board shows of a bank."""
        return self._live.get(scope, ())

    def beside_rooms(self) -> tuple[LiveAlarm, ...]:
        """Return what the board shows of all banks but those of rooms."""
        return self._beside_rooms

    def waiting(self) -> tuple[Waiting, ...]:
        """Return the alarms that nobody has acknowledged and nothing suppresses."""
        return tuple(
            Waiting(
                scope=scope,
                alarm=alarm.alarm,
                priority=TABLE[alarm.alarm].priority,
                active=alarm.condition is Condition.ACTIVE,
            )
            for scope, alarms in self._live.items()
            for alarm in alarms
            if not alarm.acknowledged and alarm.suppression is Suppression.NONE
        )

    def show(self, *, now: datetime, uptime_s: float) -> None:
        """Say anew what the board shows of every bank; after a jump its times are others."""
        for scope in self._banks:
            self._show(scope, now=now, uptime_s=uptime_s)

    def _replace(
        self,
        scope: str,
        bank: Bank,
        events: tuple[AlarmEvent, ...],
        *,
        now: datetime,
        uptime_s: float,
    ) -> None:
        self._banks[scope] = bank
        if not events:
            return
        for event in events:
            self._journal.note_alarm(scope, event)
        self._sequence = events[-1].sequence
        self._show(scope, now=now, uptime_s=uptime_s)
        self._keep(now=now, uptime_s=uptime_s)
        self.urgent |= any(event.by or event.tell in ANNUNCIATING for event in events)

    def _show(self, scope: str, *, now: datetime, uptime_s: float) -> None:
        self._live[scope] = live_alarms(scope, self._banks[scope], now=now, uptime_s=uptime_s)
        self._beside_rooms = tuple(
            alarm
            for other, alarms in self._live.items()
            if kind_of(other) is not Scope.ROOM
            for alarm in alarms
        )

    def _keep(self, *, now: datetime, uptime_s: float) -> None:
        body = {
            "sequence": self._sequence,
            "scopes": {
                scope: snapshot(bank, uptime_s=uptime_s, now=now)
                for scope, bank in self._banks.items()
            },
        }
        self._journal.keep(KEPT_AS, body)
