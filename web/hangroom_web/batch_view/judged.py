"""A batch beside published figures: every group judged, what is alike said once, the worst first.

Pure. An answer is what `hangroom.product.checks` says it is; here it is only put in order.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum

from hangroom.errors import InputError
from hangroom.product.checks import Checks, Information, check
from hangroom.product.findings import Answer, Finding
from hangroom.product.kept import Kept
from hangroom.store.record.whole import BatchRecord
from hangroom_web.batch_view.evidence import AirOf, evidence, recorded_recipe
from hangroom_web.words import _

# What a keeper should see first stands first.
ORDER = (Answer.NOT_MET, Answer.NOT_SHOWN, Answer.MET)

SAID = {Answer.MET: _("met"), Answer.NOT_MET: _("not met"), Answer.NOT_SHOWN: _("not shown")}


class Part(StrEnum):
    """The part of the making that a figure belongs to."""

    CURE = "cure"
    RAW = "raw"
    COOK = "cook"
    CHILL = "chill"
    KEPT = "kept"


PARTS = {
    Part.CURE: _("Cure"),
    Part.RAW: _("Raw sticks"),
    Part.COOK: _("Cook"),
    Part.CHILL: _("Chill"),
    Part.KEPT: _("Hanging and keeping"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One published figure and the groups it was judged for; `ways`: any one of them is enough."""

    part: Part
    answer: Answer
    what: str
    groups: tuple[str, ...]
    finding: Finding | None = None
    ways: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """All that is found of a batch; `kept` by group. `faults` say what could not be judged.

    `information` has the groups that each piece is about.
    """

    figures: tuple[Figure, ...]
    kept: Mapping[str, Kept]
    information: Mapping[Information, Sequence[str]]
    faults: tuple[str, ...]

    @property
    def counts(self) -> Mapping[Answer, int]:
        """How many figures have each answer, the worst first."""
        counted = Counter(figure.answer for figure in self.figures)
        return {answer: counted[answer] for answer in ORDER}


def judged(record: BatchRecord, *, air: AirOf, now: datetime) -> Judged:
    """Judge every group of a batch by what was recorded."""
    recorded = recorded_recipe(record)
    faults = {recorded.fault: None} if recorded.fault else {}
    found: dict[Figure, list[str]] = {}
    kept: dict[str, Kept] = {}
    information: dict[Information, list[str]] = {}
    # Cure and cook are judged of a batch that has no group yet, too.
    for letter in [group.letter for group in record.batch.groups] or [""]:
        try:
            checks = [
                check(one)
                for one in evidence(record, letter, recipe=recorded.recipe, air=air, now=now)
            ]
        except InputError as fault:
            faults[str(fault)] = None
            continue
        kept[letter] = checks[0].kept
        for one in dict.fromkeys(one for probes in checks for one in probes.information):
            information.setdefault(one, []).append(letter)
        for figure in _figures(checks):
            found.setdefault(figure, []).append(letter)
    return Judged(
        figures=tuple(
            sorted(
                (replace(figure, groups=tuple(letters)) for figure, letters in found.items()),
                key=lambda figure: (ORDER.index(figure.answer), list(Part).index(figure.part)),
            )
        ),
        kept=kept,
        information=information,
        faults=tuple(faults),
    )


def say_counts(counts: Mapping[Answer, int]) -> str:
    """Return for example '1 not met, 9 not shown, 5 met', all three always."""
    return ", ".join(f"{number} {SAID[answer]}" for answer, number in counts.items())


def _figures(checks: Sequence[Checks]) -> Iterator[Figure]:
    """Yield each figure once, from the probe that says the worst of it."""
    for part, findings in (
        (Part.CURE, [one.cure for one in checks]),
        (Part.RAW, [one.raw for one in checks]),
        (Part.COOK, [one.cook for one in checks]),
        (Part.KEPT, [one.kept.findings for one in checks]),
    ):
        for of_probes in zip(*findings, strict=True):
            worst = min(of_probes, key=lambda finding: ORDER.index(finding.answer))
            yield Figure(part=part, answer=worst.answer, what=worst.what, groups=(), finding=worst)
    yield _chill(
        [
            min(of_probes, key=lambda finding: ORDER.index(finding.answer))
            for of_probes in zip(*(one.chill for one in checks), strict=True)
        ]
    )


def _chill(ways: Sequence[Finding]) -> Figure:
    """Put the ways to cool together: met where one is, not met only where every one fails."""
    answers = {finding.answer for finding in ways}
    answer = next(one for one in reversed(ORDER) if one in answers)
    return Figure(
        part=Part.CHILL,
        answer=answer,
        what=_("cooled by one of {count} published ways").format(count=len(ways)),
        groups=(),
        ways=tuple(sorted(ways, key=lambda finding: -ORDER.index(finding.answer))),
    )
