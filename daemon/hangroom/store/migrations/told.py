"""The alarm log: what happened to every alarm, who acted on it, and whether anybody was told."""

from sqlite_utils import Database

from hangroom.store.migrations.steps import MIGRATIONS, run


@MIGRATIONS()
def m072_alarm_log(db: Database) -> None:
    """Create the daemon's log of alarms; `scope`: a room, the service, a batch or a group."""
    run(
        db,
        """create table alarm_event (
            id integer primary key,
            sequence integer not null,
            at_ms integer not null,
            uptime_ms integer not null,
            scope text not null,
            alarm text not null,
            event text not null,
            tell text not null,
            suppression text not null,
            occurrences integer not null,
            by text not null,
            reason text not null,
            figures text not null check (json_valid(figures))
        ) strict""",
        "create index alarm_event_by_scope on alarm_event (scope, id)",
        "create index alarm_event_by_time on alarm_event (at_ms)",
    )
