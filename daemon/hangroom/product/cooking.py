"""The cook against published figures: the hold at the coldest point, humidity, the way up."""

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from hangroom.product.findings import Answer, Finding, Source, Standing
from hangroom.product.holds import SALMONELLA_6_5_LOG, SALMONELLA_7_0_LOG, TRICHINAE, HoldTable
from hangroom.product.inputs import require_within
from hangroom.product.temperatures import Point, fahrenheit, holds_at, in_both, in_order

# Our own judgement: a thin stick can warm or cool by several degrees between readings further
# apart than this, so two hot readings do not show that it stayed hot between them.
LONGEST_GAP_S = 600.0

# The table's low end was not reproduced at 54.4 degC but was at 60.0 degC: McMinn et al. 2018,
# Meat and Muscle Biology (abstract).
DOUBTED_BELOW_F = 140


def _duration(lasted_s: float) -> str:
    """To the second, as the tables print it: 67 s is '1 min 7 s', not 'about a minute'."""
    minutes, seconds = divmod(round(lasted_s), 60)
    hours, minutes = divmod(minutes, 60)
    parts = [f"{n} {unit}" for n, unit in ((hours, "h"), (minutes, "min"), (seconds, "s")) if n]
    return " ".join(parts) or "0 s"


def judge_hold(
    points: Iterable[Point], table: HoldTable, *, longest_gap_s: float = LONGEST_GAP_S
) -> Finding:
    """Judge core readings by one table: a single row held long enough without a break is enough.

    Only time between readings at or above a row counts. Not met where even the time out to the
    cooler readings around falls short; not shown where the readings cannot tell. Raises InputError
    for readings out of order.
    """
    series = in_order(points)
    what = f"{table.what}: hold at the coldest point"
    if not series:
        return Finding(
            answer=Answer.NOT_SHOWN,
            what=what,
            because="No internal temperature was recorded.",
            source=table.source,
            would_settle="Internal temperature of the coldest stick, minute by minute.",
        )
    possible_rows_f = []
    for row_f in sorted(table.holds_s, reverse=True):
        asked_s = table.holds_s[row_f]
        stays = holds_at(series, row_f, longest_gap_s)
        held_s = max((stay.shortest_s for stay in stays), default=-1.0)
        if held_s >= asked_s:
            return Finding(
                answer=Answer.MET,
                what=what,
                because=(
                    f"At least {in_both(row_f)} for {_duration(held_s)} without a break; the table"
                    f" asks {_duration(asked_s)}.{_doubt(row_f, table)}"
                ),
                source=table.source,
            )
        if any(stay.longest_s >= asked_s for stay in stays):
            possible_rows_f.append(row_f)
    warmest_c = max(point.temperature_c for point in series)
    if possible_rows_f:
        row_f = possible_rows_f[0]
        return Finding(
            answer=Answer.NOT_SHOWN,
            what=what,
            because=(
                f"{in_both(row_f)} was reached, but the readings stop there or lie too far apart to"
                f" show the {_duration(table.holds_s[row_f])} that the table asks."
            ),
            source=table.source,
            would_settle="Readings closer together that go on until the stick cools.",
        )
    return Finding(
        answer=Answer.NOT_MET,
        what=what,
        because=_shortfall(warmest_c, table),
        source=table.source,
    )


def _doubt(row_f: int, table: HoldTable) -> str:
    if table is TRICHINAE or row_f >= DOUBTED_BELOW_F:
        return ""
    return " A later study did not reproduce the table at 130 °F (54.4 °C)."


def _shortfall(warmest_c: float, table: HoldTable) -> str:
    warmest = in_both(round(fahrenheit(warmest_c), 1))
    row_f = table.row_f(warmest_c)
    if row_f is None:
        first = in_both(min(table.holds_s))
        return f"The warmest reading was {warmest}; below {first} no time counts."
    return (
        f"No row of the table was held long enough. The warmest reading was {warmest};"
        f" at {in_both(row_f)} the table asks {_duration(table.holds_s[row_f])} without a break."
    )


def judge_cook(points: Iterable[Point], *, poultry: bool) -> tuple[Finding, ...]:
    """Judge the core by both columns of the meat table, which does not hold for poultry."""
    series = in_order(points)
    if poultry:
        return tuple(
            Finding(
                answer=Answer.NOT_SHOWN,
                what=f"{table.what}: hold at the coldest point",
                because="The batch holds poultry, and this table is for meat only.",
                source=table.source,
                would_settle=(
                    "The poultry table of the same guideline; it is not built in. Advice to"
                    f" consumers is {in_both(165)} (USDA, 'Sausages and Food Safety')."
                ),
            )
            for table in (SALMONELLA_6_5_LOG, SALMONELLA_7_0_LOG)
        )
    return tuple(judge_hold(series, table) for table in (SALMONELLA_6_5_LOG, SALMONELLA_7_0_LOG))


def judge_trichinae(points: Iterable[Point]) -> Finding:
    """Judge the core by the trichinae table, for pork and game."""
    return judge_hold(points, TRICHINAE)


@dataclass(frozen=True, slots=True)
class SmokerHumidity:
    """Relative humidity in the smoker over one part of the cook; None where it was not measured."""

    lasted_s: float
    humidity_pct: float | None


_HUMIDITY_SOURCE = Source(
    "FSIS Appendix A, humidity options of 1999/2012, as quoted in the jerky guideline",
    Standing.SECOND_HAND,
)
MOIST_PCT = 90.0
MOIST_LEAST_RATIO = 0.25
MOIST_LEAST_S = 3600.0


def judge_smoker_humidity(parts: Sequence[SmokerHumidity]) -> Finding:
    """Humidity during the whole cook: 90 % or more for a quarter of it and never under an hour.

    A dry smoker protects Salmonella on the dried surface, which the core temperature does not
    show. Raises InputError for a negative duration or a humidity outside 0 to 100 %.
    """
    moist_s = unknown_s = whole_s = 0.0
    for part in parts:
        require_within("the duration of a part of the cook in s", part.lasted_s, 0.0, float("inf"))
        whole_s += part.lasted_s
        if part.humidity_pct is None:
            unknown_s += part.lasted_s
            continue
        require_within("the smoker's humidity in %", part.humidity_pct, 0.0, 100.0)
        if part.humidity_pct >= MOIST_PCT:
            moist_s += part.lasted_s
    asked_s = max(MOIST_LEAST_S, MOIST_LEAST_RATIO * whole_s)
    if moist_s >= asked_s:
        answer = Answer.MET
    elif parts and moist_s + unknown_s < asked_s:
        answer = Answer.NOT_MET
    else:
        answer = Answer.NOT_SHOWN
    return Finding(
        answer=answer,
        what="humidity of 90 % or more for a quarter of the cook, and at least an hour",
        because=(
            f"{_duration(moist_s)} of {_duration(whole_s)} at 90 % or more,"
            f" {_duration(unknown_s)} not measured; {_duration(asked_s)} asked. Sources disagree on"
            " whether a casing removes the need."
        ),
        source=_HUMIDITY_SOURCE,
        would_settle=(
            "Wet-bulb temperature or humidity in the smoker through the whole cook."
            if answer is Answer.NOT_SHOWN
            else ""
        ),
    )


_WARMING_SOURCE = Source("FSIS Cooking Guideline 2021 (FSIS-GD-2021-14)", Standing.MEMORY)
WARMING_LIMIT_S = 6 * 3600.0
WARMING_FROM_F, WARMING_TO_F = 50, 130


def judge_warming(points: Iterable[Point]) -> Finding:
    """Time of the raw stick between 50 and 130 degF on the way up, at most 6 h.

    The limit is known from memory: it can be exceeded but not be met. Raises InputError for
    readings out of order.
    """
    series = in_order(points)
    between_s = 0.0
    for earlier, later in itertools.pairwise(series):
        if fahrenheit(earlier.temperature_c) >= WARMING_TO_F:
            break
        if all(
            WARMING_FROM_F <= fahrenheit(point.temperature_c) <= WARMING_TO_F
            for point in (earlier, later)
        ):
            between_s += later.at_s - earlier.at_s
    exceeded = between_s > WARMING_LIMIT_S
    return Finding(
        answer=Answer.NOT_MET if exceeded else Answer.NOT_SHOWN,
        what=f"raw stick at most 6 h between {in_both(WARMING_FROM_F)} and {in_both(WARMING_TO_F)}",
        because=(
            f"The readings show at least {between_s / 3600.0:.1f} h there. S. aureus can grow and"
            " leave a toxin that cooking does not destroy. The limit is known from memory only."
        ),
        source=_WARMING_SOURCE,
        would_settle=(
            ""
            if exceeded
            else "Reading the limit in the guideline, and internal temperature from stuffing on."
        ),
    )
