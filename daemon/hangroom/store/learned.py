"""What batches taught about rooms and recipes. Owns the table learned; the daemon writes it."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from math import exp, log

from sqlite_utils import Database

from hangroom.product.forecast import Belief, Beliefs
from hangroom.product.learning import Kind
from hangroom.store.moments import from_ms, to_ms


@dataclass(frozen=True, slots=True, kw_only=True)
class Learned:
    """What is believed of a room or a recipe by now, from how many batches, and since when."""

    kind: Kind
    name: str
    beliefs: Beliefs
    batches: int
    updated_at: datetime


def learned(db: Database) -> dict[tuple[Kind, str], Learned]:
    """Return everything that was learned by kind and name."""
    rows = db.execute(
        "select kind, name, transfer_ln_mean, transfer_ln_sd, diffusivity_ln_mean,"
        " diffusivity_ln_sd, batches, updated_ms from learned"
    )
    return {
        (Kind(kind), name): Learned(
            kind=Kind(kind),
            name=name,
            beliefs=Beliefs(
                transfer_kg_per_m2_s_pa=Belief(median=exp(figures[0]), ln_sd=figures[1]),
                diffusivity_m2_per_s=Belief(median=exp(figures[2]), ln_sd=figures[3]),
            ),
            batches=batches,
            updated_at=from_ms(updated_ms),
        )
        for kind, name, *figures, batches, updated_ms in rows
    }


def keep_learned(db: Database, everything: Iterable[Learned]) -> None:
    """Store what was learned in place of all that was learned before."""
    with db.atomic():
        db.execute("delete from learned")
        for one in everything:
            transfer = one.beliefs.transfer_kg_per_m2_s_pa
            diffusivity = one.beliefs.diffusivity_m2_per_s
            db.execute(
                "insert into learned values (?, ?, ?, ?, ?, ?, ?, ?)",
                (
                    str(one.kind),
                    one.name,
                    log(transfer.median),
                    transfer.ln_sd,
                    log(diffusivity.median),
                    diffusivity.ln_sd,
                    one.batches,
                    to_ms(one.updated_at),
                ),
            )
