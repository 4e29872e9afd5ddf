"""What a forecast notes, warns of and has learned, as sentences in the keeper's units.

The forecast keeps codes and figures; only here do they become words, so that another language
changes this file and its table alone.
"""

from collections.abc import Callable, Mapping
from math import exp
from string import Formatter

from hangroom.product.forecast import Belief, Beliefs, Remark
from hangroom.product.forecast_sentences import ALL_WORDS
from hangroom.product.told import Words
from hangroom.units import Units, say_duration, say_length, say_temperature, say_weight

METRIC = Units()
HOUR_S = 3600.0
SHORT_HOURS, LONG_HOURS = 10.0, 120.0

# Says a moment that is kept as hours since the group was hung.
When = Callable[[float], str]

# Below this a shift of a belief is not worth a sentence. Our own judgement: the scale and one
# day's air move it by as much.
TOLD_FROM_RATIO = 1.1
# A belief that narrowed by less than this was not learned from the weights. Our own judgement.
LEARNED_BELOW_SD_RATIO = 0.8
# 10 and 90 of 100 of a normal distribution lie beyond this many standard deviations.
NORMAL_P90 = 1.2816


def hours_after_hanging(at_h: float) -> str:
    """Return for example 'hour 31', for readers who are told that hours count from hanging."""
    return f"hour {at_h:.0f}"


def say(remark: Remark, units: Units = METRIC, when: When = hours_after_hanging) -> str:
    """Return a remark or a warning in full sentences; `when` says moments since hanging."""
    words = words_of(remark, units, when)
    return f"{words.happened} {words.means} {words.do}".rstrip()


def words_of(remark: Remark, units: Units = METRIC, when: When = hours_after_hanging) -> Words:
    """Return what happened, what it means and what to do, each with its figures filled in.

    A code that has no sentence here, stored by another version, is told as it stands.
    """
    said = {name: say_figure(name, value, units, when) for name, value in remark.figures.items()}
    for words in ALL_WORDS.get(remark.code, ()):
        if figures_in(words) <= said.keys():
            return Words(
                *(_capital(part.format(**said)) for part in (words.happened, words.means, words.do))
            )
    told = ", ".join(f"{name} {value}" for name, value in said.items())
    return Words(
        f"The forecast noted {remark.code!r}{f' ({told})' if told else ''}.",
        "This version has no sentence for it.",
        "Update hangroom, or ask for the forecast anew.",
    )


def figures_in(words: Words) -> set[str]:
    """Return the names of the figures that a sentence speaks of."""
    parts = (words.happened, words.means, words.do)
    return {name for part in parts for _, name, _, _ in Formatter().parse(part) if name}


def say_figure(name: str, value: float | str, units: Units, when: When) -> str:
    """Return one figure in the keeper's units; its name ends in the unit it is kept in."""
    if isinstance(value, str):
        return value
    for ending, said in _ENDINGS.items():
        if name.endswith(ending):
            return said(value, units, when)
    return f"{value:g}"


def _capital(part: str) -> str:
    return part[:1].upper() + part[1:]


def _hours(value: float) -> str:
    """Return a duration given in hours: in hours as long as they tell more than days do."""
    if value < SHORT_HOURS:
        return say_duration(value * HOUR_S)
    return f"{value:.0f} h" if value < LONG_HOURS else f"{value / 24.0:.1f} days"


def _number(value: float) -> str:
    rounded = round(value, 1)
    return f"{rounded + 0.0:g}"  # no minus before a nought


# By what a figure's name ends in; the first that fits.
_ENDINGS: Mapping[str, Callable[[float, Units, When], str]] = {
    "_pct_per_day": lambda value, _u, _w: f"{_number(value)} % of its hang weight a day",
    "pct": lambda value, _u, _w: f"{_number(value)} %",
    "ratio": lambda value, _u, _w: f"{_number(100.0 * value)} %",
    "_aw": lambda value, _u, _w: f"{value:.2f}",
    "_g": lambda value, units, _w: say_weight(value, units),
    "_c": lambda value, units, _w: say_temperature(value, units),
    "mm": lambda value, units, _w: say_length(value, units),
    "hours": lambda value, _u, _w: _hours(value),
    "_h": lambda value, _u, when: when(value),
    "effective": lambda value, _u, _w: f"{value:.0f}",
}


def say_learned(learned: Beliefs, assumed: Beliefs, *, room: str = "this room") -> tuple[str, ...]:
    """Return what the weights taught about a room and a recipe against what was assumed.

    `room`: as it stands in a sentence, for example 'the closet'. Empty where nothing was learned:
    no belief moved by a tenth with a narrower range than before.
    """
    surface = _times(learned.transfer_kg_per_m2_s_pa, assumed.transfer_kg_per_m2_s_pa)
    inside = _times(learned.diffusivity_m2_per_s, assumed.diffusivity_m2_per_s)
    told = []
    if surface:
        told.append(f"{_capital(room)} takes water off the surface of these sticks {surface}.")
    if inside:
        told.append(f"Water moves inside these sticks {inside}.")
    return tuple(told)


def _times(learned: Belief, assumed: Belief) -> str:
    """Return '1.3 times faster than assumed' with its range, '' where that was not learned."""
    times = learned.median / assumed.median
    if max(times, 1.0 / times) < TOLD_FROM_RATIO:
        return ""
    if learned.ln_sd > LEARNED_BELOW_SD_RATIO * assumed.ln_sd:
        return ""
    wide = exp(NORMAL_P90 * learned.ln_sd)
    faster, factor = ("faster", times) if times > 1.0 else ("slower", 1.0 / times)
    return (
        f"{factor:.1f} times {faster} than assumed"
        f" (80 % range: {times / wide:.1f} to {times * wide:.1f} times as fast)"
    )
