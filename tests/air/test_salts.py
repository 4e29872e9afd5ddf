"""Salt fixed points against the tabulated values of Greenspan 1977, J. Res. NBS 81A(1):89-96."""

import math

import pytest

from hangroom.air import SALTS, Salt, salt_humidity_pct

# Tabulated by Greenspan at 0, 5, ... 30 degC; printed values may differ by 0.01.
TABLE = {
    Salt.LITHIUM_CHLORIDE: (11.23, 11.27, 11.29, 11.31, 11.31, 11.30, 11.29),
    Salt.MAGNESIUM_CHLORIDE: (33.67, 33.60, 33.48, 33.30, 33.07, 32.79, 32.45),
    Salt.POTASSIUM_CARBONATE: (43.13, 43.14, 43.15, 43.15, 43.16, 43.17, 43.18),
    Salt.MAGNESIUM_NITRATE: (60.35, 58.86, 57.37, 55.88, 54.39, 52.90, 51.41),
    Salt.SODIUM_CHLORIDE: (75.52, 75.65, 75.68, 75.61, 75.48, 75.30, 75.09),
    Salt.POTASSIUM_CHLORIDE: (88.62, 87.67, 86.78, 85.92, 85.11, 84.35, 83.63),
    Salt.POTASSIUM_SULPHATE: (98.78, 98.48, 98.19, 97.89, 97.60, 97.30, 97.01),
}


@pytest.mark.parametrize("salt", Salt)
def test_every_salt_agrees_with_greenspans_table(salt: Salt) -> None:
    for step, published_pct in enumerate(TABLE[salt]):
        assert salt_humidity_pct(salt, 5.0 * step) == pytest.approx(published_pct, abs=0.02)


# RH = A exp(B / T in kelvin), CRC Handbook of Chemistry and Physics, Wexler; good to 2 %.
@pytest.mark.parametrize(
    ("salt", "a", "b"),
    [
        (Salt.SODIUM_CHLORIDE, 69.20, 25),
        (Salt.POTASSIUM_CHLORIDE, 49.38, 159),
        (Salt.MAGNESIUM_CHLORIDE, 29.26, 34),
        (Salt.POTASSIUM_SULPHATE, 86.75, 34),
    ],
)
def test_a_second_published_formula_agrees_within_its_stated_two_per_cent(
    salt: Salt, a: float, b: float
) -> None:
    for temperature_c in (10.0, 20.0, 25.0, 30.0):
        assert salt_humidity_pct(salt, temperature_c) == pytest.approx(
            a * math.exp(b / (temperature_c + 273.15)), rel=0.02
        )


def test_lithium_chloride_does_not_carry_the_minus_sign_of_two_copies() -> None:
    # With the minus sign 25 degC gives 10.89; Greenspan prints 11.30.
    assert salt_humidity_pct(Salt.LITHIUM_CHLORIDE, 25.0) == pytest.approx(11.30, abs=0.02)
    # padfield.org prints potassium carbonate as rising, 43.1 to 43.2.
    assert salt_humidity_pct(Salt.POTASSIUM_CARBONATE, 30) > salt_humidity_pct(
        Salt.POTASSIUM_CARBONATE, 0
    )


@pytest.mark.parametrize("salt", Salt)
def test_a_jar_outside_the_salts_range_is_refused(salt: Salt) -> None:
    for temperature_c in (-0.1, SALTS[salt].highest_c + 0.1, math.nan):
        with pytest.raises(ValueError, match=r"temperature of the .* jar"):
            salt_humidity_pct(salt, temperature_c)
