"""The stage each room is in, since when and for how long: the daemon's table.

Everything here is done in the caller's transaction.
"""

from sqlite_utils import Database

from hangroom.store.began import Instant, began_columns
from hangroom.terms import RoomPlan, Stage, StageRun


def keep_stage_run(db: Database, *, plan: RoomPlan, at: Instant) -> None:
    """Store the stage that a room has begun; one that is merely set in the file is not stored."""
    run = plan.stage_run
    if run is None:
        return
    ends_s = run.ends_uptime_s
    db.execute(
        "insert or replace into stage_run values (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            plan.name,
            str(plan.stage),
            *began_columns(run.since_uptime_s, at),
            None if ends_s is None else round(1000 * (ends_s - run.since_uptime_s)),
            None if run.then is None else str(run.then),
            run.by,
            run.batch,
        ),
    )


def stage_runs(db: Database) -> dict[str, tuple[Stage, StageRun]]:
    """Return the stored stage of every room that has one, in seconds of this boot."""
    rows = db.execute(
        "select room, stage, since_uptime_ms, since_uptime_ms + lasts_ms, then_stage, begun_by,"
        " batch from stage_run"
    )
    return {
        room: (
            Stage(stage),
            StageRun(
                since_uptime_s=since_ms / 1000,
                ends_uptime_s=None if ends_ms is None else ends_ms / 1000,
                then=None if then is None else Stage(then),
                by=by,
                batch=batch,
            ),
        )
        for room, stage, since_ms, ends_ms, then, by, batch in rows
    }
