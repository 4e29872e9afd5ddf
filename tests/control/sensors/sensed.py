"""A room with a sensor that is read every six seconds, for the tests of this folder. Invented."""

from collections.abc import Iterable, Mapping
from datetime import UTC, datetime, timedelta

from hangroom.control.sensors.judged import UNJUDGED, Judged, judged
from hangroom.control.sensors.voting import Air
from hangroom.control.use import RelayMemory
from hangroom.terms import AirReading, Because, RelayKind, RoomPlan, Stage

START = datetime(2026, 11, 1, tzinfo=UTC)
READ_EVERY_S = 6.0
PLAN = RoomPlan(name="closet", stage=Stage.HANG, humidity=None, temperature=None, relays={})

# Every relay has been off for an hour and more, and stays off.
QUIET: Mapping[RelayKind, RelayMemory] = {
    RelayKind.HUMIDIFIER: RelayMemory(closed=False, changed_uptime_s=-3600.0)
}

Values = tuple[float, float]
"""Humidity in % and temperature in degC."""


def reading(
    humidity_pct: float = 78.0, temperature_c: float = 13.0, *, at_s: float = 0.0
) -> AirReading:
    return AirReading(
        taken_at=START + timedelta(seconds=at_s),
        taken_uptime_s=at_s,
        temperature_c=temperature_c,
        humidity_pct=humidity_pct,
    )


class Rail:
    """One sensor and what is thought of it, reading by reading."""

    def __init__(self, relays: Mapping[RelayKind, RelayMemory] = QUIET) -> None:
        self.relays = relays
        self.judged: Judged = UNJUDGED
        self.at_s = 0.0

    def reads(
        self, humidity_pct: float, temperature_c: float = 13.0, *, after_s: float = READ_EVERY_S
    ) -> str | None:
        """Take one reading; return the code of the doubt about it, None where it is trusted."""
        self.at_s += after_s
        new = reading(humidity_pct, temperature_c, at_s=self.at_s)
        self.judged = judged(self.judged, {"rail": new}, PLAN, self.relays, uptime_s=self.at_s)
        doubt = self.judged.memories["rail"].doubt
        if doubt is None:
            assert self.judged.verdicts == {"rail": new}
        return doubt.code if doubt else None

    def reads_all(self, humidities_pct: Iterable[float]) -> list[str | None]:
        return [self.reads(humidity_pct) for humidity_pct in humidities_pct]

    @property
    def figures(self) -> Mapping[str, float]:
        """The figures of the newest doubt."""
        doubt = self.judged.memories["rail"].doubt
        assert doubt is not None
        return doubt.figures


def lively(count: int, around_pct: float = 78.0) -> Iterable[float]:
    """Yield readings of a healthy sensor: its last digit moves."""
    for number in range(count):
        yield around_pct + 0.1 * (number % 3)


def air_of(*values: Values) -> Air | Because:
    """Return what several sensors that read this come to, at their first reading."""
    readings = {f"sensor {number}": reading(*value) for number, value in enumerate(values)}
    return judged(UNJUDGED, readings, PLAN, QUIET, uptime_s=0.0).air
