import re
from pathlib import Path

import pytest

import hangroom_web

CSS = (Path(hangroom_web.__file__).parent / "static" / "app.css").read_text(encoding="utf-8")

# WCAG 2.2, success criteria 1.4.3 (text, 4.5) and 1.4.11 (edges and drawings, 3). Digits and the
# ink around them are held to 7, the enhanced figure of 1.4.6.
PAIRS = [
    ("ink", "paper", 7.0),
    ("ink", "card", 7.0),
    ("muted", "paper", 4.5),
    ("muted", "card", 4.5),
    ("juniper", "paper", 4.5),
    ("juniper", "card", 4.5),
    ("on-juniper", "juniper", 4.5),
    ("ochre", "card", 4.5),
    ("slate", "card", 4.5),
    ("alarm", "alarm-ground", 4.5),
    ("alarm", "card", 4.5),
    ("warn", "warn-ground", 4.5),
    ("warn", "card", 4.5),
    ("ink", "warn-ground", 7.0),
    ("ink", "alarm-ground", 7.0),
    ("muted", "alarm-ground", 4.5),
    ("muted", "warn-ground", 4.5),
    ("juniper", "alarm-ground", 4.5),
    ("juniper", "warn-ground", 4.5),
    ("card", "alarm", 4.5),
    ("edge", "paper", 3.0),
    ("edge", "card", 3.0),
    ("rind", "card", 3.0),
]


def palette(scheme: str) -> dict[str, str]:
    light, dark = re.findall(r":root \{(.*?)\}", CSS, flags=re.DOTALL)[:2]
    return dict(re.findall(r"--([\w-]+): (#[0-9a-f]+);", light if scheme == "light" else dark))


def luminance_ratio(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it, 0 to 1."""
    digits = colour[1:] if len(colour) == 7 else "".join(digit * 2 for digit in colour[1:])
    channels = [int(digits[place : place + 2], 16) / 255 for place in (0, 2, 4)]
    red, green, blue = (
        c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast_ratio(one: str, other: str) -> float:
    darker, lighter = sorted((luminance_ratio(one), luminance_ratio(other)))
    return (lighter + 0.05) / (darker + 0.05)


def test_the_formula_gives_wcags_own_extremes() -> None:
    assert contrast_ratio("#000", "#fff") == pytest.approx(21.0)
    assert contrast_ratio("#777777", "#fff") == pytest.approx(4.48, abs=0.005)  # known to just fail


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(("front", "ground", "least"), PAIRS)
def test_colours_are_far_enough_apart(scheme: str, front: str, ground: str, least: float) -> None:
    colours = palette(scheme)
    assert contrast_ratio(colours[front], colours[ground]) >= least
