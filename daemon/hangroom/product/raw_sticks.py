"""How long raw sticks hung warm before they were cooked, as while their casings dried."""

from collections.abc import Iterable

from hangroom.product.findings import Answer, Finding, Source, Standing
from hangroom.product.stays import Stay, StickState, in_turn, summed
from hangroom.product.storage import warmth
from hangroom.product.temperatures import in_both

TWO_HOURS = Source(
    "USDA's two-hour rule, one hour above 90 °F; danger zone from 40 °F in Nummer & Andress 2002"
    " (National Center for Home Food Preservation), 6.1.3",
    Standing.SEEN,
)
WARM_ABOVE_F, WARM_MOST_H = 40, 2.0
HOT_ABOVE_F, HOT_MOST_H = 90, 1.0


def judge_raw(stays: Iterable[Stay]) -> Finding:
    """Judge the raw sticks' warm hours, all stays and moves together; what is unknown may be hot.

    Raises InputError for stays that overlap or readings out of order.
    """
    turn = in_turn(stays, StickState.RAW)
    what = (
        f"raw sticks at most {WARM_MOST_H:g} h above {in_both(WARM_ABOVE_F)},"
        f" {HOT_MOST_H:g} h above {in_both(HOT_ABOVE_F)}"
    )
    settle = "When the raw sticks hung where, and the air there until they went into the smoker."
    if not turn:
        return Finding(
            answer=Answer.NOT_SHOWN,
            what=what,
            because="No stay of the raw sticks was recorded.",
            source=TWO_HOURS,
            would_settle=settle,
        )
    warm, hot = (
        summed(
            warmth(stay.points, start_s=stay.from_s, end_s=stay.to_s, above_f=above_f)
            for stay in turn
        )
        for above_f in (WARM_ABOVE_F, HOT_ABOVE_F)
    )
    if warm.warm_h > WARM_MOST_H or hot.warm_h > HOT_MOST_H:
        answer = Answer.NOT_MET
    elif warm.warm_h + warm.unknown_h > WARM_MOST_H or hot.warm_h + hot.unknown_h > HOT_MOST_H:
        answer = Answer.NOT_SHOWN
    else:
        answer = Answer.MET
    return Finding(
        answer=answer,
        what=what,
        because=(
            f"{warm.warm_h:.1f} h above {in_both(WARM_ABOVE_F)}, of them {hot.warm_h:.1f} h above"
            f" {in_both(HOT_ABOVE_F)}; {warm.unknown_h:.1f} h without readings. S. aureus can grow"
            " on raw sticks and leave a toxin that cooking does not destroy."
        ),
        source=TWO_HOURS,
        would_settle=settle if answer is Answer.NOT_SHOWN else "",
    )
