"""How the cooked sticks were kept, over all their rooms, by the Food Code.

A measurement speaks for the hours after it and never for those before: a stick that is dry now was
not always dry.
"""

import itertools
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from hangroom.product.findings import Answer, Finding
from hangroom.product.growth import growth_warnings
from hangroom.product.stays import (
    Measurement,
    Stay,
    StickState,
    in_turn,
    known_at,
    summed,
)
from hangroom.product.storage import (
    COLD_F,
    Measured,
    Packing,
    Warmth,
    judge_food_code,
    judge_warm_hanging,
    judge_warmth,
    warmth,
)
from hangroom.product.temperatures import in_both

# Less than this above 41 degF is a door or a defrost, not a room that the sticks hang in. Our own
# judgement; the hours count all the same.
LEAST_WARM_H = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """Hours of the cooked sticks' stays and moves together, and what is found of them.

    `unmeasured_warm_h`: hours above 41 degF before either water activity or pH was measured.
    `warm_room`: the finding on the warmest room while cold was asked, None where no room was.
    """

    hours: Warmth
    unmeasured_warm_h: float
    findings: tuple[Finding, ...]
    warm_room: Finding | None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Spell:
    """Part of a stay or of a move through which the same was known, and what the table says to it.

    `warmest_c` is that of its readings, None without any.
    """

    hours: Warmth
    known: Measured
    cell: Answer
    warmest_c: float | None = None


def judge_kept(
    stays: Iterable[Stay],
    measurements: Iterable[Measurement] = (),
    packing: Packing = Packing.OPEN,
) -> Kept:
    """Judge the cooked sticks' stays by what was measured by each hour, never by an estimate.

    Raises InputError for stays that overlap or readings out of order.
    """
    turn, taken = in_turn(stays, StickState.COOKED), tuple(measurements)
    spells = tuple(_spells(turn, taken, packing))
    newest = known_at(taken, float("inf"))
    warm_rooms = tuple(_judge_warm_rooms(spells, packing))
    return Kept(
        hours=summed(spell.hours for spell in spells),
        unmeasured_warm_h=sum(spell.hours.warm_h for spell in spells if spell.known == Measured()),
        findings=(
            judge_food_code(newest, packing),
            _judge_hours(spells, packing),
            *warm_rooms,
        ),
        warm_room=warm_rooms[0] if warm_rooms else None,
    )


def _spells(
    turn: Sequence[Stay], measurements: Sequence[Measurement], packing: Packing
) -> Iterator[_Spell]:
    for stay in turn:
        changes = {one.at_s for one in measurements if stay.from_s < one.at_s < stay.to_s}
        for from_s, to_s in itertools.pairwise(sorted({stay.from_s, stay.to_s, *changes})):
            known = known_at(measurements, from_s)
            yield _Spell(
                hours=warmth(stay.points, start_s=from_s, end_s=to_s),
                known=known,
                cell=judge_food_code(known, packing).answer,
                warmest_c=max(
                    (one.temperature_c for one in stay.points if from_s <= one.at_s <= to_s),
                    default=None,
                ),
            )


def _judge_hours(spells: Sequence[_Spell], packing: Packing) -> Finding:
    if not spells:
        nowhere = judge_warmth(Warmth(0.0, float("inf")), Measured(), packing)
        return replace(nowhere, because="No stay of the cooked sticks was recorded.")
    cold_asked = [spell for spell in spells if spell.cell is not Answer.MET]
    free = summed(spell.hours for spell in spells if spell.cell is Answer.MET)
    if not cold_asked:
        # By what was known while they hung: what was measured after it says nothing of it.
        return judge_warmth(free, spells[-1].known, packing)
    # What weighs most: warm although measured to need cold, then warm and not measured.
    weightiest = max(
        cold_asked, key=lambda spell: (spell.hours.warm_h > 0.0, spell.cell is Answer.NOT_MET)
    )
    hours = summed(spell.hours for spell in cold_asked)
    found = judge_warmth(hours, weightiest.known, packing)
    said = [f"All stays together, moves included: {found.because}"]
    if free.warm_h > 0.0:
        said.append(
            f"Besides, {free.warm_h:.1f} h above {in_both(COLD_F)} with measured values that ask"
            " for no temperature control."
        )
    warm_not_shown = hours.warm_h > 0.0 and found.answer is Answer.NOT_SHOWN
    return replace(
        found,
        because=" ".join(said),
        would_settle=(
            f"{found.would_settle} A measurement speaks for the hours after it only."
            if warm_not_shown
            else found.would_settle
        ),
    )


def _judge_warm_rooms(spells: Sequence[_Spell], packing: Packing) -> Iterator[Finding]:
    """What guidance makes of the warmest room that the sticks hung in while cold was asked."""
    warm = [
        (spell.warmest_c, spell)
        for spell in spells
        if spell.warmest_c is not None and spell.cell is not Answer.MET
    ]
    if sum(spell.hours.warm_h for _, spell in warm) < LEAST_WARM_H:
        return
    warmest_c, spell = max(warm, key=lambda one: one[0])
    yield judge_warm_hanging(warmest_c, spell.known, packing)
    if spell.known.ph is not None and spell.known.aw is not None:
        yield from growth_warnings(spell.known.ph, spell.known.aw)
