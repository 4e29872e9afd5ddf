"""Two finishes side by side, and 'as dry as': by moisture:protein ratio, or by yield.

Yields at which a ratio is reached are worked out by hand from USDA's analyses (NDB 10219, 10972,
23572) for 1000 g meat, 17.5 g salt, 2.5 g curing salt, 10 g spice, 30 g water.
"""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hangroom.errors import InputError
from hangroom.product.composition import Makeup, dried
from hangroom.product.curing import CURE_1
from hangroom.product.meats import USDA_MEATS, usda_meat
from hangroom.product.profiles import (
    FinishProfile,
    Likeness,
    as_dry_as,
    finish,
    side_by_side,
)
from hangroom.product.recipe import CuringLine, MeatLine, Recipe
from hangroom.product.water_activity import Estimate
from hangroom.product.yields import Base, BaseWeights, Yield


def batch(ndb: str) -> Makeup:
    return Recipe(
        meats=(MeatLine(meat=usda_meat(ndb), weight_g=1000.0),),
        plain_salt_g=17.5,
        curing=CuringLine(curing_salt=CURE_1, weight_g=2.5),
        water_g=30.0,
        spice_g=10.0,
    ).green


def green(ratio: float) -> Yield:
    return Yield(ratio=ratio, base=Base.GREEN)


# Invented: pulled supple after a day, and dry after three.
SUPPLE = FinishProfile(
    name="batch 3, group A",
    kept=green(0.80),
    weights=BaseWeights(green_g=100.0, cooked_g=90.0, hung_g=88.0),
    hung_h=24.0,
    squeeze=2,
    rating=4,
    green=batch("10219"),
)
DRY = FinishProfile(
    name="batch 3, group B",
    kept=Yield(ratio=0.75, base=Base.HUNG),
    weights=BaseWeights(green_g=80.0, hung_g=70.0),
    hung_h=72.0,
    squeeze=4,
    rating=5,
    green=batch("10219"),
)


def test_two_groups_stand_side_by_side_on_the_bases_they_share() -> None:
    # By hand: A is 80 % of green, 88.9 of cooked, 90.9 of hung; B is 52.5 g: 65.625 and 75 %.
    both = side_by_side(SUPPLE, DRY)
    assert {base: kept.ratio for base, kept in both.first.kept.items()} == pytest.approx(
        {Base.GREEN: 0.80, Base.COOKED: 80 / 90, Base.HUNG: 80 / 88}
    )
    assert {base: kept.ratio for base, kept in both.second.kept.items()} == pytest.approx(
        {Base.GREEN: 0.65625, Base.HUNG: 0.75}
    )
    assert both.drier_pct == pytest.approx({Base.GREEN: 80 - 65.625, Base.HUNG: 100 * 80 / 88 - 75})
    assert both.second.profile.squeeze == 4


def test_the_composition_of_a_finish_is_the_tables_at_its_yield() -> None:
    # Yield 0.80: water 50.5 %, moisture:protein 2.54, water activity 0.933 to 0.944, by hand.
    made = finish(SUPPLE).made
    assert made is not None
    assert made.made.water_pct == pytest.approx(50.5, abs=0.051)
    assert made.made.moisture_protein_ratio == pytest.approx(2.54, abs=0.0051)
    assert isinstance(made.aw, Estimate)
    assert (made.aw.low_aw, made.aw.high_aw) == pytest.approx((0.933, 0.944), abs=0.00051)


def test_without_recipe_or_green_weight_there_is_no_composition() -> None:
    assert finish(replace(SUPPLE, green=None)).made is None
    untied = replace(DRY, weights=BaseWeights(hung_g=70.0))
    assert finish(untied).made is None
    assert finish(untied).kept == {Base.HUNG: DRY.kept}


# At the same ratio each recipe has a yield of its own.
@pytest.mark.parametrize(
    ("pork", "ndb", "expected"),
    [(0.762, "10972", 0.752), (0.698, "10972", 0.684), (0.650, "10972", 0.633), (0.650, "23572", 0.647), (0.698, "10219", 0.698)],
)  # fmt: skip
def test_as_dry_as_another_recipe_goes_by_the_ratio(pork: float, ndb: str, expected: float) -> None:
    target = as_dry_as(replace(SUPPLE, kept=green(pork)), batch(ndb))
    assert target.by is Likeness.RATIO
    assert target.kept.base is Base.GREEN
    # Two printed yields of half a last digit each.
    assert target.kept.ratio == pytest.approx(expected, abs=0.0011)
    assert "parts of water to one of protein" in target.because


@given(
    st.sampled_from(sorted(set(USDA_MEATS) - {"10004"})),
    st.sampled_from(sorted(set(USDA_MEATS) - {"10004"})),
    st.floats(0.5, 0.85),
)
def test_the_target_has_the_ratio_of_the_finish_it_is_like(
    first: str, second: str, ratio: float
) -> None:
    profile = replace(SUPPLE, green=batch(first), kept=green(ratio))
    target = as_dry_as(profile, batch(second))
    made = finish(profile).made
    assert made is not None
    if target.by is Likeness.RATIO:
        there = dried(batch(second), target.kept).moisture_protein_ratio
        assert there == pytest.approx(made.made.moisture_protein_ratio)


@pytest.mark.parametrize(
    ("profile", "mix", "why"),
    [
        pytest.param(replace(DRY, green=None), batch("10972"), "recipe of batch 3, group B is not on record", id="its recipe unknown"),
        pytest.param(DRY, None, "this batch's recipe is not on record", id="ours unknown"),
        pytest.param(replace(SUPPLE, kept=green(1.0)), batch("23557"), "no more water to its protein", id="it was hardly dried"),
    ],
)  # fmt: skip
def test_where_a_recipe_is_missing_the_yield_on_green_is_taken_over_and_said(
    profile: FinishProfile, mix: Makeup | None, why: str
) -> None:
    target = as_dry_as(profile, mix)
    assert target.by is Likeness.YIELD
    assert why in target.because
    assert target.kept.base is Base.GREEN
    assert target.kept.ratio == pytest.approx(0.65625 if profile.name == DRY.name else 1.0)


def test_a_leaner_mix_is_moister_at_the_same_yield() -> None:
    # What the sentence beside a target by yield says: 95/5 beef against 79 % lean pork.
    lean, fat = (dried(batch(ndb), green(0.7)).moisture_protein_ratio for ndb in ("23557", "10219"))
    assert lean is not None
    assert fat is not None
    assert lean > fat


def test_fat_that_dripped_from_the_model_is_reckoned() -> None:
    dripped = replace(SUPPLE, fat_drip_g=20.0)
    assert as_dry_as(dripped, batch("10219")).kept.ratio == pytest.approx(0.80 + 20.0 / 1060.0)


def test_a_yield_that_cannot_be_restated_on_green_is_refused() -> None:
    with pytest.raises(InputError, match="green weight was never taken"):
        as_dry_as(replace(DRY, weights=BaseWeights(hung_g=70.0)), batch("10219"))
