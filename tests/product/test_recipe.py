"""Recipes against published curing sums; the pork and venison stick is invented."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hangroom.errors import InputError
from hangroom.product.cure_limits import Cut
from hangroom.product.curing import CURE_1, CURE_2, CuringSalt, LabelPercent
from hangroom.product.findings import Answer
from hangroom.product.meats import USDA_MEATS, usda_meat
from hangroom.product.recipe import (
    CuringLine,
    Erythorbate,
    ErythorbateLine,
    MeatLine,
    Recipe,
    curing_sums,
    judge_recipe,
)

PORK = usda_meat("10219")
POLISH = CuringSalt(name="0.6 % curing salt", nitrite=LabelPercent(0.6))

# Invented: pork with venison, juniper and mustard seed; 2.5 g of a 6.25 % mix to the kilogram.
STICKS = Recipe(
    meats=(
        MeatLine(meat=PORK, weight_g=600.0),
        MeatLine(meat=usda_meat("17343"), weight_g=400.0),
    ),
    plain_salt_g=17.5,
    curing=CuringLine(curing_salt=CURE_1, weight_g=2.5),
    water_g=30.0,
    sugar_g=4.0,
    spice_g=10.0,
    acidulant_g=6.0,
    erythorbate=ErythorbateLine(kind=Erythorbate.SODIUM, weight_g=0.5),
)


def on_a_kilogram(mix: CuringSalt, mix_g: float, plain_salt_g: float = 0.0) -> Recipe:
    return Recipe(
        meats=(MeatLine(meat=PORK, weight_g=1000.0),),
        plain_salt_g=plain_salt_g,
        curing=CuringLine(curing_salt=mix, weight_g=mix_g),
    )


def test_the_batch_of_the_published_arithmetic_weighs_1060_g() -> None:
    # 1000 g pork (USDA NDB 10219), 17.5 g salt, 2.5 g of a 6.25 % mix, 10 g spice, 30 g water:
    # 60.4 % water, 15.9 % protein, 20.0 % fat, 19.84 g salt, worked out by hand.
    batch = replace(on_a_kilogram(CURE_1, 2.5, 17.5), spice_g=10.0, water_g=30.0)
    green = batch.green
    assert green.weight_g == pytest.approx(1060.0)
    assert green.salt_g == pytest.approx(19.84, abs=0.005)
    assert (green.water_pct, green.protein_pct, green.fat_pct) == pytest.approx(
        (60.4, 15.9, 20.0), abs=0.051
    )
    assert batch.meat_green_g == 1000.0


def test_every_line_is_in_the_green_mix_and_only_meat_is_the_base() -> None:
    # By hand: 600 x 0.6106 + 400 x 0.7115 + 30 water; 600 x 0.1688 + 400 x 0.2178 protein.
    green = STICKS.green
    assert green.weight_g == pytest.approx(1070.5)
    assert green.water_g == pytest.approx(366.36 + 284.6 + 30.0)
    assert green.protein_g == pytest.approx(101.28 + 87.12)
    assert green.salt_g == pytest.approx(17.5 + 0.9375 * 2.5)
    assert STICKS.meat_green_g == 1000.0


def test_the_sums_stand_on_the_meat_alone() -> None:
    # Processing Inspectors' Calculations Handbook, ch. 3: 156.25 ppm on the meat; on meat, water
    # and mix it would be 151.3. 0.5 g erythorbate to the kilogram is 500 ppm.
    sums = curing_sums(STICKS, wanted_nitrite_ppm=120.0)
    assert sums.nitrite is not None
    assert sums.nitrate is not None
    assert sums.salt is not None
    assert sums.erythorbate is not None
    assert sums.dose is not None
    assert sums.nitrite.result_ppm == pytest.approx(156.25)
    assert sums.nitrate.result_ppm == 0.0
    assert sums.salt.result_pct == pytest.approx(1.984375)
    assert sums.erythorbate.result_ppm == pytest.approx(500.0)
    assert sums.dose.result_g == pytest.approx(1.92)
    assert sums.nitrite.working.inputs["meat_green_g"] == 1000.0


@pytest.mark.parametrize(
    ("mix", "mix_g", "nitrite_ppm", "nitrate_ppm", "salt_pct"),
    [
        pytest.param(CURE_2, 2.5, 156.25, 100.0, 0.2244, id="US cure #2, 89.75 % salt"),
        pytest.param(POLISH, 15.0, 90.0, 0.0, 1.491, id="Polish dried sausage, published recipe"),
        pytest.param(
            CuringSalt(name="UK mix", nitrite=LabelPercent(5.88)), 2.65, 155.8, 0.0, 0.2494,
            id="a UK mix of 5.88 %",
        ),
    ],
)  # fmt: skip
def test_other_mixes_work_by_their_label(
    mix: CuringSalt, mix_g: float, nitrite_ppm: float, nitrate_ppm: float, salt_pct: float
) -> None:
    sums = curing_sums(on_a_kilogram(mix, mix_g))
    assert sums.nitrite is not None
    assert sums.nitrate is not None
    assert sums.salt is not None
    assert sums.nitrite.result_ppm == pytest.approx(nitrite_ppm, abs=0.05)
    assert sums.nitrate.result_ppm == pytest.approx(nitrate_ppm)
    assert sums.salt.result_pct == pytest.approx(salt_pct, abs=0.0001)


def test_a_european_mix_dosed_like_a_us_one_hardly_cures_and_the_dose_says_so() -> None:
    # 2.5 g of 0.6 %: 15 ppm. By its label 120 ppm needs 20 g.
    thin = on_a_kilogram(POLISH, 2.5)
    sums = curing_sums(thin, wanted_nitrite_ppm=120.0)
    assert sums.nitrite is not None
    assert sums.nitrite.result_ppm == pytest.approx(15.0)
    assert [finding.answer for finding in judge_recipe(thin)] == [Answer.MET, Answer.NOT_MET]
    assert sums.dose is not None
    assert sums.dose.result_g == pytest.approx(20.0)


@given(
    st.lists(st.tuples(st.sampled_from(sorted(USDA_MEATS)), st.floats(1, 5000)), min_size=1, max_size=5),
    st.tuples(*[st.floats(0, 300)] * 7),
    st.sampled_from([CURE_1, CURE_2, POLISH, None]),
)  # fmt: skip
def test_the_green_mix_weighs_what_its_lines_weigh(
    meats: list[tuple[str, float]], others: tuple[float, ...], mix: CuringSalt | None
) -> None:
    salt_g, mix_g, water_g, sugar_g, spice_g, acidulant_g, erythorbate_g = others
    recipe = Recipe(
        meats=tuple(MeatLine(meat=usda_meat(ndb), weight_g=meat_g) for ndb, meat_g in meats),
        plain_salt_g=salt_g,
        curing=None if mix is None else CuringLine(curing_salt=mix, weight_g=mix_g),
        water_g=water_g,
        sugar_g=sugar_g,
        spice_g=spice_g,
        acidulant_g=acidulant_g,
        erythorbate=ErythorbateLine(kind=Erythorbate.ACID, weight_g=erythorbate_g),
    )
    lines_g = sum(others) - (mix_g if mix is None else 0.0) + sum(meat_g for _, meat_g in meats)
    assert recipe.green.weight_g == pytest.approx(lines_g)


def test_a_cure_that_is_not_on_record_is_not_shown_and_none_at_all_is_not_met() -> None:
    # Comminuted, refrigerated: at most 156, at least 120 ppm (the handbook, and its p. 12).
    unknown = replace(STICKS, curing=None, erythorbate=None)
    assert curing_sums(unknown, wanted_nitrite_ppm=150.0).dose is None
    for recipe in (unknown, None):
        assert [f.answer for f in judge_recipe(recipe)] == [Answer.NOT_SHOWN, Answer.NOT_SHOWN]
    none = replace(unknown, curing=CuringLine(curing_salt=CURE_1, weight_g=0.0))
    assert [f.answer for f in judge_recipe(none)] == [Answer.MET, Answer.NOT_MET]


def test_nitrate_and_erythorbate_are_judged_where_they_went_in() -> None:
    # 9 CFR 424.21(c), from memory: 547 ppm of the sodium salt, 469 ppm of the acid, 1718 nitrate.
    acid = replace(
        on_a_kilogram(CURE_2, 2.5),
        erythorbate=ErythorbateLine(kind=Erythorbate.ACID, weight_g=0.5),
    )
    found = judge_recipe(acid)
    assert ["nitrite" in f.what for f in found] == [True, True, False, False]
    assert "nitrate at most 1718" in found[2].what
    assert "acid at most 469" in found[3].what
    assert [f.answer for f in found[2:]] == [Answer.NOT_SHOWN, Answer.NOT_MET]
    sodium = judge_recipe(STICKS)[-1]
    assert "sodium erythorbate or ascorbate at most 547" in sodium.what
    assert sodium.answer is Answer.NOT_SHOWN
    # No nitrate limit for bacon was at hand, and shelf-stable product has no minimum of nitrite.
    assert len(judge_recipe(on_a_kilogram(CURE_2, 2.5), Cut.PUMPED_BACON)) == 2
    assert len(judge_recipe(on_a_kilogram(CURE_1, 2.5), keep_refrigerated=False)) == 1


def test_poultry_is_known_by_its_meat() -> None:
    turkey = MeatLine(meat=usda_meat("05668"), weight_g=100.0)
    assert not STICKS.poultry
    assert replace(STICKS, meats=(*STICKS.meats, turkey)).poultry
    assert not replace(STICKS, meats=(*STICKS.meats, replace(turkey, weight_g=0.0))).poultry


@pytest.mark.parametrize("weight_g", [-1.0, math.nan])
@pytest.mark.parametrize(
    "line",
    ["plain_salt_g", "water_g", "sugar_g", "spice_g", "acidulant_g", "meats", "curing", "erythorbate"],
)  # fmt: skip
def test_a_line_that_cannot_be_is_refused(line: str, weight_g: float) -> None:
    wrong: dict[str, object] = {
        "meats": (MeatLine(meat=PORK, weight_g=weight_g), *STICKS.meats),
        "curing": CuringLine(curing_salt=CURE_1, weight_g=weight_g),
        "erythorbate": ErythorbateLine(kind=Erythorbate.ACID, weight_g=weight_g),
    }
    with pytest.raises(InputError, match="the weight of"):
        replace(STICKS, **{line: wrong.get(line, weight_g)})  # type: ignore[arg-type]


def test_a_recipe_without_meat_is_refused() -> None:
    for meats in ((), (MeatLine(meat=PORK, weight_g=0.0),)):
        with pytest.raises(InputError, match="green weight of the meat"):
            Recipe(meats=meats)
