"""Which relays a person has seen switch what they should, and how they were wired then."""

from sqlite_utils import Database

from hangroom.store.migrations.steps import MIGRATIONS, run


@MIGRATIONS()
def m180_relay_proofs(db: Database) -> None:
    """Create the daemon's record of trials and what a person saw; earlier running counts as proof.

    A house that runs must not stop by an update, so each relay that was ever closed here counts as
    proved, as it is wired when the daemon next starts: no wiring was kept before.
    """
    run(
        db,
        """create table relay_proof (
            id integer primary key,
            room text not null,
            relay text not null,
            pin integer,
            active_high integer check (active_high in (0, 1)),
            tried_ms integer not null,
            tried_by text not null,
            lasts_ms integer not null,
            seen integer check (seen in (0, 1)),
            answered_ms integer,
            answered_by text,
            void_ms integer
        ) strict""",
        "create index relay_proof_by_relay on relay_proof (room, relay, id)",
        "insert into relay_proof"
        " (room, relay, tried_ms, tried_by, lasts_ms, seen, answered_ms, answered_by)"
        " select room.name, relay, max(given_ms), 'earlier running', 0, 1, max(given_ms),"
        " 'earlier running' from command join room on room.id = room_id"
        " where closed = 1 group by room.name, relay",
    )
