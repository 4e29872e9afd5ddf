import importlib.util
import re
from pathlib import Path
from types import ModuleType
from xml.etree import ElementTree as ET

import pytest
from gpiozero.pins.mock import MockFactory

WIRING = Path(__file__).parents[2] / "wiring"
NOTES = (WIRING / "README.md").read_text()
SVG = (WIRING / "low-voltage.svg").read_text()


@pytest.fixture(scope="module")
def draw() -> ModuleType:
    spec = importlib.util.spec_from_file_location("draw", WIRING / "draw.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_table_in_the_notes_is_the_one_the_software_reads(draw: ModuleType) -> None:
    """If this fails: python wiring/draw.py."""
    assert draw.with_table(NOTES) == NOTES


def test_the_drawing_is_the_one_made_from_that_table(draw: ModuleType) -> None:
    """If this fails: python wiring/draw.py."""
    assert draw.drawing() == SVG


def test_the_drawings_header_pins_agree_with_gpiozeros_board_data() -> None:
    header = MockFactory(revision="a02082").board_info.headers["J8"].pins
    labels = re.findall(r">(GPIO \d+|3\.3 V|5 V|ground), pin (\d+)<", SVG)
    theirs = {"3.3 V": "3V3", "5 V": "5V", "ground": "GND"}
    assert len(labels) == 7
    for label, number in labels:
        name = theirs.get(label, label.replace(" ", ""))
        assert header[int(number)].name == name


def test_a_relay_on_a_refused_pin_is_not_drawn(
    draw: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(draw, "MIST_PIN", 3)
    with pytest.raises(ValueError, match="GPIO 3 cannot carry"):
        draw.drawing()


def test_the_drawing_is_well_formed_and_has_a_description() -> None:
    root = ET.fromstring(SVG)  # noqa: S314 - our own file
    space = "{http://www.w3.org/2000/svg}"
    assert root.findtext(f"{space}title")
    assert "float switch" in (root.findtext(f"{space}desc") or "")


@pytest.mark.parametrize(
    "said",
    [
        "class A", "IEC 60730", "RCD", "fuse", "thermal cut-out", "float", "drip loop", "IP",
        "strain relief", "normally open", "3.3 V", "licensed electrician", "Local electrical codes",
        "4.7 to 10 kohm", "Proof test, once a month",
    ],
)  # fmt: skip
def test_what_the_notes_must_not_lose(said: str) -> None:
    assert said in NOTES
