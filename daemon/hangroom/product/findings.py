"""How every check answers, and where its figures come from."""

from dataclasses import dataclass
from enum import StrEnum


class Answer(StrEnum):
    """What the evidence says about one published figure. Missing evidence is never `MET`."""

    MET = "met"
    NOT_MET = "not met"
    NOT_SHOWN = "not shown"


class Standing(StrEnum):
    """How surely a figure was read."""

    SEEN = "read in a copy of the source"
    SECOND_HAND = "read in a second-hand copy only"
    CALCULATED = "calculated from published figures"
    COMMON_PRACTICE = "common practice, no source"
    JUDGEMENT = "our own judgement, no source"
    MEMORY = "from memory and not confirmed; read the source itself before relying on it"


@dataclass(frozen=True, slots=True)
class Source:
    """Where a figure comes from and how surely it was read."""

    cites: str
    standing: Standing


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One published figure beside what was recorded.

    `would_settle` names the measurement that would change the answer; whatever is not shown
    must name one.
    """

    answer: Answer
    what: str
    because: str
    source: Source
    would_settle: str = ""

    def __post_init__(self) -> None:
        if self.answer is Answer.NOT_SHOWN and not self.would_settle:
            raise ValueError(f"'{self.what}' is not shown, but nothing is named that would show it")
