"""The batch from green to dry: a mass balance, with fat that drips in the cook.

The batch is invented: 1000 g pork (USDA NDB 10219), 17.5 g salt, 2.5 g of a 6.25 % curing salt,
10 g dry spice, 30 g water; 1060 g.
"""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from hangroom.errors import InputError
from hangroom.product.composition import Makeup
from hangroom.product.curing import CURE_1
from hangroom.product.geometry import Size
from hangroom.product.meats import usda_meat
from hangroom.product.progress import (
    Start,
    cook_loss,
    progress,
    progress_at,
    yield_at_ratio,
)
from hangroom.product.recipe import CuringLine, MeatLine, Recipe
from hangroom.product.water_activity import Estimate, Outside
from hangroom.product.yields import Base, BaseWeights, Yield

PORK = Recipe(
    meats=(MeatLine(meat=usda_meat("10219"), weight_g=1000.0),),
    plain_salt_g=17.5,
    curing=CuringLine(curing_salt=CURE_1, weight_g=2.5),
    water_g=30.0,
    spice_g=10.0,
).green
# An invented stick of it: 88 % left after the cook, 85 % as hung.
STICK = BaseWeights(green_g=100.0, cooked_g=88.0, hung_g=85.0)


def on(base: Base, *ratios: float) -> list[Yield]:
    return [Yield(ratio=ratio, base=base) for ratio in ratios]


# Yield; water, protein, fat, salt in %; moisture:protein; water-phase salt %; water activity of the
# brine alone, then as estimated; worked out by hand from the USDA analysis.
TABLE = [
    (1.00, 60.4, 15.9, 20.0, 1.87, 3.80, 3.00, 0.983, None, None),
    (0.80, 50.5, 19.9, 25.0, 2.34, 2.54, 4.43, 0.974, 0.933, 0.944),
    (0.75, 47.2, 21.2, 26.7, 2.50, 2.23, 5.02, 0.970, 0.923, 0.936),
    (0.60, 34.1, 26.5, 33.3, 3.12, 1.28, 8.39, 0.947, 0.869, 0.890),
    (0.50, 20.9, 31.8, 40.0, 3.74, 0.66, 15.21, 0.890, None, None),
]


def test_the_table_over_yield_agrees_with_the_one_by_hand() -> None:
    rows = progress(Start(green=PORK), on(Base.GREEN, *(row[0] for row in TABLE)))
    for row, expected in zip(rows, TABLE, strict=True):
        ratio, water, protein, fat, salt, mpr, wps, brine, low_aw, high_aw = expected
        made = row.made
        assert row.kept == {Base.GREEN: Yield(ratio=ratio, base=Base.GREEN)}
        assert (made.water_pct, made.protein_pct, made.fat_pct) == pytest.approx(
            (water, protein, fat), abs=0.051
        )
        assert made.salt_pct == pytest.approx(salt, abs=0.0051)
        assert made.moisture_protein_ratio == pytest.approx(mpr, abs=0.0051)
        assert made.water_phase_salt_pct == pytest.approx(wps, abs=0.0051)
        assert row.salt_alone_aw == pytest.approx(brine, abs=0.00051)
        if low_aw is None:
            assert isinstance(row.aw, Outside)
        else:
            assert isinstance(row.aw, Estimate)
            assert (row.aw.low_aw, row.aw.high_aw) == pytest.approx((low_aw, high_aw), abs=0.00051)


def test_why_there_is_no_estimate_is_said_at_both_ends() -> None:
    # The measured products span moisture:protein 0.9 to 2.5.
    wet, dry = progress(Start(green=PORK), on(Base.GREEN, 1.0, 0.5))
    assert isinstance(wet.aw, Outside)
    assert isinstance(dry.aw, Outside)
    assert "Too moist" in wet.aw.reason
    assert "Too dry" in dry.aw.reason


def test_one_stick_has_its_yield_named_on_all_three_bases() -> None:
    # By hand: 66 g of 100, 88 and 85.
    (row,) = progress(Start(green=PORK, weights=STICK), on(Base.HUNG, 66 / 85))
    assert {base: kept.ratio for base, kept in row.kept.items()} == pytest.approx(
        {Base.GREEN: 0.66, Base.COOKED: 0.75, Base.HUNG: 66 / 85}
    )
    assert all(kept.base is base for base, kept in row.kept.items())
    assert row.made.weight_g == pytest.approx(0.66 * 1060.0)


def test_a_base_that_was_never_weighed_is_left_out_or_refused_when_asked_for() -> None:
    partly = Start(green=PORK, weights=BaseWeights(green_g=100.0, hung_g=85.0))
    assert set(progress_at(partly, Yield(ratio=0.7, base=Base.GREEN)).kept) == {
        Base.GREEN,
        Base.HUNG,
    }
    with pytest.raises(InputError, match="cooked weight was never taken"):
        progress_at(partly, Yield(ratio=0.7, base=Base.COOKED))


def test_the_cooks_loss_is_parted_into_water_and_the_fat_that_dripped() -> None:
    # 12 % of 1060 g are 127.2 g; 20 g of it were fat in the pan.
    lost = cook_loss(Start(green=PORK, weights=STICK, fat_drip_g=20.0))
    assert lost.kept == Yield(ratio=0.88, base=Base.GREEN)
    assert lost.water_g == pytest.approx(107.2)
    assert lost.fat_g == 20.0
    with pytest.raises(InputError, match="cooked weight was never taken"):
        cook_loss(Start(green=PORK, weights=BaseWeights(green_g=100.0)))


def test_fat_drips_in_the_cook_and_not_on_the_rail() -> None:
    start = Start(green=PORK, weights=STICK, fat_drip_g=20.0)
    fat_g = [row.made.fat_g for row in progress(start, on(Base.GREEN, 1.0, 0.94, 0.88, 0.70))]
    # By hand: half the cook's loss is half the drip.
    assert fat_g == pytest.approx([211.9, 201.9, 191.9, 191.9])


def test_more_fat_than_the_cook_lost_is_refused() -> None:
    with pytest.raises(InputError, match=r"took only 127\.2 g"):
        Start(green=PORK, weights=STICK, fat_drip_g=130.0)
    with pytest.raises(InputError, match="cooked weight was never taken"):
        Start(green=PORK, weights=BaseWeights(green_g=100.0), fat_drip_g=10.0)
    with pytest.raises(InputError, match="fat that dripped"):
        Start(green=PORK, weights=STICK, fat_drip_g=-1.0)


makeups = st.builds(
    Makeup,
    water_g=st.floats(200, 5000),
    protein_g=st.floats(50, 2000),
    fat_g=st.floats(10, 3000),
    salt_g=st.floats(1, 200),
    rest_g=st.floats(0, 200),
)


@given(makeups, st.floats(0.01, 0.99), st.floats(0, 0.9), st.floats(0, 1))
def test_water_out_and_fat_dripped_are_the_weight_lost_and_the_rest_is_kept(
    green: Makeup, cook_share: float, drip_share: float, dry_share: float
) -> None:
    # The cook takes a share of the water and of the fat at once; the rail takes water alone.
    cook_water_g = 0.5 * cook_share * green.water_g
    drip_g = drip_share * green.fat_g
    cooked = 1 - (cook_water_g + drip_g) / green.weight_g
    rail_water_g = 0.99 * dry_share * (green.water_g - cook_water_g)
    now = cooked - rail_water_g / green.weight_g
    start = Start(
        green=green,
        weights=BaseWeights(green_g=100.0, cooked_g=100.0 * cooked),
        fat_drip_g=drip_g,
    )
    made = progress_at(start, Yield(ratio=now, base=Base.GREEN)).made
    close = 1e-6 * green.weight_g
    assert made.weight_g == pytest.approx(now * green.weight_g, abs=close)
    assert made.fat_g == pytest.approx(green.fat_g - drip_g, abs=close)
    assert made.water_g == pytest.approx(green.water_g - cook_water_g - rail_water_g, abs=close)
    assert (made.protein_g, made.salt_g, made.rest_g) == (
        green.protein_g,
        green.salt_g,
        green.rest_g,
    )


@pytest.mark.parametrize(
    ("wanted", "ratio"), [(3.1, 0.889), (2.3, 0.762), (1.9, 0.698), (1.6, 0.650), (0.75, 0.515)]
)
def test_the_yield_at_a_ratio_is_given_on_the_base_asked_for(wanted: float, ratio: float) -> None:
    # Worked out by hand from the USDA analysis, on green weight.
    start = Start(green=PORK, weights=STICK)
    green, hung = (yield_at_ratio(start, wanted, base) for base in (Base.GREEN, Base.HUNG))
    assert green is not None
    assert hung is not None
    assert green.base is Base.GREEN
    assert green.ratio == pytest.approx(ratio, abs=0.00051)
    assert hung.base is Base.HUNG
    assert hung.ratio == pytest.approx(ratio / 0.85, abs=0.0007)
    assert yield_at_ratio(start, 3.9) is None


@given(makeups, st.floats(0.5, 4), st.floats(0.6, 0.95), st.floats(0, 0.9))
def test_at_the_yield_of_a_ratio_the_batch_has_that_ratio_whatever_drips(
    green: Makeup, wanted: float, cooked: float, drip_share: float
) -> None:
    lost_g = green.weight_g * (1 - cooked)
    assume(lost_g * (1 - drip_share) < green.water_g)
    drip_g = min(green.fat_g, drip_share * lost_g)
    start = Start(
        green=green,
        weights=BaseWeights(green_g=100.0, cooked_g=100.0 * cooked),
        fat_drip_g=drip_g,
    )
    found = yield_at_ratio(start, wanted)
    ratio = green.moisture_protein_ratio
    assert ratio is not None
    assert (found is None) == (ratio <= wanted)
    if found is not None:
        there = progress_at(start, found).made.moisture_protein_ratio
        assert there == pytest.approx(wanted)


def test_a_stick_measured_as_hung_shrinks_from_there() -> None:
    # Volume left is 1 - 1.06 x loss: 0.841 as hung at 85 %, 0.682 at 70 %. Across only the diameter
    # goes with the root of 0.682 / 0.841, all round both go with the cube root.
    start = Start(
        green=PORK,
        weights=STICK,
        size=Size(diameter_mm=18.0, length_mm=240.0),
        size_at=Yield(ratio=1.0, base=Base.HUNG),
    )
    there, now = progress(start, on(Base.GREEN, 0.85, 0.70))
    assert there.size is not None
    assert there.size.across_only.diameter_mm == pytest.approx(18.0)
    assert there.size.all_round.length_mm == pytest.approx(240.0)
    assert now.size is not None
    left = 0.682 / 0.841
    assert now.size.across_only.diameter_mm == pytest.approx(18.0 * left**0.5)
    assert now.size.across_only.length_mm == pytest.approx(240.0)
    assert now.size.all_round.diameter_mm == pytest.approx(18.0 * left ** (1 / 3))
    assert now.size.all_round.length_mm == pytest.approx(240.0 * left ** (1 / 3))


def test_a_brine_beyond_saturation_has_no_water_activity_of_its_own() -> None:
    # Salt dissolves in water to 26.4 % at 25 degC: 20 g in 60 g is 25 %, in 50 g 28.6 %.
    start = Start(green=Makeup(water_g=100.0, protein_g=80.0, salt_g=20.0))
    below, beyond = progress(start, on(Base.GREEN, 0.80, 0.75))
    assert below.salt_alone_aw is not None
    assert beyond.salt_alone_aw is None
