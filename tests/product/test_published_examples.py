"""Published examples that no single rule's own test holds: figures checked across the product."""

import math

import pytest

from hangroom.product.composition import Makeup, yield_at_moisture_protein_ratio
from hangroom.product.curing import CURE_1
from hangroom.product.growth import staphylococcus_growth_ratio
from hangroom.product.meats import SALT_PER_SODIUM_RATIO, usda_meat
from hangroom.product.recipe import CuringLine, MeatLine, Recipe
from hangroom.product.water_activity import (
    FIT_K_HIGH_AW,
    FIT_K_LOW_AW,
    Outside,
    brine_aw,
    brine_molality,
    estimate,
    protein_corrected_aw,
)


# NaCl in water at 25 degC: mol per kg, % by weight, water activity, osmotic coefficient; Pitzer's
# equation worked out apart from this program, with the anchors of Robinson & Stokes 1965.
@pytest.mark.parametrize(
    ("molality", "salt_pct", "aw", "osmotic"),
    [
        (0.5, 2.84, 0.9835, 0.921), (1.0, 5.52, 0.9668, 0.936), (1.5, 8.06, 0.9495, 0.958),
        (2.0, 10.47, 0.9315, 0.984), (2.5, 12.75, 0.9127, 1.014), (3.0, 14.92, 0.8931, 1.046),
        (4.0, 18.95, 0.8515, 1.116), (5.0, 22.61, 0.8068, 1.192), (6.0, 25.96, 0.7594, 1.273),
    ],
)  # fmt: skip
def test_brine_agrees_with_the_table_by_molality(
    molality: float, salt_pct: float, aw: float, osmotic: float
) -> None:
    exact_pct = 100 * 58.443 * molality / (1000 + 58.443 * molality)
    assert exact_pct == pytest.approx(salt_pct, abs=0.0051)
    assert brine_molality(exact_pct) == pytest.approx(molality)
    assert brine_aw(exact_pct) == pytest.approx(aw, abs=6e-5)
    # aw = exp(-2 x osmotic coefficient x molality x 0.018), an instrument maker's manual.
    assert -math.log(brine_aw(exact_pct)) / (2 * molality * 0.018015) == pytest.approx(
        osmotic, abs=0.00051
    )


# USDA SR per 100 g: smoked link of pork and beef, not dried, NDB 07075. Norwegian table 03.475:
# pepperoni, water 35.0, protein 24.3, fat 39.0.
def test_a_smoked_link_that_was_not_dried_has_no_estimate_and_its_brine_is_known() -> None:
    link = Makeup(water_g=53.97, protein_g=12.00, fat_g=28.73, salt_g=0.911 * SALT_PER_SODIUM_RATIO)
    assert link.moisture_protein_ratio == pytest.approx(4.50, abs=0.0051)
    assert link.salt_g == pytest.approx(2.32, abs=0.0051)
    assert link.water_phase_salt_pct == pytest.approx(4.1, abs=0.051)
    assert link.water_phase_salt_pct is not None
    assert brine_aw(link.water_phase_salt_pct) == pytest.approx(0.976, abs=0.00051)
    assert isinstance(estimate(link.water_phase_salt_pct, link.moisture_protein_ratio), Outside)


def test_pepperoni_of_the_norwegian_table_has_its_ratio() -> None:
    pepperoni = Makeup(water_g=35.0, protein_g=24.3, fat_g=39.0)
    assert pepperoni.moisture_protein_ratio == pytest.approx(1.44, abs=0.0051)


# "Critical Limit Summary: Validating Shelf-Stability", Univ. of Wisconsin-Madison: moisture:protein,
# water-phase salt %, measured water activity.
JERKY = [
    (0.8, 14.2, 0.76), (0.7, 15.1, 0.79), (0.7, 14.3, 0.73), (0.7, 10.6, 0.82), (0.6, 17.5, 0.75),
    (0.6, 15.4, 0.69), (0.5, 16.9, 0.71), (0.4, 17.9, 0.72), (0.4, 18.7, 0.68),
]  # fmt: skip
SAUSAGES = [
    (1.6, 8.1, 0.90), (1.5, 9.3, 0.88), (1.4, 10.0, 0.88), (1.1, 16.3, 0.79), (1.0, 17.1, 0.76),
    (1.7, 9.3, 0.87), (2.5, 6.5, 0.92), (1.6, 8.0, 0.87), (0.9, 19.0, 0.76), (1.7, 11.6, 0.88),
    (1.5, 13.1, 0.86), (2.3, 5.6, 0.93), (2.0, 7.1, 0.88), (1.9, 3.2, 0.93),
]  # fmt: skip


def test_salt_alone_overstates_all_23_measured_products() -> None:
    every = JERKY + SAUSAGES
    over = [brine_aw(salt_pct) - aw for _, salt_pct, aw in every]
    assert len(every) == 23
    assert sum(over) / 23 == pytest.approx(0.097, abs=0.0006)


def test_the_upper_edge_of_the_estimate_lies_above_every_sausage_by_0_044_at_most() -> None:
    over = [protein_corrected_aw(salt, mpr, FIT_K_HIGH_AW) - aw for mpr, salt, aw in SAUSAGES]
    assert max(over) == pytest.approx(0.044, abs=0.0006)
    assert min(over) == pytest.approx(0.0, abs=0.0006)
    assert math.sqrt(sum(e * e for e in over) / 14) == pytest.approx(0.022, abs=0.0006)


def test_with_jerky_the_fit_is_k_0_102_and_worse_which_is_why_jerky_is_left_out() -> None:
    errors = [protein_corrected_aw(salt, mpr, 0.102) - aw for mpr, salt, aw in JERKY + SAUSAGES]
    assert math.sqrt(sum(e * e for e in errors) / 23) == pytest.approx(0.024, abs=0.0006)
    assert max(abs(e) for e in errors) == pytest.approx(0.060, abs=0.0006)


def test_beyond_its_range_the_fit_would_call_raw_batter_too_dry() -> None:
    # The pork batch when green: moisture:protein 3.80, water-phase salt 3.00 %; it gives 0.955,
    # where raw batter is about 0.97 to 0.98 (from memory).
    assert protein_corrected_aw(3.00, 3.80, FIT_K_LOW_AW) == pytest.approx(0.955, abs=0.00051)
    assert isinstance(estimate(3.00, 3.80), Outside)


@pytest.mark.parametrize(("ph", "aw"), [(6.0, 0.763), (5.1, 0.943)])
def test_one_chance_in_twenty_of_s_aureus_lies_where_the_equation_says(
    ph: float, aw: float
) -> None:
    # Borneman, Ingham & Ané 2009, solved for P = 0.05 by hand; 0.001 in aw moves P by 0.0014.
    assert staphylococcus_growth_ratio(ph, aw) == pytest.approx(0.05, abs=0.0015)


def test_lean_beef_needs_more_loss_than_pork_for_the_same_ratio() -> None:
    # USDA NDB 23562 (beef 90/10) and 10219 (pork, about 79 % lean), same salt and water.
    def at_1_9(ndb: str) -> float:
        mix = Recipe(
            meats=(MeatLine(meat=usda_meat(ndb), weight_g=1000.0),),
            plain_salt_g=17.5,
            curing=CuringLine(curing_salt=CURE_1, weight_g=2.5),
            water_g=30.0,
            spice_g=10.0,
        )
        found = yield_at_moisture_protein_ratio(mix.green, 1.9)
        assert found is not None
        return found.ratio

    assert at_1_9("23562") < at_1_9("10219")
