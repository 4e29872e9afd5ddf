"""What batches teach, held against numerical integration of Bayes' rule and against closed forms."""

import math

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from hangroom.product.forecast import Belief, Beliefs
from hangroom.product.learning import (
    BETWEEN_BATCHES_LN_SD,
    LEAST_LN_SD,
    Kind,
    Taught,
    believed,
    lessons,
    recipe_named,
)

PUBLISHED = Beliefs(
    transfer_kg_per_m2_s_pa=Belief(median=1.2e-8, ln_sd=0.50),
    diffusivity_m2_per_s=Belief(median=6.5e-11, ln_sd=0.45),
)
ROOM, RECIPE = (Kind.ROOM, "closet"), (Kind.RECIPE, "juniper")


def after(transfer: Belief, diffusivity: Belief | None = None) -> Beliefs:
    return Beliefs(
        transfer_kg_per_m2_s_pa=transfer,
        diffusivity_m2_per_s=diffusivity or PUBLISHED.diffusivity_m2_per_s,
    )


def taught(
    batch: int, told: Beliefs, *, before: Beliefs = PUBLISHED, room: str | None = "closet"
) -> Taught:
    return Taught(batch=batch, room=room, recipe="juniper", before=before, after=told)


def seen(median: float, ln_sd: float, before: Belief) -> Belief:
    """The belief after `before` met evidence of that median and width: Bayes, by integration."""

    def density(ln: float) -> float:
        prior = norm.pdf(ln, math.log(before.median), before.ln_sd)
        return float(prior * norm.pdf(math.log(median), ln, ln_sd))

    centre = math.log(before.median)
    whole, mean, square = (
        quad(lambda ln, power=power: density(ln) * (ln - centre) ** power, centre - 6, centre + 6)[
            0
        ]
        for power in (0, 1, 2)
    )
    mean, square = mean / whole, square / whole
    return Belief(median=math.exp(centre + mean), ln_sd=math.sqrt(square - mean**2))


def test_the_next_batch_after_one_is_what_integrating_over_all_rooms_gives() -> None:
    # One batch, whose weights alone say 2.0e-8 give or take 0.25. How the next batch of the same
    # room is distributed, integrated over what the room's mean may be.
    prior = PUBLISHED.transfer_kg_per_m2_s_pa
    told = lessons([taught(1, after(seen(2.0e-8, 0.25, prior)))], published=PUBLISHED)
    means = np.linspace(-25, -12, 26_001)
    posterior = norm.pdf(means, math.log(prior.median), prior.ln_sd) * norm.pdf(
        math.log(2.0e-8), means, math.hypot(0.25, BETWEEN_BATCHES_LN_SD)
    )
    posterior /= posterior.sum()
    mean = float(posterior @ means)
    variance = float(posterior @ (means - mean) ** 2) + BETWEEN_BATCHES_LN_SD**2
    belief = told[ROOM].beliefs.transfer_kg_per_m2_s_pa
    assert math.log(belief.median) == pytest.approx(mean, abs=1e-4)
    assert belief.ln_sd == pytest.approx(math.sqrt(variance), abs=1e-4)
    assert told[ROOM].batches == 1


def test_what_a_group_began_with_counts_once_however_much_it_was() -> None:
    # The same weights, told on top of two different beliefs, teach the same.
    narrow = after(Belief(median=1.6e-8, ln_sd=0.3))
    wide_told = taught(1, after(seen(2e-8, 0.25, PUBLISHED.transfer_kg_per_m2_s_pa)))
    narrow_told = taught(1, after(seen(2e-8, 0.25, narrow.transfer_kg_per_m2_s_pa)), before=narrow)
    one, other = (
        lessons([told], published=PUBLISHED)[ROOM].beliefs.transfer_kg_per_m2_s_pa
        for told in (wide_told, narrow_told)
    )
    assert one.median == pytest.approx(other.median, rel=1e-4)
    assert one.ln_sd == pytest.approx(other.ln_sd, rel=1e-4)


def test_groups_of_one_batch_are_one_batch_and_many_batches_weigh_more() -> None:
    told = after(seen(2e-8, 0.25, PUBLISHED.transfer_kg_per_m2_s_pa))
    of_one = lessons([taught(1, told), taught(1, told)], published=PUBLISHED)[ROOM]
    of_two = lessons([taught(1, told), taught(2, told)], published=PUBLISHED)[ROOM]
    assert (of_one.batches, of_two.batches) == (1, 2)
    published = PUBLISHED.transfer_kg_per_m2_s_pa
    assert published.median < of_one.beliefs.transfer_kg_per_m2_s_pa.median
    assert (
        of_one.beliefs.transfer_kg_per_m2_s_pa.median
        < of_two.beliefs.transfer_kg_per_m2_s_pa.median
        < 2e-8
    )


def test_however_many_agree_the_next_is_believed_no_narrower_than_the_floor() -> None:
    told = after(seen(2e-8, 0.1, PUBLISHED.transfer_kg_per_m2_s_pa))
    many = lessons([taught(n, told) for n in range(200)], published=PUBLISHED)[ROOM]
    assert many.beliefs.transfer_kg_per_m2_s_pa.ln_sd == LEAST_LN_SD
    assert many.beliefs.transfer_kg_per_m2_s_pa.median == pytest.approx(2e-8, rel=0.01)


def test_who_learned_nothing_teaches_nothing() -> None:
    assert lessons([taught(1, PUBLISHED)], published=PUBLISHED) == {}
    wider = after(Belief(median=3e-8, ln_sd=0.7))
    assert lessons([taught(1, wider)], published=PUBLISHED) == {}


def test_a_group_of_several_rooms_teaches_its_recipe_alone() -> None:
    told = after(Belief(median=2e-8, ln_sd=0.3))
    assert set(lessons([taught(1, told, room=None)], published=PUBLISHED)) == {RECIPE}


def test_the_next_batch_takes_transfer_from_its_room_and_diffusivity_from_its_recipe() -> None:
    room = after(Belief(median=2e-8, ln_sd=0.3), Belief(median=9e-11, ln_sd=0.3))
    recipe = after(Belief(median=3e-8, ln_sd=0.3), Belief(median=5e-11, ln_sd=0.3))
    learned = {ROOM: room, RECIPE: recipe}
    told = believed(learned, room="closet", recipe="juniper", published=PUBLISHED)
    assert told is not None
    assert told.transfer_kg_per_m2_s_pa == room.transfer_kg_per_m2_s_pa
    assert told.diffusivity_m2_per_s == recipe.diffusivity_m2_per_s
    elsewhere = believed(learned, room="fridge", recipe="juniper", published=PUBLISHED)
    assert elsewhere is not None
    assert elsewhere.transfer_kg_per_m2_s_pa == PUBLISHED.transfer_kg_per_m2_s_pa
    assert believed(learned, room="fridge", recipe="mustard", published=PUBLISHED) is None


def test_a_recipe_is_known_by_its_name_however_it_was_typed() -> None:
    assert recipe_named("  Pork  and Venison ") == recipe_named("pork and venison")
