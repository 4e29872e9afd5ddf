"""Where and how warm sticks are kept, against the Food Code's tables and measured values only.

Nothing here takes an estimate: water activity and pH count when a stick of the group was measured.
"""

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from hangroom.product.findings import Answer, Finding, Source, Standing
from hangroom.product.inputs import require_within
from hangroom.product.temperatures import Point, fahrenheit, in_both, in_order


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """Water activity and pH measured on a stick of the group; None where never measured.

    Raises InputError for a water activity outside 0.3 to 1 or a pH outside 3 to 9.
    """

    aw: float | None = None
    ph: float | None = None

    def __post_init__(self) -> None:
        if self.aw is not None:
            require_within("the measured water activity", self.aw, 0.3, 1.0)
        if self.ph is not None:
            require_within("the measured pH", self.ph, 3.0, 9.0)


class Cell(StrEnum):
    """What a cell of the Food Code's tables says."""

    NON_TCS = "needs no time or temperature control"
    ASSESS = "product assessment needed; keep refrigerated"


@dataclass(frozen=True, slots=True)
class Edge:
    """Upper end of a row or column; `inclusive` where the printed sign is 'at or below'."""

    top: float
    inclusive: bool

    def holds(self, figure: float) -> bool:
        """Whether a figure lies below this end."""
        return figure <= self.top if self.inclusive else figure < self.top


@dataclass(frozen=True, slots=True, kw_only=True)
class FoodCodeTable:
    """One table: rows by rising water activity, columns by rising pH; the last of each is open."""

    name: str
    rows_aw: tuple[Edge, ...]
    columns_ph: tuple[Edge, ...]
    cells: tuple[tuple[Cell, ...], ...]

    def possible(self, measured: Measured) -> frozenset[Cell]:
        """Every cell that the measured values leave possible; what was not measured may be any."""
        rows = (
            self.cells
            if measured.aw is None
            else self.cells[_place(self.rows_aw, measured.aw) :][:1]
        )
        return frozenset(
            cell
            for row in rows
            for cell in (
                row if measured.ph is None else row[_place(self.columns_ph, measured.ph) :][:1]
            )
        )


def _place(edges: Sequence[Edge], figure: float) -> int:
    return next((i for i, edge in enumerate(edges) if edge.holds(figure)), len(edges))


_N, _PA = Cell.NON_TCS, Cell.ASSESS

TABLE_A = FoodCodeTable(
    name="table A (heat-treated, then packaged)",
    rows_aw=(Edge(0.92, inclusive=True), Edge(0.95, inclusive=True)),
    columns_ph=(Edge(4.6, inclusive=True), Edge(5.6, inclusive=True)),
    cells=((_N, _N, _N), (_N, _N, _PA), (_N, _PA, _PA)),
)
TABLE_B = FoodCodeTable(
    name="table B (not heat-treated, or heat-treated and not packaged)",
    rows_aw=(Edge(0.88, inclusive=False), Edge(0.90, inclusive=True), Edge(0.92, inclusive=True)),
    columns_ph=(Edge(4.2, inclusive=False), Edge(4.6, inclusive=True), Edge(5.0, inclusive=True)),
    cells=((_N, _N, _N, _N), (_N, _N, _N, _PA), (_N, _N, _PA, _PA), (_N, _PA, _PA, _PA)),
)

FOOD_CODE = Source(
    "FDA Food Code 2009 to 2022, 1-201.10(B), as adopted by Tennessee, Georgia and Texas",
    Standing.SEEN,
)
_MEASURE_BOTH = "Water activity and pH measured on a stick of this group."


class Packing(StrEnum):
    """Which table a stick falls under; one that hung in open air after the cook is `OPEN`."""

    OPEN = "hung or kept unpackaged"
    PACKED_HOT = "packaged right after the heat, with nothing in between"


def food_code_table(packing: Packing) -> FoodCodeTable:
    """Table that applies."""
    return TABLE_A if packing is Packing.PACKED_HOT else TABLE_B


def judge_food_code(measured: Measured, packing: Packing = Packing.OPEN) -> Finding:
    """Place measured water activity and pH in the Food Code's table.

    One of the two is enough only where its whole row or column reads the same.
    """
    table = food_code_table(packing)
    possible = table.possible(measured)
    known = [
        f"{name} {figure:g}"
        for name, figure in (("water activity", measured.aw), ("pH", measured.ph))
        if figure is not None
    ]
    what = f"Food Code {table.name}: {Cell.NON_TCS}"
    if len(possible) > 1:
        return Finding(
            answer=Answer.NOT_SHOWN,
            what=what,
            because=(
                f"Only {known[0]} was measured, and the table needs the other figure too."
                if known
                else "Neither water activity nor pH was measured."
            ),
            source=FOOD_CODE,
            would_settle=_MEASURE_BOTH,
        )
    (cell,) = possible
    return Finding(
        answer=Answer.MET if cell is Cell.NON_TCS else Answer.NOT_MET,
        what=what,
        because=f"Measured {' and '.join(known)}: {cell}.",
        source=FOOD_CODE,
    )


COLD_F = 41
# Our own judgement: an air or fridge reading is taken to speak for this long at most.
LONGEST_GAP_S = 1800.0
# Our own judgement: so much of a stay may be without readings, as while sticks are carried over.
UNKNOWN_MOST_H = 1.0


@dataclass(frozen=True, slots=True)
class Warmth:
    """Hours above 41 degF or what was asked, and hours that no reading speaks for."""

    warm_h: float
    unknown_h: float


def warmth(
    points: Iterable[Point],
    *,
    start_s: float,
    end_s: float,
    above_f: float = COLD_F,
    longest_gap_s: float = LONGEST_GAP_S,
) -> Warmth:
    """Sum a stay's hours above 41 degF (5 degC) from readings of the air around the sticks.

    An interval is warm where either end is; one longer than the gap is unknown, as is what lies
    before the first and after the last reading. Readings just before and after the stay speak for
    its edges. Raises InputError for readings out of order or a stay that ends before it starts.
    """
    require_within("the length of the stay in s", end_s - start_s, 0.0, float("inf"))
    warm_s = known_s = 0.0
    for earlier, later in itertools.pairwise(in_order(points)):
        part_s = min(later.at_s, end_s) - max(earlier.at_s, start_s)
        if part_s <= 0.0 or later.at_s - earlier.at_s > longest_gap_s:
            continue
        known_s += part_s
        if max(fahrenheit(earlier.temperature_c), fahrenheit(later.temperature_c)) > above_f:
            warm_s += part_s
    return Warmth(warm_s / 3600.0, max(0.0, end_s - start_s - known_s) / 3600.0)


def judge_warmth(stay: Warmth, measured: Measured, packing: Packing = Packing.OPEN) -> Finding:
    """Time above 41 degF: none, or measured values that put the stick where none is asked.

    A stay is met only where readings speak for all of it but an hour.
    """
    what = f"kept at or below {in_both(COLD_F)} unless measured to need no temperature control"
    food_code = judge_food_code(measured, packing)
    hours = f"{stay.warm_h:.1f} h above {in_both(COLD_F)}, {stay.unknown_h:.1f} h without readings"
    if stay.warm_h > 0.0 or food_code.answer is Answer.MET:
        answer, because = food_code.answer, f"{hours}. {food_code.because}"
    else:
        spoken_for = stay.unknown_h <= UNKNOWN_MOST_H
        answer, because = Answer.MET if spoken_for else Answer.NOT_SHOWN, f"{hours}."
    return Finding(
        answer=answer,
        what=what,
        because=because,
        source=FOOD_CODE,
        would_settle=(
            "Air readings through the whole stay; for warm hours, water activity and pH measured"
            " on a stick of this group."
            if answer is Answer.NOT_SHOWN
            else ""
        ),
    )


STAPHYLOCOCCUS_WARM_F = 60


def judge_warm_hanging(
    room_c: float, measured: Measured, packing: Packing = Packing.OPEN
) -> Finding:
    """Say what published guidance makes of hanging cooked, cured sticks in a room this warm.

    Raises InputError for a room outside -30 to 60 degC.
    """
    require_within("the room's temperature in °C", room_c, -30.0, 60.0)
    room_f = round(fahrenheit(room_c), 1)
    what = f"hanging at {in_both(room_f)}"
    if room_f <= COLD_F:
        return Finding(
            answer=Answer.MET,
            what=what,
            because=f"The room is at or below {in_both(COLD_F)}.",
            source=FOOD_CODE,
        )
    food_code = judge_food_code(measured, packing)
    if food_code.answer is Answer.MET:
        return Finding(answer=Answer.MET, what=what, because=food_code.because, source=FOOD_CODE)
    return Finding(
        answer=food_code.answer,
        what=what,
        because=f"{food_code.because} {_warm_hanging(room_f)}",
        source=FOOD_CODE,
        would_settle=(
            "Measured on a stick of this group: water activity below 0.88; or 0.90 and less with pH"
            " 5.0 and less; or 0.92 and less with pH 4.6 and less; or pH below 4.2."
            f" Or a room at {in_both(COLD_F)} and colder."
        ),
    )


def _warm_hanging(room_f: float) -> str:
    at_room_temperature = room_f > STAPHYLOCOCCUS_WARM_F
    practice = (
        "Practice holds cured sticks at room temperature for days."
        if at_room_temperature
        else "Trade practice hangs cured sticks at 45 to 60 °F."
    )
    said = (
        f"{practice} Published guidance does not support that for a stick that is not acid: above"
        f" {in_both(COLD_F)} it asks for measured values in a cell that needs no temperature"
        " control, which at pH about 6 is only below water activity 0.88. At the usual loss of 15"
        " to 30 % the estimates are about 0.91 to 0.95."
        " At pH 5.6 and water activity 0.96, S. aureus grew 5.5 log in a week at 21 °C in vacuum"
        " packs (King et al., IAFP 2014). Nitrite holds back C. botulinum, not S. aureus."
        " No study looked up supports the practice for sticks that are not acid. A warmer room is"
        " the keeper's choice and is recorded as that."
    )
    if not at_room_temperature:
        return said
    return (
        f"{said} Above {in_both(STAPHYLOCOCCUS_WARM_F)} S. aureus grows markedly faster"
        " (trade handbook, second-hand)."
    )
