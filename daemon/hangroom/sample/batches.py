"""The invented batches that hang: pork and venison, in two finishes, with what a keeper enters.

Marked as a sample in the store. How fast they dry is for the caller to say.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from random import Random

from sqlite_utils import Database

from hangroom.sample.notebook import enter_notebook
from hangroom.sample.record import (
    ANN,
    BEN,
    COARSE,
    JUNIPER,
    MIXED_BEFORE_H,
    SampleRecord,
    correct_green_weight,
    enter_record,
)
from hangroom.store.batch_facts import CasingKind
from hangroom.store.batches import NewGroup, NewStick, add_batch
from hangroom.store.weigh_ins import NewWeighIn, add_weigh_in

GREEN_G = 88.0
COOKED_RATIO = 0.9  # of green weight, out of the smoker
HUNG_RATIO = 0.88  # of green weight, chilled and dried off
WATER_FRACTION_HUNG = 0.55
DIAMETER_MM = 19.0
LENGTH_MM = 265.0
SCALE_STEP_G = 0.1
MISREAD_G = 18.0  # so that there is something to correct


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleGroup:
    """One invented group."""

    letter: str
    finish: str
    target_yield_pct: float
    sticks: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleBatch:
    """One invented batch: where it hangs, and for how long by now."""

    room: str
    name: str
    hung_for: timedelta
    record: SampleRecord
    groups: tuple[SampleGroup, ...]

    @property
    def sticks(self) -> int:
        """All sticks of all groups."""
        return sum(group.sticks for group in self.groups)


BATCHES = (
    SampleBatch(
        room="fridge",
        name="Pork and venison, coarse",
        hung_for=timedelta(hours=62),
        record=COARSE,
        groups=(SampleGroup(letter="A", finish="supple, slowly", target_yield_pct=78, sticks=16),),
    ),
    SampleBatch(
        room="closet",
        name="Pork and venison, juniper and mustard seed",
        hung_for=timedelta(hours=38),
        record=JUNIPER,
        groups=(
            SampleGroup(letter="A", finish="supple", target_yield_pct=76, sticks=14),
            SampleGroup(letter="B", finish="dry, snaps", target_yield_pct=62, sticks=14),
        ),
    ),
)
TAGGED_PER_GROUP = 3


def hang_batch(db: Database, number: int, *, hung_at: datetime, random: Random) -> dict[str, float]:
    """Enter a batch with its whole record and hang it.

    Return by tag how much faster than the batch each tagged stick dries, 1 for as fast. With the
    last batch comes the finished one out of a notebook.
    """
    batch = BATCHES[number]
    shares, groups = {}, []
    for group in batch.groups:
        tagged = []
        for place in range(1, TAGGED_PER_GROUP + 1):
            tag = f"{number + 1}{group.letter}{place}"
            shares[tag] = random.gauss(1.0, 0.06)
            green_g = _scale_shows_g(random.gauss(GREEN_G, 2.5))
            tagged.append(
                NewStick(
                    tag=tag,
                    green_weight_g=green_g,
                    cooked_weight_g=_scale_shows_g(green_g * COOKED_RATIO),
                    hang_weight_g=_scale_shows_g(green_g * HUNG_RATIO),
                    hang_diameter_mm=round(random.gauss(DIAMETER_MM, 0.3), 1),
                    length_mm=round(random.gauss(LENGTH_MM, 6.0)),
                )
            )
        groups.append(
            NewGroup(
                letter=group.letter,
                finish=group.finish,
                target_yield_pct=group.target_yield_pct,
                sticks=group.sticks,
                tagged=tagged,
                room=batch.room,
                hung_at=hung_at,
            )
        )
    key = f"sample batch {number + 1}"
    green_g = round(batch.record.mixed_g)
    add_batch(
        db,
        name=batch.name,
        started_at=hung_at - timedelta(hours=MIXED_BEFORE_H),
        groups=groups,
        note="Invented for the demo.",
        sample=True,
        green_weight_g=green_g - MISREAD_G,
        casing=CasingKind.COLLAGEN,
        casing_diameter_mm=DIAMETER_MM,
        key=key,
        by=ANN,
        now=hung_at,
    )
    correct_green_weight(db, key, green_g, at=hung_at)
    enter_record(db, number + 1, batch.record, hung_at=hung_at)
    if batch is BATCHES[-1]:
        enter_notebook(db, now=hung_at)
    return shares


def weigh_batch(
    db: Database,
    number: int,
    *,
    loss_ratio: float,
    shares: Mapping[str, float],
    looked_at: datetime,
) -> None:
    """Enter a look at a batch's tagged sticks; `loss_ratio`: what is lost of its hung weight."""
    rows = db.execute(
        "select tag, hang_weight_g, hang_diameter_mm from stick"
        " join stick_group on stick_group.id = group_id join batch on batch.id = batch_id"
        " where number = ?",
        (number + 1,),
    ).fetchall()
    for tag, hang_g, hang_mm in rows:
        lost_ratio = loss_ratio * shares[tag]
        add_weigh_in(
            db,
            NewWeighIn(
                key=f"sample {tag} {looked_at.date()}",
                tag=tag,
                taken_at=looked_at,
                weight_g=_scale_shows_g(hang_g * (1 - lost_ratio)),
                squeeze=min(5, 1 + round(lost_ratio * 12)),
                wrinkle_mm=round(lost_ratio * 8) / 2,
                surface=frozenset(),
                entered_by=BEN,
                # Lost water is lost volume; the length hardly changes.
                diameter_mm=round(hang_mm * (1 - 1.06 * lost_ratio) ** 0.5, 1),
            ),
        )


def _scale_shows_g(weight_g: float) -> float:
    return round(round(weight_g / SCALE_STEP_G) * SCALE_STEP_G, 1)
