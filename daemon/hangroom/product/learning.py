"""What weighed batches teach about a room and a recipe, for the batches after them. Pure.

Each group's forecast ends in narrower beliefs than it began with. What they narrowed by is the
group's own evidence: a normal distribution of the quantity's logarithm whose precision is that of
the belief after, less that of the belief before (Bayes' rule for normal distributions; Gelman et
al., Bayesian Data Analysis, section 2.5, from memory). Batches differ among each other, so each
batch's evidence widens by `BETWEEN_BATCHES_LN_SD` before it counts, and the next batch may differ
as much again.

Every group's newest evidence is combined anew each time, so that nothing counts twice however
often a group is forecast. Air film and fan are the room's, so the next batch takes the transfer
that its room taught; fat and salt are the recipe's, so it takes the recipe's diffusivity.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import exp, hypot, log

from hangroom.product.forecast import Belief, Beliefs

# How far batches of one recipe in one room differ, as the standard deviation of the logarithm.
# Our judgement: sticks of one batch differ by 0.06 to 0.08 (four bundles of one published amateur
# batch lost 39.8, 35.3, 39.1 and 38.5 %), and batches differ more than sticks do.
BETWEEN_BATCHES_LN_SD = 0.15

# However many batches agree, the next is believed no narrower. Our judgement.
LEAST_LN_SD = 0.2

# Evidence below this share of the precision that there was before is rounding, not evidence.
LEAST_GAIN_RATIO = 0.02


class Kind(StrEnum):
    """What something was learned about."""

    ROOM = "room"
    RECIPE = "recipe"


@dataclass(frozen=True, slots=True, kw_only=True)
class Taught:
    """What was believed before a group was weighed and after, and where that belongs.

    `room`: None where it hung in several, so that none of them is taught. `recipe` is its name.
    """

    batch: int
    room: str | None
    recipe: str
    before: Beliefs
    after: Beliefs


@dataclass(frozen=True, slots=True, kw_only=True)
class Lesson:
    """What the next batch is believed to be like, and how many batches that stands on."""

    beliefs: Beliefs
    batches: int


def recipe_named(name: str) -> str:
    """Return a batch's name as recipes are told apart by it: without case and double blanks."""
    return " ".join(name.casefold().split())


def lessons(taught: Iterable[Taught], *, published: Beliefs) -> Mapping[tuple[Kind, str], Lesson]:
    """Return what is believed of every room and recipe that was taught anything.

    `published` is what is believed of one that nothing was learned about.
    """
    by_subject: dict[tuple[Kind, str], list[Taught]] = defaultdict(list)
    for one in taught:
        by_subject[Kind.RECIPE, one.recipe].append(one)
        if one.room is not None:
            by_subject[Kind.ROOM, one.room].append(one)
    found = {}
    for subject, groups in by_subject.items():
        transfer, first = _next(
            published.transfer_kg_per_m2_s_pa,
            (
                (g.batch, g.before.transfer_kg_per_m2_s_pa, g.after.transfer_kg_per_m2_s_pa)
                for g in groups
            ),
        )
        diffusivity, second = _next(
            published.diffusivity_m2_per_s,
            (
                (g.batch, g.before.diffusivity_m2_per_s, g.after.diffusivity_m2_per_s)
                for g in groups
            ),
        )
        batches = len(first | second)
        if batches:
            beliefs = Beliefs(transfer_kg_per_m2_s_pa=transfer, diffusivity_m2_per_s=diffusivity)
            found[subject] = Lesson(beliefs=beliefs, batches=batches)
    return found


def believed(
    learned: Mapping[tuple[Kind, str], Beliefs], *, room: str, recipe: str, published: Beliefs
) -> Beliefs | None:
    """Return what is believed of a batch before it is weighed, None where only `published` is."""
    of_room, of_recipe = learned.get((Kind.ROOM, room)), learned.get((Kind.RECIPE, recipe))
    if of_room is None and of_recipe is None:
        return None
    return Beliefs(
        transfer_kg_per_m2_s_pa=(of_room or published).transfer_kg_per_m2_s_pa,
        diffusivity_m2_per_s=(of_recipe or published).diffusivity_m2_per_s,
    )


def _next(
    published: Belief, groups: Iterable[tuple[int, Belief, Belief]]
) -> tuple[Belief, set[int]]:
    """Return what the next batch is believed to be like, and the batches it stands on."""
    batches: dict[int, list[Belief]] = defaultdict(list)
    for batch, before, after in groups:
        evidence = _evidence(before, after)
        if evidence is not None:
            batches[batch].append(evidence)
    if not batches:
        return published, set()
    # The groups of one batch hung of one stuff: together they are one batch's evidence.
    each = [_together(evidences) for evidences in batches.values()]
    mean = _together([published, *(_widened(batch) for batch in each)])
    ln_sd = min(published.ln_sd, max(LEAST_LN_SD, _widened(mean).ln_sd))
    return Belief(median=mean.median, ln_sd=ln_sd), set(batches)


def _together(beliefs: Sequence[Belief]) -> Belief:
    """Return independent beliefs in one quantity as one: each weighs by its precision."""
    precision = sum(one.ln_sd**-2 for one in beliefs)
    weighted = sum(one.ln_sd**-2 * log(one.median) for one in beliefs)
    return Belief(median=exp(weighted / precision), ln_sd=precision**-0.5)


def _widened(belief: Belief) -> Belief:
    """Return what a belief in one batch says of another."""
    return Belief(median=belief.median, ln_sd=hypot(belief.ln_sd, BETWEEN_BATCHES_LN_SD))


def _evidence(before: Belief, after: Belief) -> Belief | None:
    """Return what was seen between two beliefs, None where that was nothing."""
    had, has = before.ln_sd**-2, after.ln_sd**-2
    gained = has - had
    if gained < LEAST_GAIN_RATIO * had:
        return None
    weighted = has * log(after.median) - had * log(before.median)
    return Belief(median=exp(weighted / gained), ln_sd=gained**-0.5)
