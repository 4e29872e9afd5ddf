"""The picture of a rehearsal: one SVG, a panel per room, drawn from what the records kept."""

from collections.abc import Callable, Iterator, Sequence
from html import escape

from hangroom.cli.rehearsal import Rehearsal
from hangroom.cli.rehearsal_alarms import AlarmSpan
from hangroom.cli.rehearsal_figures import COLUMNS, Column, RoomRecord
from hangroom.settings import Settings
from hangroom.simulation.faults import Fault
from hangroom.simulation.scenario import WHOLE_HOUSE
from hangroom.units import Units, temperature_shown

LEFT, RIGHT, TOP = 70, 30, 60
HUMIDITY_HIGH, TEMPERATURE_HIGH, BAR_HIGH, ROW_HIGH, GAP = 220, 80, 14, 16, 26
MOST_MARKS = 14
WIDTH = LEFT + COLUMNS + RIGHT

STYLE = """
text { font: 12px sans-serif; fill: #1f2328 } .title { font-size: 16px; font-weight: bold }
.room { font-size: 14px; font-weight: bold } .end { text-anchor: end } .mid { text-anchor: middle }
.band { fill: #d9ead3 } .grid { stroke: #d0d4d9 } .frame { fill: none; stroke: #8b949e }
.true { fill: #1a56b0; stroke: #1a56b0 } .sensed { fill: #c2570c; fill-opacity: 0.35 }
.temperature { fill: none; stroke: #b3261e; stroke-width: 1.5 } .on { fill: #2f5d3a }
.fault { fill: #b3261e; fill-opacity: 0.8 } .alarm { fill: #7a3e9d; fill-opacity: 0.8 }
.struck { fill: #b3261e; fill-opacity: 0.08 }
"""


def picture(rehearsal: Rehearsal, settings: Settings) -> str:
    """Return the SVG: temperature, true and sensed humidity, band, relays and faults over time."""
    scenario = rehearsal.scenario
    body = [_text(LEFT, 24, f"{scenario.name}, seed {scenario.seed}", "title")]
    body.append(
        _text(
            LEFT,
            42,
            "blue: true humidity, orange: sensed, green: the band wanted; "
            "red: what went wrong, purple: alarms",
            "key",
        )
    )
    y = TOP
    for name, record in rehearsal.records.items():
        faults = [f for f in scenario.faults if f.room == name or f.kind in WHOLE_HOUSE]
        alarms = [alarm for alarm in rehearsal.alarms if alarm.room in {name, ""}]
        panel = _Panel(
            record,
            faults,
            alarms,
            lasts_h=scenario.days * 24.0,
            units=settings.units.units(),
            y=y,
        )
        body += panel.drawn(settings.room[name].title)
        y = panel.bottom + GAP
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {y}" '
        f'width="{WIDTH}" height="{y}" role="img" aria-label="{escape(scenario.name)}">\n'
        f"<style>{STYLE}</style>\n"
        f'<rect width="{WIDTH}" height="{y}" fill="#ffffff"/>\n' + "\n".join(body) + "\n</svg>\n"
    )


class _Panel:
    """One room: humidity, temperature, a bar per relay, a row per kind of fault and per alarm."""

    def __init__(
        self,
        record: RoomRecord,
        faults: Sequence[Fault],
        alarms: Sequence[AlarmSpan],
        *,
        lasts_h: float,
        units: Units,
        y: int,
    ) -> None:
        self._record = record
        self._faults = faults
        self._lasts_h = lasts_h
        self._units = units
        self._rows = [
            ("fault", kind, [self._struck_at(fault) for fault in faults if fault.kind == kind])
            for kind in dict.fromkeys(fault.kind for fault in faults)
        ] + [
            ("alarm", id_, [self._told_at(alarm) for alarm in alarms if alarm.id is id_])
            for id_ in dict.fromkeys(alarm.id for alarm in alarms)
        ]
        self._humidity_y = y + 22
        self._temperature_y = self._humidity_y + HUMIDITY_HIGH + 12
        self._bars_y = self._temperature_y + TEMPERATURE_HIGH + 12
        self._rows_y = self._bars_y + len(record.plan.relays) * (BAR_HIGH + 4)
        self._title_y = y + 12
        self.bottom = self._rows_y + len(self._rows) * ROW_HIGH + 20

    def drawn(self, title: str) -> Iterator[str]:
        """Return the parts, those behind first."""
        yield _text(LEFT, self._title_y, title, "room")
        yield from self._struck()
        yield from self._humidity()
        yield from self._temperature()
        yield from self._relays()
        yield from self._faults_and_alarms()
        yield from self._hour_marks()

    def _humidity(self) -> Iterator[str]:
        columns = [column for column in self._record.columns if column.ticks]
        spans = [c.humidity_pct for c in columns]
        spans += [c.sensed_pct for c in columns if c.sensed_pct[0] <= c.sensed_pct[1]]
        target = self._record.plan.humidity
        if target:
            spans.append(
                (
                    target.setpoint_pct - target.band_pct - 2,
                    target.setpoint_pct + target.band_pct + 2,
                )
            )
        at = _scale(spans, self._humidity_y, HUMIDITY_HIGH)
        if target:
            top = at(target.setpoint_pct + target.band_pct)
            bottom = at(target.setpoint_pct - target.band_pct)
            yield _rect("band", LEFT, top, COLUMNS, bottom - top)
        yield from _axis(spans, self._humidity_y, HUMIDITY_HIGH, "%")
        yield _ranges("sensed", self._record.columns, lambda c: c.sensed_pct, at)
        yield _ranges("true", self._record.columns, lambda c: c.humidity_pct, at)

    def _temperature(self) -> Iterator[str]:
        shown = [
            (x, temperature_shown(column.temperature_sum_c / column.ticks, self._units))
            for x, column in enumerate(self._record.columns)
            if column.ticks
        ]
        spans = [(value - 0.5, value + 0.5) for _, value in shown]
        at = _scale(spans, self._temperature_y, TEMPERATURE_HIGH)
        yield from _axis(
            spans, self._temperature_y, TEMPERATURE_HIGH, f"°{self._units.temperature}"
        )
        points = " ".join(f"{LEFT + x},{at(value):.1f}" for x, value in shown)
        yield f'<polyline class="temperature" points="{points}"/>'

    def _relays(self) -> Iterator[str]:
        """Each relay's share of time on, column by column, as the height of its bar."""
        for row, kind in enumerate(self._record.plan.relays):
            y = self._bars_y + row * (BAR_HIGH + 4)
            yield _text(LEFT - 6, y + 11, kind.split("-")[0], "end")
            yield _rect("frame", LEFT, y, COLUMNS, BAR_HIGH)
            steps = []
            for x, column in enumerate(self._record.columns):
                if on_ticks := column.on_ticks.get(kind, 0):
                    # A pulse of seconds still shows: never lower than a fifth of the bar.
                    high = BAR_HIGH * max(0.2, on_ticks / column.ticks)
                    steps.append(f"M{LEFT + x},{y + BAR_HIGH}v{-high:.1f}h1v{high:.1f}z")
            yield f'<path class="on" d="{"".join(steps)}"/>'

    def _struck(self) -> Iterator[str]:
        for fault in self._faults:
            x, width = self._struck_at(fault)
            yield _rect("struck", x, self._humidity_y, width, self._bars_y - self._humidity_y)

    def _faults_and_alarms(self) -> Iterator[str]:
        for row, (style, name, spans) in enumerate(self._rows):
            y = self._rows_y + row * ROW_HIGH
            for x, width in spans:
                yield _rect(style, x, y + 3, width, ROW_HIGH - 6)
            x, width = spans[0]
            if x + width < WIDTH / 2:
                last_x, last_width = spans[-1]
                yield _text(last_x + last_width + 6, y + 12, name, "name")
            else:
                yield _text(x - 6, y + 12, name, "end")

    def _struck_at(self, fault: Fault) -> tuple[float, float]:
        return self._span(fault.at_h, fault.at_h + fault.for_h)

    def _told_at(self, alarm: AlarmSpan) -> tuple[float, float]:
        cleared_h = self._lasts_h if alarm.cleared_s is None else alarm.cleared_s / 3600.0
        return self._span(alarm.raised_s / 3600.0, cleared_h)

    def _span(self, from_h: float, to_h: float) -> tuple[float, float]:
        """Where a time begins and how wide it is; what happens at once is a line."""
        begins = from_h / self._lasts_h
        ends = min(1.0, to_h / self._lasts_h)
        return LEFT + COLUMNS * begins, max(2.0, COLUMNS * (ends - begins))

    def _hour_marks(self) -> Iterator[str]:
        every_h = next(
            h for h in (1, 3, 6, 12, 24, 72, 168, 720, 9000) if self._lasts_h / h <= MOST_MARKS
        )
        hour = 0
        while hour <= self._lasts_h:
            x = LEFT + COLUMNS * hour / self._lasts_h
            yield (
                f'<line class="grid" x1="{x:.1f}" x2="{x:.1f}" y1="{self._bars_y - 8}" '
                f'y2="{self._bars_y - 3}"/>'
            )
            yield _text(x, self.bottom, f"{hour} h", "mid")
            hour += every_h


def _scale(spans: Sequence[tuple[float, float]], y: int, high: int) -> Callable[[float], float]:
    lowest = min(low for low, _ in spans)
    highest = max(top for _, top in spans)
    return lambda value: y + high * (highest - value) / (highest - lowest)


def _axis(spans: Sequence[tuple[float, float]], y: int, high: int, unit: str) -> Iterator[str]:
    lowest = min(low for low, _ in spans)
    highest = max(top for _, top in spans)
    at = _scale(spans, y, high)
    step = next(s for s in (1, 2, 5, 10, 20, 50) if (highest - lowest) / s <= max(2, high // 40))
    yield _rect("frame", LEFT, y, COLUMNS, high)
    value = step * (int(lowest // step) + 1)
    while value <= highest:
        yield (
            f'<line class="grid" x1="{LEFT}" x2="{LEFT + COLUMNS}" y1="{at(value):.1f}" '
            f'y2="{at(value):.1f}"/>'
        )
        yield _text(LEFT - 6, at(value) + 4, f"{value} {unit}", "end")
        value += step


def _ranges(
    style: str,
    columns: Sequence[Column],
    span_of: Callable[[Column], tuple[float, float]],
    at: Callable[[float], float],
) -> str:
    """Draw a bar from the lowest to the highest value of every column that has any."""
    steps = []
    for x, column in enumerate(columns):
        low, top = span_of(column)
        if low <= top:
            high = max(1.0, at(low) - at(top))
            steps.append(f"M{LEFT + x},{at(top):.1f}v{high:.1f}h1v{-high:.1f}z")
    return f'<path class="{style}" stroke="none" d="{"".join(steps)}"/>'


def _rect(style: str, x: float, y: float, width: float, height: float) -> str:
    return (
        f'<rect class="{style}" x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}"/>'
    )


def _text(x: float, y: float, says: str, style: str) -> str:
    return f'<text class="{style}" x="{x:.1f}" y="{y:.1f}">{escape(says)}</text>'
