"""A forecast in words: every code has its sentence, every figure stands in the keeper's units."""

import ast
from collections.abc import Iterator
from itertools import product
from pathlib import Path

import pytest

from hangroom.product.forecast import Belief, Beliefs, Remark
from hangroom.product.forecast_sentences import ALL_WORDS, REMARKS, WARNINGS
from hangroom.product.forecast_words import figures_in, say, say_learned, words_of
from hangroom.product.told import Words
from hangroom.units import LengthUnit, Units, WeightUnit

HANGROOM = Path(__file__).parents[2] / "daemon" / "hangroom"
OUNCES = Units(weight=WeightUnit.OUNCE, length=LengthUnit.INCH)
# By the ending of a figure's name: a value, and how it must read.
FIGURES: dict[str, tuple[float | str, str]] = {
    "_pct_per_day": (5.31, "5.3 % of its hang weight a day"),
    "pct": (72.04, "72 %"),
    "ratio": (0.823, "82.3 %"),
    "_aw": (0.795, "0.80"),
    "_g": (71.44, "71.4 g"),
    "_c": (13.0, "13.0 °C"),
    "mm": (19.0, "19.0 mm"),
    "hours": (26.0, "26 h"),
    "_h": (31.2, "hour 31"),
    "effective": (41.6, "42"),
    "tag": ("A3", "A3"),
    "other": ("A5", "A5"),
    "group": ("Group A", "Group A"),
    "room": ("the closet", "the closet"),
    "by": ("Ada", "Ada"),
    "at": ("Mon 09:40", "Mon 09:40"),
}
EVERY = [(code, words) for code, variants in ALL_WORDS.items() for words in variants]


def like(name: str) -> tuple[float | str, str]:
    return next(pair for ending, pair in FIGURES.items() if name.endswith(ending))


@pytest.mark.parametrize(
    ("code", "words"), EVERY, ids=[f"{c}-{len(figures_in(w))}" for c, w in EVERY]
)
def test_every_sentence_can_be_said_and_names_units(code: str, words: Words) -> None:
    figures = {name: like(name)[0] for name in figures_in(words)}
    said = say(Remark(code=code, figures=figures))
    assert "{" not in said
    assert all(like(name)[1] in said for name in figures)
    assert all(part.endswith(".") for part in (words.happened, words.means))
    assert words.do.endswith(".")


@pytest.mark.parametrize("code", ALL_WORDS)
def test_of_several_sentences_none_hides_another(code: str) -> None:
    variants = ALL_WORDS[code]
    for earlier, later in product(variants, variants):
        if variants.index(earlier) < variants.index(later):
            assert not figures_in(earlier) <= figures_in(later)


def test_no_code_is_both_a_remark_and_a_warning() -> None:
    assert set(REMARKS).isdisjoint(WARNINGS)


def test_nothing_told_calls_food_safe() -> None:
    for _, words in EVERY:
        assert "safe" not in f"{words.happened} {words.means} {words.do}".lower()


def test_a_weight_is_told_in_the_keeper_s_units() -> None:
    figures: dict[str, float | str] = {
        "tag": "A3",
        "at_h": 31.0,
        "weight_g": 71.44,
        "low_g": 60.0,
        "high_g": 66.0,
    }
    remark = Remark(code="weight-outside-band", figures=figures)
    # 71.44 g / 28.349523125 g per oz = 2.5200 oz; 60 -> 2.1164; 66 -> 2.3281
    assert words_of(remark, OUNCES).happened == (
        "A3 weighed 2.52 oz at hour 31; between 2.12 oz and 2.33 oz was expected."
    )
    told = words_of(remark, when=lambda at_h: f"Tue {at_h - 17:02.0f}:00").happened
    assert told == "A3 weighed 71.4 g at Tue 14:00; between 60.0 g and 66.0 g was expected."


def test_a_target_passed_at_an_unknown_moment_has_its_own_sentence() -> None:
    assert "at about hour 31" in say(Remark(code="target-passed", figures={"at_h": 31.0}))
    assert say(Remark(code="target-passed")).startswith("The group has passed its target.")


def test_a_code_of_another_version_is_told_as_it_stands() -> None:
    said = say(Remark(code="moon-phase", figures={"moon_pct": 40.0}))
    assert "'moon-phase' (moon_pct 40 %)" in said
    assert "Update" in said


def given_in(path: Path) -> Iterator[tuple[str, set[str] | None]]:
    """Every code that a file gives a Remark, with the names of its figures where they stand there."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if not isinstance(node, ast.Call) or getattr(node.func, "id", "") not in GIVERS:
            continue
        named = {word.arg: word.value for word in node.keywords}
        code, figures = named.get("code", *node.args[:1]), named.get("figures")
        keys = None
        if isinstance(figures, ast.Dict):
            keys = {str(key.value) for key in figures.keys if isinstance(key, ast.Constant)}
        elif figures is None and getattr(node.func, "id", "") == "Remark":
            keys = set[str]()
        for part in ast.walk(code):
            if isinstance(part, ast.Constant) and isinstance(part.value, str):
                yield part.value, keys


GIVERS = {"Remark", "_remark"}
GIVEN = [given for path in sorted(HANGROOM.rglob("*.py")) for given in given_in(path)]


def test_every_code_given_has_its_sentence() -> None:
    assert len({code for code, _ in GIVEN}) >= 20  # the search finds codes at all
    assert {code for code, _ in GIVEN} - set(ALL_WORDS) == set()


def test_every_remark_brings_the_figures_that_its_sentence_speaks_of() -> None:
    literal = [(code, keys) for code, keys in GIVEN if keys is not None]
    assert len(literal) >= 10
    for code, keys in literal:
        assert any(figures_in(words) <= keys for words in ALL_WORDS[code]), code


def believed(transfer: Belief, diffusivity: Belief) -> Beliefs:
    return Beliefs(transfer_kg_per_m2_s_pa=transfer, diffusivity_m2_per_s=diffusivity)


ASSUMED = believed(Belief(median=1.2e-8, ln_sd=0.5), Belief(median=6.5e-11, ln_sd=0.45))


def test_what_was_learned_is_told_as_times_faster_with_its_range() -> None:
    learned = believed(Belief(median=1.56e-8, ln_sd=0.15), Belief(median=5.2e-11, ln_sd=0.2))
    # 1.56 / 1.2 = 1.3, 10 and 90 of 100 at exp(+-1.2816 x 0.15) = 0.825, 1.212 of it
    # 5.2 / 6.5 = 0.8 = 1 / 1.25; exp(+-1.2816 x 0.2) = 0.774, 1.292
    surface, inside = say_learned(learned, ASSUMED, room="the closet")
    assert surface == (
        "The closet takes water off the surface of these sticks 1.3 times faster than assumed"
        " (80 % range: 1.1 to 1.6 times as fast)."
    )
    assert inside == (
        "Water moves inside these sticks 1.2 times slower than assumed"
        " (80 % range: 0.6 to 1.0 times as fast)."
    )


@pytest.mark.parametrize(
    "learned",
    [
        ASSUMED,
        # moved, but as wide as before: the weights did not teach it
        believed(Belief(median=1.6e-8, ln_sd=0.5), Belief(median=6.5e-11, ln_sd=0.45)),
        # sure, but as it was assumed
        believed(Belief(median=1.25e-8, ln_sd=0.1), Belief(median=6.4e-11, ln_sd=0.1)),
    ],
)
def test_what_was_not_learned_is_not_told(learned: Beliefs) -> None:
    assert say_learned(learned, ASSUMED) == ()
