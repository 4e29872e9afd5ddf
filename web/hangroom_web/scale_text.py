"""A weight as hands or a scale with a keyboard's plug type it: '71.4', ' 71,4 g', 'ST,GS, 71.4 g'.

Such scales send two letters for their state before the figure: ST steady, US not yet, OL too heavy,
GS gross, NT net, TR tare, QT counted (usual in scales' manuals; from memory). Pure.
"""

import re
from collections.abc import Mapping
from types import MappingProxyType

from hangroom.errors import InputError
from hangroom.units import GRAMS_PER_OUNCE, Units, WeightUnit, weight_stored
from hangroom_web.forms import GRAMS
from hangroom_web.words import _

# Read by the page's script as well, so only what both languages mean the same by.
READS = (
    r"^\s*((?:[A-Za-z]{2}[\s,;:]\s*)*)[+]?(-?)\s*"
    r"([0-9]{1,9}(?:[.,][0-9]{0,9})?|[.,][0-9]{1,9})\s*(kg|g|oz|lb)?\s*$"
)
STEADY = frozenset({"ST", "GS", "NT"})
NOT_TAKEN: Mapping[str, str] = MappingProxyType(
    {
        "US": _("The scale had not come to rest. Wait until it has, then take the weight again."),
        "OL": _("The scale says that it is overloaded. Weigh on a larger one."),
        "TR": _("That is the scale's tare, not what lies on it. Take the weight again."),
        "QT": _("The scale counts pieces. Set it to weigh."),
    }
)
UNKNOWN_MARK = _("The scale sent {mark}, which says nothing known here. Type the weight's digits.")

_reads = re.compile(READS, re.IGNORECASE | re.ASCII)


def weight_read_g(typed: str, units: Units) -> float:
    """Return grams from what was typed, in its own unit or the keeper's; InputError if none."""
    found = _reads.match(typed)
    if found is None:
        return weight_stored(typed, units)
    marks, minus, figure, unit = found.groups()
    for mark in re.findall("[A-Z]+", marks.upper()):
        if mark not in STEADY:
            raise InputError(NOT_TAKEN.get(mark) or UNKNOWN_MARK.format(mark=mark))
    if unit is None:
        return weight_stored(minus + figure, units)
    return GRAMS[unit.lower()] * weight_stored(minus + figure, Units())


def scale_told(units: Units) -> dict[str, object]:
    """Return what a phone needs to read a weight by itself."""
    return {
        "reads": READS,
        "grams": dict(GRAMS),
        "unit": units.weight,
        "unit_g": GRAMS_PER_OUNCE if units.weight is WeightUnit.OUNCE else 1.0,
        "steady": sorted(STEADY),
        "marks": dict(NOT_TAKEN),
        "unknown": UNKNOWN_MARK,
        "none": _("Enter a weight in digits, for example 71.4."),
    }
