# ruff: noqa: INP001 - a script beside its notes, not a package
"""Draw the low-voltage build and write the pin table: `python wiring/draw.py`.

Both come from `hangroom.pins`, the table that the settings are checked against, so that what is
drawn, written and enforced cannot part. A test runs this and compares.
"""

from dataclasses import dataclass
from html import escape
from pathlib import Path

from hangroom.pins import PINS, Pull, check_pin, free_pins

HERE = Path(__file__).parent
TABLE_BEGINS, TABLE_ENDS = "<!-- pin table: written by draw.py -->", "<!-- end of pin table -->"

# The example of the drawing, as BCM numbers. Any other allowed pins do as well.
SENSOR_PIN, FAN_PIN, MIST_PIN = 4, 23, 24

SUPPLY_3V3, SUPPLY_5V, GROUND, SIGNAL, LOAD_PLUS, LOAD_MINUS = (
    "#b3261e", "#c2570c", "#1f2328", "#1a56b0", "#6d3fa0", "#55606b",
)  # fmt: skip
Point = tuple[int, int]


def pin_table() -> str:
    """Write the table of all pins as Markdown."""
    rows = [
        "| GPIO | header | at reset | also used for | active high | active low | why not |",
        "| ---: | ---: | --- | --- | --- | --- | --- |",
    ]
    for pin in PINS.values():
        why_not = pin.why_not(active_high=True) or ""
        rows.append(
            f"| {pin.bcm} | {pin.header} | {pin.pull_at_reset} | {pin.also} "
            f"| {_use(pin.bcm, active_high=True)} | {_use(pin.bcm, active_high=False)} "
            f"| {why_not} |"
        )
    return "\n".join(rows)


def _use(bcm: int, *, active_high: bool) -> str:
    if check_pin(bcm, active_high=active_high) is not None:
        return "no"
    if bcm in free_pins(active_high=active_high):
        return "**advised**"
    if not active_high and PINS[bcm].pull_at_reset is Pull.DOWN:
        return "closes at start unless its pull-up is fitted"
    return "yes, if its other use is off" if PINS[bcm].also else "yes"


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A part: its corner, size, name, and the terminals on its left and right edge (y, label)."""

    x: int
    y: int
    width: int
    height: int
    name: str
    notes: tuple[str, ...] = ()
    left: tuple[tuple[int, str], ...] = ()
    right: tuple[tuple[int, str], ...] = ()

    def svg(self) -> str:
        """Draw it."""
        middle = self.x + self.width // 2
        parts = [
            _rectangle(self.x, self.y, self.width, self.height),
            _text(middle, self.y - 10, self.name, "name"),
        ]
        for line, note in enumerate(self.notes):
            parts.append(_text(middle, self.y + self.height + 18 + 16 * line, note, "note"))
        for y, label in self.left:
            parts.append(_text(self.x + 10, y + 5, label, "left"))
        for y, label in self.right:
            parts.append(_text(self.x + self.width - 10, y + 5, label, "right"))
        for x, edge in ((self.x, self.left), (self.x + self.width, self.right)):
            parts += [f'<circle class="terminal" cx="{x}" cy="{y}" r="4"/>' for y, _ in edge]
        return "\n".join(parts)


def drawing() -> str:
    """Draw the low-voltage build as SVG."""
    for pin in (FAN_PIN, MIST_PIN):
        fault = check_pin(pin, active_high=True)
        if fault is not None:
            raise ValueError(fault)
    boxes = (
        Box(
            x=30, y=110, width=190, height=440, name="Raspberry Pi",
            notes=("own 5 V supply", "outside the damp room"),
            right=(
                (150, "3.3 V, pin 1"),
                (190, _gpio(SENSOR_PIN)),
                (230, "ground, pin 9"),
                (360, "5 V, pin 4"),
                (400, _gpio(FAN_PIN)),
                (440, _gpio(MIST_PIN)),
                (520, "ground, pin 6"),
            ),
        ),
        Box(
            x=480, y=120, width=140, height=140, name="DHT22 sensor",
            notes=("at stick height, out of", "mist and fan stream"),
            left=((150, "supply"), (190, "data"), (230, "ground")),
        ),
        Box(
            x=480, y=330, width=190, height=220, name="Relay board, active high, 3.3 V inputs",
            notes=("normally open (NO) contacts only",),
            left=((360, "VCC"), (400, "IN 1"), (440, "IN 2"), (520, "GND")),
            right=((370, "NO 1"), (410, "COM 1"), (480, "COM 2"), (520, "NO 2")),
        ),
        Box(
            x=860, y=120, width=150, height=80, name="24 V supply (SELV)",
            notes=("enclosed, certified,", "behind RCD and fused plug"),
            left=((150, "+"),), right=((150, "-"),),
        ),
        Box(
            x=860, y=340, width=150, height=60, name="Fan, 24 V",
            left=((370, "+"),), right=((370, "-"),),
        ),
        Box(
            x=860, y=490, width=150, height=60, name="Mister, 24 V",
            notes=("small tank: no more water",  "than the room can bear"),
            left=((520, "+"),), right=((520, "-"),),
        ),
    )  # fmt: skip
    wires: tuple[tuple[str, tuple[Point, ...]], ...] = (
        (SUPPLY_3V3, ((220, 150), (480, 150))),
        (SIGNAL, ((220, 190), (480, 190))),
        (GROUND, ((220, 230), (480, 230))),
        (SUPPLY_5V, ((220, 360), (480, 360))),
        (SIGNAL, ((220, 400), (480, 400))),
        (SIGNAL, ((220, 440), (480, 440))),
        (GROUND, ((220, 520), (480, 520))),
        (SIGNAL, ((340, 150), (340, 190))),
        (SIGNAL, ((260, 400), (260, 520))),
        (SIGNAL, ((364, 440), (364, 520))),
        (LOAD_PLUS, ((860, 150), (710, 150), (710, 480), (670, 480))),
        (LOAD_PLUS, ((710, 410), (670, 410))),
        (LOAD_PLUS, ((670, 370), (860, 370))),
        (LOAD_PLUS, ((670, 520), (860, 520))),
        (LOAD_MINUS, ((1010, 150), (1040, 150), (1040, 520), (1010, 520))),
        (LOAD_MINUS, ((1010, 370), (1040, 370))),
    )
    joints = (
        (340, 150), (340, 190), (260, 400), (260, 520), (364, 440), (364, 520),
        (710, 410), (1040, 370),
    )  # fmt: skip
    parts = [
        *(_wire(colour, points) for colour, points in wires),
        *(f'<circle class="joint" cx="{x}" cy="{y}" r="4"/>' for x, y in joints),
        *(box.svg() for box in boxes),
        _resistor(340, 170, "4.7 to 10 kΩ"),
        _resistor(260, 480, "4.7 to 10 kΩ"),
        _resistor(364, 480, "4.7 to 10 kΩ"),
        _in_line(785, 150, "fuse"),
        _in_line(765, 520, "float switch"),
        _text(30, 40, "hangroom, low-voltage build: one room, fan and mister", "title"),
        _text(30, 64, "A dot joins lines; lines that cross without a dot do not touch.", "left"),
        _text(
            30, 630,
            "The float switch, the fuse, the small tank and the supply's own protection work "
            "without the software. They are not optional.",
            "left",
        ),
    ]  # fmt: skip
    return "\n".join((_HEAD, *parts, "</svg>", ""))


_HEAD = """\
<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1070 660" role="img" \
aria-labelledby="title description" font-family="sans-serif" font-size="14">
<title id="title">Low-voltage build of hangroom</title>
<desc id="description">A Raspberry Pi reads a DHT22 sensor and drives two relays. The relays' \
normally open contacts switch a fan and a mister from a fused 24 volt supply; a float switch is \
in line with the mister. Each relay input has a resistor to ground.</desc>
<style>
.part { fill: #f6f8fa; stroke: #1f2328; stroke-width: 1.5 }
.terminal { fill: #fff; stroke: #1f2328; stroke-width: 1.5 }
.joint { fill: #1f2328 }
.wire { fill: none; stroke-width: 2.5; stroke-linejoin: round }
text { fill: #1f2328 }
.title { font-size: 20px; font-weight: bold }
.name { font-weight: bold; text-anchor: middle }
.note { font-size: 13px; text-anchor: middle }
.right { text-anchor: end }
</style>
<rect width="1070" height="660" fill="#fff"/>"""


def _gpio(bcm: int) -> str:
    return f"GPIO {bcm}, pin {PINS[bcm].header}"


def _text(x: int, y: int, text: str, kind: str) -> str:
    return f'<text class="{kind}" x="{x}" y="{y}">{escape(text)}</text>'


def _rectangle(x: int, y: int, width: int, height: int) -> str:
    return f'<rect class="part" x="{x}" y="{y}" width="{width}" height="{height}" rx="3"/>'


def _wire(colour: str, points: tuple[Point, ...]) -> str:
    path = " ".join(f"{x},{y}" for x, y in points)
    return f'<polyline class="wire" stroke="{colour}" points="{path}"/>'


def _resistor(x: int, y: int, value: str) -> str:
    return _rectangle(x - 6, y - 11, 12, 22) + _text(x + 12, y + 5, value, "left")


def _in_line(x: int, y: int, name: str) -> str:
    return _rectangle(x - 24, y - 8, 48, 16) + _text(x, y + 26, name, "note")


def with_table(notes: str) -> str:
    """Put the table between its marks in the notes."""
    before, rest = notes.split(TABLE_BEGINS)
    _old, after = rest.split(TABLE_ENDS)
    return f"{before}{TABLE_BEGINS}\n\n{pin_table()}\n\n{TABLE_ENDS}{after}"


def main() -> None:
    """Write both."""
    (HERE / "low-voltage.svg").write_text(drawing(), encoding="utf-8")
    notes = HERE / "README.md"
    notes.write_text(with_table(notes.read_text(encoding="utf-8")), encoding="utf-8")


if __name__ == "__main__":
    main()
