"""Units between the store (SI) and the keeper.

Sources: NIST SP 811 (2008), appendix B: 1 oz avoirdupois = 28.349 523 125 g exactly, 1 in = 25.4 mm
exactly, degF = degC x 1.8 + 32; the fixed points of the two temperature scales.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hangroom.errors import InputError
from hangroom.units import (
    LengthUnit,
    TemperatureUnit,
    Units,
    WeightUnit,
    length_shown,
    length_stored,
    say_duration,
    say_length,
    say_temperature,
    say_weight,
    temperature_shown,
    temperature_stored,
    typed_number,
    weight_shown,
    weight_stored,
)

METRIC = Units()
US = Units(temperature=TemperatureUnit.FAHRENHEIT, weight=WeightUnit.OUNCE, length=LengthUnit.INCH)


@pytest.mark.parametrize(
    ("celsius", "fahrenheit"),
    [(0, 32), (100, 212), (-40, -40), (37, 98.6), (13, 55.4)],
)
def test_temperatures_agree_at_the_fixed_points(celsius: float, fahrenheit: float) -> None:
    assert temperature_shown(celsius, US) == pytest.approx(fahrenheit)
    assert temperature_stored(str(fahrenheit), US) == pytest.approx(celsius)
    assert temperature_shown(celsius, METRIC) == celsius
    assert temperature_stored(str(celsius), METRIC) == celsius


def test_a_pound_is_sixteen_ounces_and_an_inch_is_exact() -> None:
    assert weight_shown(453.59237, US) == pytest.approx(16, rel=1e-12)
    assert weight_stored("16", US) == pytest.approx(453.59237, rel=1e-12)
    assert length_shown(25.4, US) == 1.0
    assert length_stored("0.5", US) == pytest.approx(12.7)
    assert weight_stored("71.4", METRIC) == 71.4
    assert length_stored("18,5", METRIC) == 18.5


@given(st.floats(1, 9999), st.sampled_from([METRIC, US]))
def test_what_is_shown_can_be_typed_back(value: float, units: Units) -> None:
    def typed(shown: float) -> str:
        return f"{shown:.6f}"

    assert weight_stored(typed(weight_shown(value, units)), units) == pytest.approx(value, abs=1e-4)
    assert length_stored(typed(length_shown(value, units)), units) == pytest.approx(value, abs=1e-4)
    assert temperature_stored(typed(temperature_shown(value, units)), units) == pytest.approx(
        value, abs=1e-4
    )


def test_figures_are_said_with_their_unit() -> None:
    assert say_temperature(13.06, METRIC) == "13.1 °C"
    assert say_temperature(13.0, US) == "55.4 °F"
    assert say_weight(71.44, METRIC) == "71.4 g"
    assert say_weight(71.44, US) == "2.52 oz"
    assert say_length(18.5, METRIC) == "18.5 mm"
    assert say_length(18.5, US) == "0.73 in"


@pytest.mark.parametrize(
    ("duration_s", "said"),
    [
        (-5, "0 s"),
        (0, "0 s"),
        (40.4, "40 s"),
        (89, "89 s"),
        (90, "2 min"),
        (180, "3 min"),
        (3569, "59 min"),
        (3599, "1 h"),
        (7500, "2 h 5 min"),
        (36_000, "10 h"),
        (38_000, "10 h"),
        (47 * 3600, "47 h"),
        (48 * 3600, "2 days"),
        (3 * 86_400, "3 days"),
    ],
)
def test_durations_are_said_as_a_person_would(duration_s: float, said: str) -> None:
    assert say_duration(duration_s) == said


@pytest.mark.parametrize(
    ("typed", "number"),
    [
        ("71.4", 71.4),
        ("71,4", 71.4),
        (" 71 ", 71.0),
        (".5", 0.5),
        (",5", 0.5),
        ("71.", 71.0),
        ("-2", -2.0),
        ("\N{MINUS SIGN}2,5", -2.5),
    ],
)
def test_a_number_may_have_a_comma_or_a_point(typed: str, number: float) -> None:
    assert typed_number(typed, what="weight") == number


@pytest.mark.parametrize(
    "typed",
    ["", "  ", "1.234,5", "1,234.5", "1e3", "nan", "inf", "71 g", "0x10", "1_000", "--2", ".", "٣"],
)
def test_what_is_no_plain_number_is_asked_for_again(typed: str) -> None:
    with pytest.raises(InputError, match="weight"):
        typed_number(typed, what="weight")


@pytest.mark.parametrize("typed", ["0", "-3", "0.0"])
def test_a_weight_must_be_above_zero(typed: str) -> None:
    with pytest.raises(InputError, match="Weigh it again"):
        weight_stored(typed, METRIC)


def test_a_length_may_be_zero_but_not_below() -> None:
    assert length_stored("0", METRIC) == 0
    with pytest.raises(InputError, match="Measure it again"):
        length_stored("-1", METRIC)
