"""What was asked for before a restart, put back as far as today's settings allow it."""

from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import replace
from functools import partial

from sqlite_utils import Database

from hangroom.answers.asked import Noted, room_of
from hangroom.answers.calibration import with_calibration
from hangroom.answers.override import with_override
from hangroom.answers.setpoint import with_setpoint
from hangroom.control.stages import begun, in_stage, plan_of
from hangroom.errors import InputError
from hangroom.store.began import Instant, count_in_this_boot
from hangroom.store.database import durably
from hangroom.store.overrides import overrides
from hangroom.store.proofs import Wirings, fit_to_wirings, proofs, proved
from hangroom.store.salt_checks import salt_checks
from hangroom.store.setpoints import setpoints
from hangroom.store.stage_runs import keep_stage_run, stage_runs
from hangroom.terms import RoomPlan

# Who begins the stage that a room starts in, where that one has an end.
THE_SETTINGS = "settings"


def put_back(
    db: Database,
    plans: Mapping[str, RoomPlan],
    at: Instant,
    *,
    sensors: Mapping[str, Collection[str]],
) -> tuple[dict[str, RoomPlan], list[tuple[str, Noted]]]:
    """Return the settings' plans with what was asked for later, and what was passed over, by room.

    A stage of the settings that has an end begins now, where none was begun before.
    """
    with durably(db):
        count_in_this_boot(db, at)
    changed, passed_over = dict(plans), list[tuple[str, Noted]]()
    for room, what, put in _kept(db, sensors):
        try:
            changed[room] = put(room_of(changed, room))
        except InputError as fault:
            words = {"room": room, "what": what, "why": str(fault)}
            passed_over.append((room, Noted(kind="kept-passed-over", words=words)))
    return {room: _timed(db, plan, at) for room, plan in changed.items()}, passed_over


def watch_the_unproved(
    db: Database, plans: Mapping[str, RoomPlan], at: Instant, *, wirings: Wirings
) -> tuple[dict[str, RoomPlan], list[tuple[str, Noted]]]:
    """Return the plans in which what is wired but not proved is only watched, and what lost it."""
    with durably(db):
        void = fit_to_wirings(db, wirings, now=at.now)
    known = proved(proofs(db))
    watched = {
        room: replace(
            plan,
            unproved=frozenset(
                relay
                for relay in plan.relays
                if relay in wirings.get(room, {}) and (room, relay) not in known
            ),
        )
        for room, plan in plans.items()
    }
    return watched, [
        (room, Noted(kind="relay-proof-void", words={"relay": relay})) for room, relay in void
    ]


def _kept(
    db: Database, sensors: Mapping[str, Collection[str]]
) -> Iterator[tuple[str, str, Callable[[RoomPlan], RoomPlan]]]:
    """Yield room, what it is and how it is put back, setpoints before the stage they belong to."""
    for (room, stage, what), value in setpoints(db).items():
        yield room, what, partial(with_setpoint, stage=stage, what=what, value=value)
    for room, (stage, run) in stage_runs(db).items():
        yield room, "stage", partial(in_stage, stage=stage, run=run)
    for (room, relay), override in overrides(db).items():
        yield room, "override", partial(with_override, relay=relay, override=override)
    for (room, sensor), checks in salt_checks(db).items():
        there = sensors.get(room, ())
        put = partial(with_calibration, sensor=sensor, checks=checks, sensors=there)
        yield room, "calibration", put


def _timed(db: Database, plan: RoomPlan, at: Instant) -> RoomPlan:
    planned = plan_of(plan, plan.stage)
    if plan.stage_run is not None or planned.for_s is None:
        return plan
    started = begun(
        plan,
        plan.stage,
        for_s=planned.for_s,
        then=planned.then,
        by=THE_SETTINGS,
        batch=None,
        uptime_s=at.uptime_s,
    )
    if isinstance(started, str):
        return plan
    with durably(db):
        keep_stage_run(db, plan=started, at=at)
    return started
