"""A finished batch that the demo's keeper copied from a notebook; invented, and no room was read.

One part was pulled after a day, one after three, both were tasted: so there is something to compare
with, and to become as dry as.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlite_utils import Database

from hangroom.sample.record import ANN, BEN, JUNIPER, MIXED_BEFORE_H, enter_record
from hangroom.store.batch_facts import CasingKind, GroupName, NewGroup, NewStick
from hangroom.store.batches import Group, add_batch, batch
from hangroom.store.hanging import pull_group
from hangroom.store.record.entries import add_entry
from hangroom.store.record.finish import finish_profile
from hangroom.store.weigh_ins import NewWeighIn, add_weigh_ins

HUNG_DAYS_AGO = 21
GREEN_G = (87.2, 88.9, 86.4)
COOKED_RATIO, HUNG_RATIO = 0.9, 0.88


@dataclass(frozen=True, slots=True, kw_only=True)
class NotebookGroup:
    """One part: how it was wanted, a look each day (yield, squeeze, wrinkle), how it tasted."""

    letter: str
    finish: str
    target_yield_pct: float
    looks: tuple[tuple[float, int, float], ...]
    rating: int
    words: str


GROUPS = (
    NotebookGroup(
        letter="A",
        finish="supple",
        target_yield_pct=78.0,
        looks=((0.795, 2, 0.5),),
        rating=4,
        words="bends, holds itself up, moist",
    ),
    NotebookGroup(
        letter="B",
        finish="dry, snaps",
        target_yield_pct=70.0,
        looks=((0.795, 2, 0.5), (0.742, 3, 1.0), (0.704, 4, 2.0)),
        rating=5,
        words="stiff, deep grooves, a snap, stronger taste",
    ),
)


def enter_notebook(db: Database, *, now: datetime) -> None:
    """Enter the whole batch, as of a moment."""
    hung_at = now - timedelta(days=HUNG_DAYS_AGO)
    number = add_batch(
        db,
        name="Pork and venison, juniper, from the notebook",
        started_at=hung_at - timedelta(hours=MIXED_BEFORE_H),
        groups=[
            NewGroup(
                letter=group.letter,
                finish=group.finish,
                target_yield_pct=group.target_yield_pct,
                sticks=14,
                room="closet",
                hung_at=hung_at,
                tagged=_sticks(group.letter),
            )
            for group in GROUPS
        ],
        note="Invented for the demo.",
        sample=True,
        green_weight_g=round(JUNIPER.mixed_g),
        casing=CasingKind.COLLAGEN,
        casing_diameter_mm=19.0,
        by=BEN,
        now=now,
    )
    enter_record(db, number, JUNIPER, hung_at=hung_at)
    numbers = {group.letter: group.number for group in _groups(db, number)}
    for group in GROUPS:
        add_weigh_ins(db, list(_weigh_ins(group, hung_at=hung_at, now=now)))
        pulled_at = hung_at + timedelta(days=len(group.looks))
        pull_group(db, numbers[group.letter], at=pulled_at, now=now, by=BEN)
        profile = finish_profile(
            db,
            GroupName(batch=number, letter=group.letter),
            key=f"notebook {group.letter}",
            tasted_at=pulled_at + timedelta(hours=2),
            by=ANN,
            now=now,
            rating=group.rating,
            words=group.words,
        )
        add_entry(db, number, profile)


def _groups(db: Database, number: int) -> tuple[Group, ...]:
    found = batch(db, number)
    return found.groups if found else ()


def _sticks(letter: str) -> list[NewStick]:
    return [
        NewStick(
            tag=f"3{letter}{place}",
            green_weight_g=green_g,
            cooked_weight_g=round(green_g * COOKED_RATIO, 1),
            hang_weight_g=round(green_g * HUNG_RATIO, 1),
            hang_diameter_mm=19.0,
            length_mm=265.0,
        )
        for place, green_g in enumerate(GREEN_G, start=1)
    ]


def _weigh_ins(group: NotebookGroup, *, hung_at: datetime, now: datetime) -> Iterator[NewWeighIn]:
    for day, (kept_ratio, squeeze, wrinkle_mm) in enumerate(group.looks, start=1):
        for stick in _sticks(group.letter):
            yield NewWeighIn(
                key=f"notebook {stick.tag} {day}",
                tag=stick.tag,
                taken_at=hung_at + timedelta(days=day, hours=-1),
                weight_g=round(stick.green_weight_g * kept_ratio, 1),
                squeeze=squeeze,
                wrinkle_mm=wrinkle_mm,
                surface=frozenset(),
                entered_at=now,
                entered_by=BEN,
            )
