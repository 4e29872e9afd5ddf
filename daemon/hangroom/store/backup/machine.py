"""What a backup must not bring back, because it is of this machine or of this moment.

The records of the past come from the backup. Which relay was proved by hand is true of the wires
that are here; a relay switched by hand for an hour is over; who was shut out stays out.
"""

import sqlite3
from contextlib import suppress
from datetime import datetime
from pathlib import Path

from sqlite_utils import Database

from hangroom.store.backup.copying import opened_to_look
from hangroom.store.database import durably
from hangroom.store.moments import to_ms

REVOCABLE = ("api_token", "calendar_address")
BY = "restored backup"


def keep_of_this_machine(restored: Database, present: Path, *, now: datetime) -> None:
    """Take out of a restored database what is not of this machine; put in what is.

    Relay proofs and the controller's memory (latched alarms, lockouts, starts of the last hour) are
    those of the database `present`. Without one that can be read, no relay is proved: they are only
    watched until somebody proves them. Tokens and addresses that `present` has revoked stay so.
    """
    with durably(restored):
        restored.execute("delete from override")
        restored.execute("delete from relay_proof")
        # Asked for, and never answered: nobody expects it any more.
        restored.execute(
            "update request set answered_ms = ?, outcome = 'refused', answer ="
            " 'A backup was restored since. Ask again.' where answered_ms is null",
            (to_ms(now),),
        )
        # On its way at that time: it arrived since, or is of a day that is long over.
        restored.execute("update delivery set dropped = 1 where message_id is null")
        restored.execute(
            "update notice_message set state = 'given-up', why = 'A backup was restored since.'"
            " where state in ('sending', 'waiting')"
        )
    if not present.is_file():
        return
    # One that is damaged or of another shape tells nothing, and then nothing is known.
    with suppress(sqlite3.Error), opened_to_look(present) as here:
        proofs = here.execute("select * from relay_proof").fetchall()
        memory = here.execute("select what, saved_ms, body from control_memory").fetchall()
        revoked = {
            table: here.execute(
                f"select key, revoked_ms, revoked_by from {table}"  # noqa: S608 - named above
                " where revoked_ms is not null"
            ).fetchall()
            for table in REVOCABLE
        }
        with durably(restored):
            _put(restored, proofs, memory)
            for table, keys in revoked.items():
                for key, revoked_ms, by in keys:
                    restored.execute(
                        f"update {table} set revoked_ms = ?, revoked_by = ?"  # noqa: S608 - named above
                        " where key = ? and revoked_ms is null",
                        (revoked_ms, by or BY, key),
                    )


def _put(
    restored: Database, proofs: list[tuple[object, ...]], memory: list[tuple[object, ...]]
) -> None:
    for row in proofs:
        restored.execute(f"insert into relay_proof values ({', '.join('?' * len(row))})", row)  # noqa: S608 - marks only
    (run,) = restored.execute("select max(id) from run").fetchone()
    if run is None:
        return  # a memory points at the run of the daemon that wrote it, and here none ever ran
    restored.execute("delete from control_memory")
    for row in memory:
        restored.execute(
            "insert into control_memory (what, saved_ms, body, run_id) values (?, ?, ?, ?)",
            (*row, run),
        )
