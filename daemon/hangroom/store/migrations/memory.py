"""What the daemon must not forget over a restart, as it stood when it was last written."""

from sqlite_utils import Database

from hangroom.store.migrations.steps import MIGRATIONS, run


@MIGRATIONS()
def m071_control_memory(db: Database) -> None:
    """Create the daemon's memory: one body per name, the newest one only."""
    run(
        db,
        # With a rowid: a body fits on one page, which is all that a change of it then writes.
        """create table control_memory (
            what text not null primary key,
            run_id integer not null references run(id),
            saved_ms integer not null,
            body text not null check (json_valid(body))
        ) strict""",
    )
