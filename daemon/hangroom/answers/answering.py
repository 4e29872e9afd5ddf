"""The daemon's answers to what the page asks for: checked against the limits, then kept, then done.

A wish is carried out at the next tick or not at all: one that has waited too long (the daemon was
down) is refused, because nobody expects a relay to move any more. What ends by itself ends here
too, from memory, whether or not the database can be used.
"""

import sqlite3
from collections.abc import Callable, Collection, Mapping, Sequence
from datetime import datetime, timedelta
from pathlib import Path

from sqlite_utils import Database

from hangroom.answers.asked import Applied, Asked, Noted, room_of
from hangroom.answers.calibration import calibration, calibration_forget
from hangroom.answers.kept import put_back, watch_the_unproved
from hangroom.answers.lockouts import lockouts_lift
from hangroom.answers.over import without_what_is_over
from hangroom.answers.override import override, override_end
from hangroom.answers.plan import plan, plan_end, plan_forget, plan_use
from hangroom.answers.proving import relay_proof, relay_try
from hangroom.answers.reminder import reminder_snooze
from hangroom.answers.setpoint import humidity_setpoint, temperature_setpoint
from hangroom.answers.stage import stage
from hangroom.errors import InputError
from hangroom.ports import Journal
from hangroom.store.began import Instant, follow_the_wall_clock
from hangroom.store.database import connect, durably, explained
from hangroom.store.proofs import Wirings
from hangroom.store.requests import Kind, Outcome, Request, answer, open_requests
from hangroom.terms import Command, RoomPlan
from hangroom.units import Units

# How each kind of wish that concerns a room's plan is judged; InputError says why it is refused.
JUDGED_BY: Mapping[str, Callable[[Asked], Applied]] = {
    Kind.HUMIDITY_SETPOINT: humidity_setpoint,
    Kind.TEMPERATURE_SETPOINT: temperature_setpoint,
    Kind.STAGE: stage,
    Kind.OVERRIDE: override,
    Kind.OVERRIDE_END: override_end,
    Kind.LOCKOUTS_LIFT: lockouts_lift,
    Kind.CALIBRATION: calibration,
    Kind.CALIBRATION_FORGET: calibration_forget,
    Kind.PLAN: plan,
    Kind.PLAN_FORGET: plan_forget,
    Kind.PLAN_USE: plan_use,
    Kind.PLAN_END: plan_end,
    Kind.RELAY_TRY: relay_try,
    Kind.RELAY_PROOF: relay_proof,
}

# The kinds that concern no plan but an alarm or an open door.
OF_ALARMS = frozenset(kind for kind in Kind if kind.startswith(("alarm-", "inspection-")))

# Does what one of those asks at a wall time and a monotonic one, and says what became of it.
AlarmActs = Callable[[Request, datetime, float], tuple[Outcome, str]]

# Tells what a room's relays would be told now by another plan.
Foresee = Callable[[RoomPlan], Sequence[Command]]


class Answers:
    """Reads open requests and turns the ones that hold into changed plans.

    `sensors`: each room's, by name. `wirings`: how each room's relays are wired; those that are
    not named are simulated and need no proof. `snooze_at_most`: how long the daily look may be put
    off. Its own connection, with a short patience: a locked
    database must not hold up a tick.
    """

    def __init__(
        self,
        path: Path,
        *,
        journal: Journal,
        boot_id: str,
        sensors: Mapping[str, Collection[str]],
        units: Units,
        alarm_acts: AlarmActs,
        wirings: Wirings | None = None,
        foresee: Foresee = lambda _plan: (),
        snooze_at_most: timedelta = timedelta(hours=12),
    ) -> None:
        self._path = path
        self._db: Database = connect(path)
        self._db.execute("pragma busy_timeout = 200")
        self._journal = journal
        self._boot_id = boot_id
        self._sensors = sensors
        self._units = units
        self._alarm_acts = alarm_acts
        self._wirings = wirings or {}
        self._foresee = foresee
        self._snooze_at_most = snooze_at_most
        self._unkept: list[Callable[[Database], None]] = []
        self._clock_was_set = False

    def kept(
        self, plans: Mapping[str, RoomPlan], now: datetime, uptime_s: float
    ) -> dict[str, RoomPlan]:
        """Return the plans of the settings file with what was asked for later, before a restart.

        What the settings no longer allow is passed over, and the journal says so. Raises
        StoreError where the database cannot be used.
        """
        at = self._at(now, uptime_s)
        with explained(self._path):
            changed, passed_over = put_back(self._db, plans, at, sensors=self._sensors)
            watched, void = watch_the_unproved(self._db, changed, at, wirings=self._wirings)
        for room, noted in (*passed_over, *void):
            self._note(room, noted, at)
        return watched

    def plans_now(
        self, plans: Mapping[str, RoomPlan], now: datetime, uptime_s: float
    ) -> Mapping[str, RoomPlan]:
        """End what is over, answer every open request and return the plans that now hold.

        Where the database cannot be used, the plans stay as they are but for what is over, and
        the page is answered later.
        """
        at = self._at(now, uptime_s)
        changed = {room: self._without_what_is_over(plan, at) for room, plan in plans.items()}
        if self._clock_was_set:
            self._unkept.append(lambda db: follow_the_wall_clock(db, at))
            self._clock_was_set = False
        try:
            self._keep_what_waits()
            for request in open_requests(self._db):
                self._answer(request, changed, at)
        except sqlite3.Error:
            return changed
        return changed

    def clock_jumped(self) -> None:
        """Keep times anew at the next tick, because the wall clock was set."""
        self._clock_was_set = True

    def close(self) -> None:
        """Let go of the file."""
        self._db.close()

    def _at(self, now: datetime, uptime_s: float) -> Instant:
        return Instant(now=now, uptime_s=uptime_s, boot_id=self._boot_id)

    def _without_what_is_over(self, plan: RoomPlan, at: Instant) -> RoomPlan:
        changed, noted, keeps = without_what_is_over(plan, at)
        for event in noted:
            self._note(plan.name, event, at)
        self._unkept += keeps
        return changed

    def _keep_what_waits(self) -> None:
        if self._unkept:
            with durably(self._db):
                for keep in self._unkept:
                    keep(self._db)
            self._unkept.clear()

    def _answer(self, request: Request, plans: dict[str, RoomPlan], at: Instant) -> None:
        try:
            _must_still_be_expected(request, at)
            if request.kind in OF_ALARMS:
                outcome, said = self._alarm_acts(request, at.now, at.uptime_s)
                answer(self._db, request.number, outcome, said, now=at.now)
                return
            if request.kind == Kind.REMINDER_SNOOZE:
                self._snooze(request, at)
                return
            applied = self._judged(request, plans, at)
        except InputError as fault:
            answer(self._db, request.number, Outcome.REFUSED, str(fault), now=at.now)
            return
        with durably(self._db):
            applied.keep(self._db)
            answer(self._db, request.number, Outcome.APPLIED, applied.said, now=at.now)
        plans[request.room] = applied.plan
        self._note(request.room, applied.noted, at, by=request.asked_by)

    def _snooze(self, request: Request, at: Instant) -> None:
        snoozed = reminder_snooze(request, self._db, at, at_most=self._snooze_at_most)
        with durably(self._db):
            snoozed.keep(self._db)
            answer(self._db, request.number, Outcome.APPLIED, snoozed.said, now=at.now)
        self._note("", snoozed.noted, at, by=request.asked_by)

    def _judged(self, request: Request, plans: Mapping[str, RoomPlan], at: Instant) -> Applied:
        judged_by = JUDGED_BY.get(request.kind)
        if judged_by is None:
            raise InputError(f"This controller does not know how to do {request.kind!r}.")
        plan = room_of(plans, request.room)
        return judged_by(
            Asked(
                request=request,
                plan=plan,
                sensors=self._sensors[request.room],
                at=at,
                units=self._units,
                db=self._db,
                wirings=self._wirings.get(request.room, {}),
                foresee=self._foresee,
            )
        )

    def _note(self, room: str, noted: Noted, at: Instant, *, by: str = "") -> None:
        words = {"by": by, **noted.words} if by else noted.words
        self._journal.note_event(
            noted.kind, now=at.now, figures=noted.figures, room=room, words=words
        )


def _must_still_be_expected(request: Request, at: Instant) -> None:
    if at.now >= request.expires_at:
        raise InputError("It waited too long, because the controller was not running. Ask again.")
