"""One air from several sensors: the middle of them for the page, the outermost for the limits.

Two sensors that part ways cannot both be right. Their mean hides that, so whatever a limit guards
is judged by the sensor nearest to it, and how far they lie apart is an alarm of its own.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from hangroom.terms import AirReading

# Farther apart than this and one of them is off, or the air stands in layers. Two DHT22 of +-2 %RH
# and +-0.5 degC (maker's data sheet) lie within 4 % and 1 degC; the rest is our judgement.
MOST_APART_PCT = 5.0
MOST_APART_C = 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Air:
    """The air of a room as control believes it, from all its usable sensors.

    `temperature_c` and `humidity_pct`: the mean of two sensors, the median of more. `highest_*`
    and `lowest_*`: the outermost of them, for the limits.
    """

    temperature_c: float
    humidity_pct: float
    highest_temperature_c: float
    lowest_temperature_c: float
    highest_humidity_pct: float
    lowest_humidity_pct: float

    @property
    def apart_pct(self) -> float:
        """How far the sensors lie apart in humidity, %RH."""
        return self.highest_humidity_pct - self.lowest_humidity_pct

    @property
    def apart_c(self) -> float:
        """How far the sensors lie apart in temperature."""
        return self.highest_temperature_c - self.lowest_temperature_c


def voted(readings: Sequence[AirReading]) -> Air:
    """Return the air that one or more usable readings stand for."""
    temperatures_c = sorted([reading.temperature_c for reading in readings])
    humidities_pct = sorted([reading.humidity_pct for reading in readings])
    # The one in the middle, or the two beside it; an odd one out is the same figure twice.
    below, above = (len(readings) - 1) // 2, len(readings) // 2
    return Air(
        temperature_c=(temperatures_c[below] + temperatures_c[above]) / 2,
        humidity_pct=(humidities_pct[below] + humidities_pct[above]) / 2,
        highest_temperature_c=temperatures_c[-1],
        lowest_temperature_c=temperatures_c[0],
        highest_humidity_pct=humidities_pct[-1],
        lowest_humidity_pct=humidities_pct[0],
    )
