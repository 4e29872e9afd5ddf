"""What control went by, so that its decisions can be made again: ticks, plans, first states."""

from sqlite_utils import Database

from hangroom.store.migrations.steps import MIGRATIONS, run


@MIGRATIONS()
def m060_what_control_went_by(db: Database) -> None:
    """Let each reading and command tell its run and tick; keep plans and first states."""
    run(
        db,
        # The tick that first saw the reading; a reading is seen a little after it was taken.
        "alter table reading add column run_id integer references run(id)",
        "alter table reading add column seen_ms integer",
        "alter table command add column run_id integer references run(id)",
        # Ticks lie on a grid of `tick_ms` from `start_uptime_ms`; missed ones stand in `missed`.
        "alter table run add column start_uptime_ms integer",
        "alter table run add column tick_ms integer",
        """create table missed_ticks (
            id integer primary key,
            run_id integer not null references run(id),
            after_uptime_ms integer not null,
            next_uptime_ms integer not null
        ) strict""",
        "create index missed_ticks_by_run on missed_ticks (run_id)",
        # The plan that holds from this tick on.
        """create table room_plan (
            id integer primary key,
            run_id integer not null references run(id),
            room_id integer not null references room(id),
            uptime_ms integer not null,
            plan text not null check (json_valid(plan))
        ) strict""",
        "create index room_plan_by_run on room_plan (run_id, room_id)",
        # What a room was started with: the memory kept from before, and how long nothing ran.
        """create table room_start (
            id integer primary key,
            run_id integer not null references run(id),
            room_id integer not null references room(id),
            gap_ms integer,
            memory text check (json_valid(memory))
        ) strict""",
        "create index room_start_by_run on room_start (run_id, room_id)",
    )
