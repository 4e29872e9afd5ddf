"""The batch's mass balance against a published table's arithmetic and USDA analyses.

The batch of these tables is invented: 1000 g meat, 17.5 g salt, 2.5 g of a 6.25 % curing salt,
10 g dry spice counted as inert, 30 g water; 1060 g. The meats are USDA's.
"""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hangroom.errors import InputError
from hangroom.product.composition import (
    Makeup,
    dried,
    of_curing_salt,
    of_meat,
    together,
    yield_at_moisture_protein_ratio,
)
from hangroom.product.curing import CURE_1, CURE_2
from hangroom.product.findings import Source, Standing
from hangroom.product.meats import SALT_PER_SODIUM_RATIO, USDA_MEATS, Meat, usda_meat
from hangroom.product.water_activity import (
    FIT_K_HIGH_AW,
    FIT_K_LOW_AW,
    Estimate,
    brine_aw,
    estimate,
    protein_corrected_aw,
)
from hangroom.product.yields import Base, Yield


def batch(ndb: str) -> Makeup:
    return together(
        [
            of_meat(usda_meat(ndb), 1000.0),
            Makeup(salt_g=17.5),
            of_curing_salt(CURE_1, 2.5),
            Makeup(rest_g=10.0),
            Makeup(water_g=30.0),
        ]
    )


def green(ratio: float) -> Yield:
    return Yield(ratio=ratio, base=Base.GREEN)


def test_the_green_batch_weighs_1060_g_and_holds_19_84_g_salt() -> None:
    assert batch("10219").weight_g == pytest.approx(1060.0)
    assert batch("10219").salt_g == pytest.approx(19.84, abs=0.005)


# yield, water %, protein %, fat %, salt %, MPR, WPS %, aw of the brine alone, aw k 0.08, k 0.11;
# worked out by hand from USDA NDB 10219, all loss taken as water. Tolerances: half the last digit.
BALANCE = [
    (1.00, 60.4, 15.9, 20.0, 1.87, 3.80, 3.00, 0.983, None, None),
    (0.90, 56.0, 17.7, 22.2, 2.08, 3.17, 3.58, 0.979, None, None),
    (0.85, 53.5, 18.7, 23.5, 2.20, 2.85, 3.96, 0.977, None, None),
    (0.80, 50.5, 19.9, 25.0, 2.34, 2.54, 4.43, 0.974, 0.944, 0.933),
    (0.75, 47.2, 21.2, 26.7, 2.50, 2.23, 5.02, 0.970, 0.936, 0.923),
    (0.70, 43.5, 22.7, 28.6, 2.67, 1.91, 5.79, 0.965, 0.925, 0.911),
    (0.65, 39.1, 24.5, 30.8, 2.88, 1.60, 6.86, 0.958, 0.911, 0.894),
    (0.60, 34.1, 26.5, 33.3, 3.12, 1.28, 8.39, 0.947, 0.890, 0.869),
    (0.55, 28.1, 29.0, 36.3, 3.40, 0.97, 10.82, 0.929, 0.855, 0.829),
    (0.50, 20.9, 31.8, 40.0, 3.74, 0.66, 15.21, 0.890, None, None),
]


@pytest.mark.parametrize(
    ("ratio", "water", "protein", "fat", "salt", "mpr", "wps", "brine", "high_aw", "low_aw"),
    BALANCE,
)
def test_the_pork_batch_at_every_yield_has_the_tables_composition(
    *,
    ratio: float,
    water: float,
    protein: float,
    fat: float,
    salt: float,
    mpr: float,
    wps: float,
    brine: float,
    high_aw: float | None,
    low_aw: float | None,
) -> None:
    now = dried(batch("10219"), green(ratio))
    assert now.weight_g == pytest.approx(1060.0 * ratio)
    assert now.water_pct == pytest.approx(water, abs=0.051)
    assert now.protein_pct == pytest.approx(protein, abs=0.051)
    assert now.fat_pct == pytest.approx(fat, abs=0.051)
    assert now.salt_pct == pytest.approx(salt, abs=0.0051)
    assert now.moisture_protein_ratio == pytest.approx(mpr, abs=0.0051)
    assert now.water_phase_salt_pct == pytest.approx(wps, abs=0.0051)
    assert now.water_phase_salt_pct is not None
    assert brine_aw(now.water_phase_salt_pct) == pytest.approx(brine, abs=0.00051)
    found = estimate(now.water_phase_salt_pct, now.moisture_protein_ratio)
    if high_aw is None or low_aw is None:
        assert not isinstance(found, Estimate)
    else:
        assert isinstance(found, Estimate)
        assert found.high_aw == pytest.approx(high_aw, abs=0.00051)
        assert found.low_aw == pytest.approx(low_aw, abs=0.00051)


def test_at_three_quarters_the_pork_batch_weighs_795_g() -> None:
    # Worked example: 795 g; water 47.2 %, protein 21.2 %, MPR 2.225, WPS 5.02 %.
    now = dried(batch("10219"), green(0.75))
    assert now.weight_g == pytest.approx(795.0)
    assert now.moisture_protein_ratio == pytest.approx(2.225, abs=0.005)
    assert now.water_phase_salt_pct == pytest.approx(5.02, abs=0.005)


# Yield of the batch at which a moisture:protein ratio is reached: pork 10219, pork 84/16 (10972),
# beef 80/20 (23572); worked out by hand from the USDA analyses.
@pytest.mark.parametrize(
    ("mpr", "pork", "lean_pork", "beef"),
    [
        (3.1, 0.889, 0.888, 0.890),
        (2.3, 0.762, 0.752, 0.761),
        (2.04, 0.721, 0.708, 0.718),
        (1.9, 0.698, 0.684, 0.696),
        (1.6, 0.650, 0.633, 0.647),
        (0.75, 0.515, 0.489, 0.510),
    ],
)
def test_the_yield_at_a_ratio_agrees_with_the_table(
    mpr: float, pork: float, lean_pork: float, beef: float
) -> None:
    for ndb, expected in (("10219", pork), ("10972", lean_pork), ("23572", beef)):
        found = yield_at_moisture_protein_ratio(batch(ndb), mpr)
        assert found is not None
        assert found.base is Base.GREEN
        assert found.ratio == pytest.approx(expected, abs=0.00051)


def test_a_ratio_the_green_batch_already_has_needs_no_drying() -> None:
    assert yield_at_moisture_protein_ratio(batch("10219"), 3.9) is None


def test_a_quarter_of_the_water_is_fifteen_per_cent_of_the_weight() -> None:
    # The AMI definitions speak of moisture removed, the trade of weight lost.
    start = batch("10219")
    now = dried(start, green(1 - 0.25 * start.water_g / start.weight_g))
    assert 100 - 100 * now.weight_g / start.weight_g == pytest.approx(15.1, abs=0.1)


# USDA finished products, per 100 g: water, protein, fat in g, sodium in mg; then MPR, salt %, WPS %
# worked out from them, and the estimate for k 0.11 and 0.08. NDB 07057 changed between releases.
FINISHED = [
    ("19407 beef sticks, smoked", 19.10, 21.50, 49.60, 1531, 0.89, 3.89, 16.9, 0.77, 0.80),
    ("07057 pepperoni, SR26", 30.72, 22.68, 43.98, 1761, 1.35, 4.48, 12.7, 0.84, 0.86),
    ("07057 pepperoni, later SR", 28.55, 19.25, 46.28, 1582, 1.48, 4.02, 12.3, 0.85, 0.87),
    ("07072 dry salami, pork and beef", 41.19, 21.07, 31.65, 1756, 1.95, 4.46, 9.8, 0.88, 0.90),
    ("07071 dry salami, pork", 36.18, 22.58, 33.72, 2260, 1.60, 5.75, 13.7, 0.84, 0.86),
    ("07918 summer sausage sticks", 36.20, 19.43, 37.91, 1483, 1.86, 3.77, 9.4, 0.89, 0.90),
    ("07078 thuringer", 45.18, 17.45, 30.43, 1300, 2.59, 3.30, 6.8, 0.92, 0.93),
    ("19002 beef jerky", 23.36, 33.20, 25.60, 2081, 0.70, 5.29, 18.5, 0.73, 0.77),
]


@pytest.mark.parametrize(
    ("food", "water", "protein", "fat", "sodium", "mpr", "salt", "wps", "low_aw", "high_aw"),
    FINISHED,
)
def test_usda_finished_products_are_reproduced(
    *,
    food: str,
    water: float,
    protein: float,
    fat: float,
    sodium: float,
    mpr: float,
    salt: float,
    wps: float,
    low_aw: float,
    high_aw: float,
) -> None:
    meat = Meat(
        name=food,
        water_pct=water,
        protein_pct=protein,
        fat_pct=fat,
        sodium_mg_per_100g=sodium,
        source=Source("USDA SR", Standing.SEEN),
    )
    made = Makeup(water_g=water, protein_g=protein, fat_g=fat, salt_g=meat.salt_pct)
    wps_pct, ratio = made.water_phase_salt_pct, made.moisture_protein_ratio
    assert wps_pct is not None
    assert ratio is not None
    assert ratio == pytest.approx(mpr, abs=0.0051)
    assert meat.salt_pct == pytest.approx(salt, abs=0.0051)
    assert wps_pct == pytest.approx(wps, abs=0.051)
    # Two of the estimates are printed rounded outwards, so a whole last digit is allowed.
    assert protein_corrected_aw(wps_pct, ratio, FIT_K_LOW_AW) == pytest.approx(low_aw, abs=0.01)
    assert protein_corrected_aw(wps_pct, ratio, FIT_K_HIGH_AW) == pytest.approx(high_aw, abs=0.01)


# The last digits of three worked examples: water, protein, sodium; MPR, salt %, WPS %.
@pytest.mark.parametrize(
    ("water", "protein", "sodium", "mpr", "salt", "wps"),
    [(19.10, 21.50, 1531, 0.888, 3.89, 16.92), (28.55, 19.25, 1582, 1.483, 4.02, 12.35)],
)
def test_beef_sticks_and_pepperoni_agree_to_the_worked_examples_last_digit(
    *, water: float, protein: float, sodium: float, mpr: float, salt: float, wps: float
) -> None:
    salt_g = sodium / 1000 * SALT_PER_SODIUM_RATIO
    made = Makeup(water_g=water, protein_g=protein, salt_g=salt_g)
    assert made.moisture_protein_ratio == pytest.approx(mpr, abs=0.001)
    assert salt_g == pytest.approx(salt, abs=0.01)
    assert made.water_phase_salt_pct == pytest.approx(wps, abs=0.01)


def test_salt_per_sodium_is_the_ratio_of_the_molar_masses() -> None:
    # IUPAC standard atomic weights: Na 22.98977, Cl 35.453.
    assert pytest.approx((22.98977 + 35.453) / 22.98977, rel=1e-4) == SALT_PER_SODIUM_RATIO


@pytest.mark.parametrize(
    ("ndb", "mpr"),
    [
        ("10219", 3.62),
        ("10972", 3.59),
        ("10973", 3.49),
        ("10080", 3.97),
        ("13498", 3.78),
        ("23577", 3.69),
        ("23572", 3.60),
        ("23567", 3.53),
        ("23562", 3.47),
        ("23472", 3.44),
        ("23557", 3.42),
        ("17343", 3.27),
        ("05668", 4.13),
    ],
)
def test_usda_raw_meats_have_their_moisture_protein_ratio(ndb: str, mpr: float) -> None:
    assert of_meat(usda_meat(ndb), 500.0).moisture_protein_ratio == pytest.approx(mpr, abs=0.0051)


def test_every_usda_analysis_adds_to_a_hundred_and_names_its_number() -> None:
    # Each part is analysed by itself; carbohydrate is nil in meat. 2 % is the keeper's own bound too.
    for ndb, meat in USDA_MEATS.items():
        assert meat.water_pct + meat.protein_pct + meat.fat_pct + meat.ash_pct == pytest.approx(
            100, abs=1.2
        )
        assert f"NDB {ndb}" in meat.source.cites
        assert meat.poultry == meat.name.startswith(("Turkey", "Chicken"))


makeups = st.builds(
    Makeup,
    water_g=st.floats(50, 5000),
    protein_g=st.floats(10, 2000),
    fat_g=st.floats(0, 3000),
    salt_g=st.floats(1, 200),
    rest_g=st.floats(0, 200),
)


@given(makeups, st.floats(0, 0.999), st.floats(0, 1))
def test_water_out_and_fat_dripped_are_the_weight_lost_and_the_rest_is_kept(
    start: Makeup, water_lost_share: float, drip_share: float
) -> None:
    drip_g = drip_share * start.fat_g
    lost_g = water_lost_share * start.water_g + drip_g
    now = dried(start, green(1 - lost_g / start.weight_g), fat_drip_g=drip_g)
    close = 1e-9 * start.weight_g
    assert start.weight_g - now.weight_g == pytest.approx(lost_g, abs=close)
    assert start.water_g - now.water_g == pytest.approx(lost_g - drip_g, abs=close)
    assert start.fat_g - now.fat_g == pytest.approx(drip_g, abs=close)
    assert (now.protein_g, now.salt_g, now.rest_g) == (start.protein_g, start.salt_g, start.rest_g)


@given(makeups, st.floats(0.3, 4), st.floats(0, 0.5))
def test_drying_to_the_yield_of_a_ratio_gives_that_ratio(
    start: Makeup, wanted: float, drip_share: float
) -> None:
    drip_g = drip_share * start.fat_g
    at = yield_at_moisture_protein_ratio(start, wanted, fat_drip_g=drip_g)
    if at is not None:
        assert dried(start, at, fat_drip_g=drip_g).moisture_protein_ratio == pytest.approx(wanted)


def test_cure_2_brings_less_salt_than_cure_1() -> None:
    # US mixes: #1 is 93.75 % salt, #2 is 89.75 %.
    assert of_curing_salt(CURE_1, 100).salt_g == pytest.approx(93.75)
    assert of_curing_salt(CURE_2, 100).salt_g == pytest.approx(89.75)


def test_a_yield_that_would_need_more_water_than_there_is_is_refused() -> None:
    with pytest.raises(InputError, match=r"holds 640\.6 g"):
        dried(batch("10219"), green(0.3))


def test_a_yield_on_hung_weight_does_not_pass_for_one_on_green_weight() -> None:
    with pytest.raises(InputError, match="hung weight"):
        dried(batch("10219"), Yield(ratio=0.8, base=Base.HUNG))


@pytest.mark.parametrize(
    ("water_pct", "protein_pct", "fat_pct", "sodium_mg_per_100g"),
    [
        pytest.param(101.0, 0.0, 0.0, 60.0, id="more water than meat"),
        pytest.param(60.0, 18.0, -1.0, 60.0, id="fat below zero"),
        pytest.param(60.0, math.nan, 21.0, 60.0, id="protein is no number"),
        pytest.param(80.0, 18.0, 30.0, 60.0, id="shares beyond the whole"),
        pytest.param(60.0, 18.0, 21.0, -5.0, id="sodium below zero"),
    ],
)
def test_an_analysis_that_cannot_be_is_refused(
    water_pct: float, protein_pct: float, fat_pct: float, sodium_mg_per_100g: float
) -> None:
    with pytest.raises(InputError, match="own pork"):
        Meat(
            name="own pork",
            water_pct=water_pct,
            protein_pct=protein_pct,
            fat_pct=fat_pct,
            sodium_mg_per_100g=sodium_mg_per_100g,
            source=Source("the keeper", Standing.SEEN),
        )


def test_a_meat_that_is_not_in_the_table_is_answered_with_those_that_are() -> None:
    with pytest.raises(InputError, match="17343 Venison"):
        usda_meat("99999")


def test_a_negative_weight_and_an_empty_batch_are_refused() -> None:
    with pytest.raises(InputError, match="weight of"):
        of_meat(usda_meat("17343"), -1.0)
    with pytest.raises(InputError, match="batch's weight"):
        _ = Makeup().water_pct
    assert Makeup(fat_g=10.0).moisture_protein_ratio is None
    assert Makeup(fat_g=10.0).water_phase_salt_pct is None
