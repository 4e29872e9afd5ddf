"""Counting what the contacts of a room do."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import inf

from hangroom.terms import RelayKind

# An exhaust fan within this time of a humidifier run blows out what was just brought in.
FIGHT_S = 300.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Counters:
    """What happened since the start or the last `reset_counters`.

    `switches` counts changes of the contact, both ways. `fights`: humidifier runs with the exhaust
    fan on during them or within five minutes after.
    """

    simulated_s: float
    switches: Mapping[RelayKind, int]
    on_s: Mapping[RelayKind, float]
    water_used_g: float
    load_loss_g: float
    fights: int


class Tally:
    """Switches, time closed and fights of a room's contacts, all opened at first."""

    def __init__(self, kinds: Iterable[RelayKind]) -> None:
        self._kinds = tuple(kinds)
        self._contacts: Sequence[bool] = [False] * len(self._kinds)
        self._mist_ended_s = -inf
        self.reset(0.0)

    def reset(self, elapsed_s: float) -> None:
        """Begin to count anew."""
        self.since_s = elapsed_s
        self._noted_s = elapsed_s
        self._switches = [0] * len(self._kinds)
        self._on_s = [0.0] * len(self._kinds)
        self.fights = 0
        # Only a run that begins from now on can become a fight.
        self._blown_out = True

    def note(self, contacts: Sequence[bool], elapsed_s: float) -> None:
        """Take note of contacts that may have changed."""
        self._keep_time(elapsed_s)
        for index, (was, now) in enumerate(zip(self._contacts, contacts, strict=True)):
            self._switches[index] += was != now
        was_misting = self._is_closed(RelayKind.HUMIDIFIER)
        self._contacts = contacts
        misting = self._is_closed(RelayKind.HUMIDIFIER)
        if misting and not was_misting:
            self._blown_out = False
        if was_misting and not misting:
            self._mist_ended_s = elapsed_s
        recent = misting or elapsed_s - self._mist_ended_s <= FIGHT_S
        if recent and not self._blown_out and self._is_closed(RelayKind.EXHAUST_FAN):
            self.fights += 1
            self._blown_out = True

    def switches(self) -> dict[RelayKind, int]:
        """Changes of each contact."""
        return dict(zip(self._kinds, self._switches, strict=True))

    def on_s(self, elapsed_s: float) -> dict[RelayKind, float]:
        """How long each contact was closed."""
        self._keep_time(elapsed_s)
        return dict(zip(self._kinds, self._on_s, strict=True))

    def _keep_time(self, elapsed_s: float) -> None:
        for index, closed in enumerate(self._contacts):
            self._on_s[index] += (elapsed_s - self._noted_s) * closed
        self._noted_s = elapsed_s

    def _is_closed(self, kind: RelayKind) -> bool:
        return kind in self._kinds and self._contacts[self._kinds.index(kind)]
