"""Between what is stored (SI) and what the keeper reads and types."""

import re
from dataclasses import dataclass
from enum import StrEnum

from hangroom.errors import InputError

GRAMS_PER_OUNCE = 28.349523125  # exact: international avoirdupois pound 453.59237 g / 16
MM_PER_INCH = 25.4  # exact, by definition


class TemperatureUnit(StrEnum):
    """How temperatures are shown."""

    CELSIUS = "C"
    FAHRENHEIT = "F"


class WeightUnit(StrEnum):
    """How weights are shown and typed."""

    GRAM = "g"
    OUNCE = "oz"


class LengthUnit(StrEnum):
    """How lengths and diameters are shown and typed."""

    MILLIMETRE = "mm"
    INCH = "in"


@dataclass(frozen=True, slots=True, kw_only=True)
class Units:
    """The keeper's choice, one for the whole site, so that two people see one number."""

    temperature: TemperatureUnit = TemperatureUnit.CELSIUS
    weight: WeightUnit = WeightUnit.GRAM
    length: LengthUnit = LengthUnit.MILLIMETRE


def temperature_shown(temperature_c: float, units: Units) -> float:
    """Return a temperature in the keeper's unit, from degC."""
    if units.temperature is TemperatureUnit.FAHRENHEIT:
        return temperature_c * 9 / 5 + 32
    return temperature_c


def temperature_stored(shown: str, units: Units) -> float:
    """Return degC from what the keeper typed, in the keeper's unit; InputError if no number."""
    typed = typed_number(shown, what="temperature")
    if units.temperature is TemperatureUnit.FAHRENHEIT:
        return (typed - 32) * 5 / 9
    return typed


def weight_shown(weight_g: float, units: Units) -> float:
    """Return a weight in the keeper's unit, from grams."""
    return weight_g / GRAMS_PER_OUNCE if units.weight is WeightUnit.OUNCE else weight_g


def weight_stored(typed: str, units: Units) -> float:
    """Return grams from what the keeper typed; InputError if it is no weight above zero."""
    value = typed_number(typed, what="weight")
    if value <= 0:
        raise InputError(f"A weight must be above zero, {typed.strip()} is not. Weigh it again.")
    return value * GRAMS_PER_OUNCE if units.weight is WeightUnit.OUNCE else value


def length_shown(length_mm: float, units: Units) -> float:
    """Return a length in the keeper's unit, from millimetres."""
    return length_mm / MM_PER_INCH if units.length is LengthUnit.INCH else length_mm


def length_stored(typed: str, units: Units) -> float:
    """Return millimetres from what the keeper typed; InputError if it is below zero."""
    value = typed_number(typed, what="length")
    if value < 0:
        raise InputError(f"A length cannot be below zero, {typed.strip()} is. Measure it again.")
    return value * MM_PER_INCH if units.length is LengthUnit.INCH else value


def say_temperature(temperature_c: float, units: Units) -> str:
    """Return for example '13.1 °C'."""
    return f"{temperature_shown(temperature_c, units):.1f} °{units.temperature}"


def say_weight(weight_g: float, units: Units) -> str:
    """Return for example '71.4 g' or '2.52 oz': one step finer than a kitchen scale resolves."""
    decimals = 2 if units.weight is WeightUnit.OUNCE else 1
    return f"{weight_shown(weight_g, units):.{decimals}f} {units.weight}"


def say_length(length_mm: float, units: Units) -> str:
    """Return for example '18.5 mm' or '0.73 in'."""
    decimals = 2 if units.length is LengthUnit.INCH else 1
    return f"{length_shown(length_mm, units):.{decimals}f} {units.length}"


def say_duration(duration_s: float) -> str:
    """Return a rounded duration in words, for example '40 s', '3 min', '2 h 5 min', '3 days'."""
    seconds = round(max(0.0, duration_s))
    if seconds < 90:  # noqa: PLR2004 - below a minute and a half, seconds read better
        return f"{seconds} s"
    minutes = round(seconds / 60)
    if minutes < 60:  # noqa: PLR2004 - minutes in an hour
        return f"{minutes} min"
    hours, rest_min = divmod(minutes, 60)
    if hours < 48:  # noqa: PLR2004 - beyond two days, days read better
        return f"{hours} h {rest_min} min" if rest_min and hours < 10 else f"{hours} h"  # noqa: PLR2004
    return f"{round(hours / 24)} days"


def typed_number(typed: str, *, what: str) -> float:
    """Return the number somebody typed, with a decimal comma or a decimal point.

    Raises InputError where it is empty, no plain number, or has both comma and point: '1.234,5'
    could mean two things a factor of a thousand apart, so it is asked again, not guessed.
    """
    text = typed.strip().replace("\N{MINUS SIGN}", "-")
    if not text:
        raise InputError(f"Enter a {what} in digits, for example 71.4.")
    if "," in text and "." in text:
        raise InputError(f"{text} has both a comma and a point. Write the {what} with one of them.")
    if not re.fullmatch(r"-?[0-9]{1,9}(?:[.,][0-9]{0,9})?|-?[.,][0-9]{1,9}", text):
        raise InputError(f"Write the {what} in digits, for example 71.4. {text!r} is no number.")
    return float(text.replace(",", "."))
