"""A sensor's own error, taken out of its readings before they count."""

from dataclasses import replace

from hangroom.control.sensors.oddity import DRIEST_PLAUSIBLE_PCT, TOP_OF_SCALE_PCT
from hangroom.terms import AirReading, Calibration

# A correction never moves a reading by more. Between the points that it was checked at a
# correction is small, but beyond them a gain lets it grow; and a sensor that errs by more than the
# DHT22's own worst case of 5 %RH twice over (maker's data sheet) wants replacing. Our judgement.
MOST_CORRECTED_PCT = 10.0


def corrected(reading: AirReading, calibration: Calibration | None) -> AirReading:
    """Return a plausible reading with its calibration applied, never out of the plausible range."""
    if calibration is None:
        return reading
    read_pct = reading.humidity_pct
    correction_pct = calibration.gain_ratio * read_pct + calibration.offset_pct - read_pct
    correction_pct = min(MOST_CORRECTED_PCT, max(-MOST_CORRECTED_PCT, correction_pct))
    true_pct = min(TOP_OF_SCALE_PCT, max(DRIEST_PLAUSIBLE_PCT, read_pct + correction_pct))
    return replace(reading, humidity_pct=true_pct)
