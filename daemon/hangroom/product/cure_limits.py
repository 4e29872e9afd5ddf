"""The published limits on nitrite, nitrate and erythorbate, and how a batch stands against them."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from hangroom.product.curing import Ingoing
from hangroom.product.findings import Answer, Finding, Source, Standing


class Cut(StrEnum):
    """How the meat is made up for curing; snack sticks are comminuted."""

    COMMINUTED = "comminuted"
    IMMERSED = "immersed, massaged or pumped, not bacon"
    DRY_CURED = "dry-cured whole muscle"
    PUMPED_BACON = "pumped or immersed bacon"
    DRY_CURED_BACON = "dry-cured bacon"


_HANDBOOK = "Processing Inspectors' Calculations Handbook (FSIS Directive 7620.3, rev. 1995)"


@dataclass(frozen=True, slots=True)
class CureLimit:
    """A published bound, in ppm on the meat's green weight."""

    bound_ppm: float
    source: Source


_FROM_HANDBOOK = Source(_HANDBOOK, Standing.SECOND_HAND)

HIGHEST_NITRITE: Mapping[Cut, CureLimit] = MappingProxyType(
    {
        # A quarter of an ounce to 100 lb, which is 156.25.
        Cut.COMMINUTED: CureLimit(156.0, _FROM_HANDBOOK),
        Cut.IMMERSED: CureLimit(200.0, _FROM_HANDBOOK),
        Cut.DRY_CURED: CureLimit(625.0, _FROM_HANDBOOK),
        Cut.PUMPED_BACON: CureLimit(120.0, _FROM_HANDBOOK),
        Cut.DRY_CURED_BACON: CureLimit(200.0, _FROM_HANDBOOK),
    }
)
LOWEST_NITRITE_REFRIGERATED = CureLimit(120.0, Source(f"{_HANDBOOK}, p. 12", Standing.SECOND_HAND))

_FROM_MEMORY = Source("9 CFR 424.21(c)", Standing.MEMORY)
# No figure for bacon was at hand, so bacon has no row.
HIGHEST_NITRATE: Mapping[Cut, CureLimit] = MappingProxyType(
    {
        Cut.COMMINUTED: CureLimit(1718.0, _FROM_MEMORY),
        Cut.IMMERSED: CureLimit(700.0, _FROM_MEMORY),
        Cut.DRY_CURED: CureLimit(2187.0, _FROM_MEMORY),
    }
)
# Seven eighths of an ounce of the sodium salt, three quarters of the acid, to 100 lb.
HIGHEST_SODIUM_ERYTHORBATE = CureLimit(547.0, _FROM_MEMORY)
HIGHEST_ERYTHORBIC_ACID = CureLimit(469.0, _FROM_MEMORY)

ROUNDING = (
    "Compared in whole ppm, because a quarter of an ounce to 100 lb, which is 156.25, is printed"
    " as 156."
)


def judge_highest(ingoing: Ingoing | None, limit: CureLimit, what: str) -> Finding:
    """Compare an ingoing figure with a maximum in whole ppm; None is not shown.

    A limit known from memory only can be exceeded but not be met.
    """
    return _judge(ingoing, limit, f"{what} at most {limit.bound_ppm:.0f} ppm", highest=True)


def judge_lowest(ingoing: Ingoing | None, limit: CureLimit, what: str) -> Finding:
    """Compare an ingoing figure with a minimum in whole ppm; None is not shown."""
    return _judge(ingoing, limit, f"{what} at least {limit.bound_ppm:.0f} ppm", highest=False)


def _judge(ingoing: Ingoing | None, limit: CureLimit, what: str, *, highest: bool) -> Finding:
    if ingoing is None:
        return Finding(
            answer=Answer.NOT_SHOWN,
            what=what,
            because="The weights were not recorded, so it cannot be worked out.",
            source=limit.source,
            would_settle="The weight put in, the label's percentage and the meat's green weight.",
        )
    whole_ppm = round(ingoing.result_ppm)
    holds = whole_ppm <= limit.bound_ppm if highest else whole_ppm >= limit.bound_ppm
    because = f"{ingoing.result_ppm:.1f} ppm on the meat's green weight. {ROUNDING}"
    if holds and limit.source.standing is Standing.MEMORY:
        return Finding(
            answer=Answer.NOT_SHOWN,
            what=what,
            because=f"{because} The limit itself is known from memory only.",
            source=limit.source,
            would_settle=f"Reading the limit in {limit.source.cites}.",
        )
    return Finding(
        answer=Answer.MET if holds else Answer.NOT_MET,
        what=what,
        because=because,
        source=limit.source,
    )


def judge_nitrite(
    ingoing: Ingoing | None, cut: Cut = Cut.COMMINUTED, *, keep_refrigerated: bool = True
) -> tuple[Finding, ...]:
    """Ingoing nitrite against the maximum and, for refrigerated product, the policy minimum."""
    highest = judge_highest(ingoing, HIGHEST_NITRITE[cut], "ingoing nitrite")
    if not keep_refrigerated:
        return (highest,)
    return (highest, judge_lowest(ingoing, LOWEST_NITRITE_REFRIGERATED, "ingoing nitrite"))
