"""The shape of everything a forecast tells the keeper."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Words:
    """One thing told: what happened, what it means, what to do."""

    happened: str
    means: str
    do: str
