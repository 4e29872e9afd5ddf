"""The room's books: what came in and went out against what is there."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

LEAST_MOVED_RATIO = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance:
    """How well water and heat add up, as shares.

    `water_ratio`, `heat_ratio`: what is missing or too much since the start, as a share of what
    came and went. `*_stretch_ratio`: the worst single stretch, as a share of what the room then
    held and moved.
    """

    water_ratio: float
    heat_ratio: float
    water_stretch_ratio: float
    heat_stretch_ratio: float

    @property
    def worst_ratio(self) -> float:
        """The largest of the four."""
        return max(
            self.water_ratio, self.heat_ratio, self.water_stretch_ratio, self.heat_stretch_ratio
        )


@dataclass(slots=True, kw_only=True)
class Account:
    """One quantity's book, kg of water or J of heat.

    `held` is what the room held when last looked at; `expected` what it should hold after
    everything booked since the start; `moved` the sum of everything booked, without signs.
    """

    held: float
    expected: float
    moved: float
    worst_stretch_ratio: float = 0.0

    def close_stretch(self, *, held: float, gained: float, moved: float) -> None:
        """Book one stretch: what is held now, the net gain, and all that moved."""
        scale = abs(held) + moved
        if scale > 0.0:
            miss_ratio = abs(held - self.held - gained) / scale
            self.worst_stretch_ratio = max(self.worst_stretch_ratio, miss_ratio)
        self.held = held
        self.expected += gained
        self.moved += moved

    def exchange(self, *, held: float) -> None:
        """Book something carried in or out by hand, moved by no flux."""
        self.expected += held - self.held
        self.held = held

    @property
    def miss_ratio(self) -> float:
        """All that is missing or too much, as a share of what was moved.

        As long as next to nothing was moved, a share of that would only show the rounding of what
        is held; so at least a thousandth of it counts as moved.
        """
        scale = max(self.moved, LEAST_MOVED_RATIO * abs(self.held))
        return abs(self.held - self.expected) / scale if scale > 0.0 else 0.0

    def snapshot(self) -> dict[str, Any]:
        """The book as a JSON-able dict."""
        return asdict(self)

    @classmethod
    def restored(cls, snapshot: Mapping[str, Any]) -> "Account":
        """The book from such a dict."""
        return cls(**snapshot)


def balance(*, water: Account, heat: Account) -> Balance:
    """Both books at a glance."""
    return Balance(
        water_ratio=water.miss_ratio,
        heat_ratio=heat.miss_ratio,
        water_stretch_ratio=water.worst_stretch_ratio,
        heat_stretch_ratio=heat.worst_stretch_ratio,
    )
