"""The published tables of how long a temperature must be held: stored as printed, never computed.

Rounding in the tables is part of them; regenerating them from D and z would give other minutes.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from hangroom.product.findings import Source, Standing
from hangroom.product.temperatures import fahrenheit


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldTable:
    """Shortest unbroken hold in s at the coldest point, by row in whole degF, coldest row first."""

    what: str
    holds_s: Mapping[int, float]
    source: Source

    def row_f(self, temperature_c: float) -> int | None:
        """Row a temperature counts for, rounding down; None below the first row: no credit."""
        measured_f = fahrenheit(temperature_c)
        return max((row_f for row_f in self.holds_s if row_f <= measured_f), default=None)

    def hold_s(self, temperature_c: float) -> float | None:
        """Hold asked for at a temperature, s; None below the first row: no time is enough."""
        row_f = self.row_f(temperature_c)
        return None if row_f is None else self.holds_s[row_f]


_MINUTE_S = 60.0
_HOUR_S = 3600.0

# degF: hold for 6.5-log and 7.0-log, in minutes down to 145 degF and in seconds from 146 degF up.
_MINUTES = (
    (130, 112, 121), (131, 89, 97), (132, 71, 77), (133, 56, 62), (134, 45, 47), (135, 36, 37),
    (136, 28, 32), (137, 23, 24), (138, 18, 19), (139, 15, 15), (140, 12, 12), (141, 9, 10),
    (142, 8, 8), (143, 6, 6), (144, 5, 5), (145, 4, 4),
)  # fmt: skip
_SECONDS = (
    (146, 169, 182), (147, 134, 144), (148, 107, 115), (149, 85, 91), (150, 67, 72), (151, 54, 58),
    (152, 43, 46), (153, 34, 37), (154, 27, 29), (155, 22, 23), (156, 17, 19), (157, 14, 15),
    (158, 0, 0), (159, 0, 0), (160, 0, 0),
)  # fmt: skip

_APPENDIX_A = Source(
    "FSIS Appendix A, time-temperature table for meat (64 FR 732, 1999, as kept in the 2021"
    " Cooking Guideline, FSIS-GD-2021-14)",
    Standing.SECOND_HAND,
)
SALMONELLA_6_5_LOG = HoldTable(
    what="6.5-log reduction of Salmonella in meat",
    holds_s=MappingProxyType(
        {row_f: minutes * _MINUTE_S for row_f, minutes, _ in _MINUTES}
        | {row_f: float(seconds) for row_f, seconds, _ in _SECONDS}
    ),
    source=_APPENDIX_A,
)
SALMONELLA_7_0_LOG = HoldTable(
    what="7.0-log reduction of Salmonella in meat",
    holds_s=MappingProxyType(
        {row_f: minutes * _MINUTE_S for row_f, _, minutes in _MINUTES}
        | {row_f: float(seconds) for row_f, _, seconds in _SECONDS}
    ),
    source=_APPENDIX_A,
)
TRICHINAE = HoldTable(
    what="killing trichinae by heat",
    holds_s=MappingProxyType(
        {
            120: 21 * _HOUR_S,
            122: 9.5 * _HOUR_S,
            124: 4.5 * _HOUR_S,
            126: 2 * _HOUR_S,
            128: _HOUR_S,
            130: 30 * _MINUTE_S,
            132: 15 * _MINUTE_S,
            134: 6 * _MINUTE_S,
            136: 3 * _MINUTE_S,
            138: 2 * _MINUTE_S,
            140: _MINUTE_S,
            142: _MINUTE_S,
            144: 0.0,
        }
    ),
    # Removed as a rule with effect from 30 July 2018; still used to support a plan.
    source=Source("9 CFR 318.10(c)(1), no longer in force since 2018", Standing.SECOND_HAND),
)
