"""From salt checks to a calibration: what a sensor reads where the humidity is known.

A saturated slurry of a salt in a closed jar holds a published humidity (`hangroom.air`). One check
gives an offset, two over different salts give a gain as well. To prove a sensor over one salt every
month is good practice (no source). From when on a calibration is old stands in `hangroom.terms`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import inf

from hangroom.air import SALTS, Salt, salt_humidity_pct
from hangroom.control.sensors.correction import MOST_CORRECTED_PCT
from hangroom.control.sensors.oddity import TOP_OF_SCALE_PCT
from hangroom.errors import InputError
from hangroom.terms import Calibration

# Two points nearer than this make a gain of their own errors. Sodium and potassium chloride, the
# usual pair, lie 9.6 %RH apart at 20 degC. Our judgement.
NEAREST_POINTS_PCT = 5.0

# Errors of 2 %RH at both of those points, in opposite directions, make a gain of 0.7 or 1.7. Our
# judgement.
SENSIBLE_GAIN_RATIO = (0.5, 2.0)

# Two checks farther apart in time do not make one calibration: the sensor has drifted in between.
# Our judgement.
SAME_CALIBRATION = timedelta(days=31)


@dataclass(frozen=True, slots=True, kw_only=True)
class SaltCheck:
    """What a sensor itself read over a salt, uncorrected, and how warm the jar was.

    `checked_at`: aware, UTC.
    """

    salt: Salt
    temperature_c: float
    read_pct: float
    checked_at: datetime


def calibration_from(checks: Sequence[SaltCheck]) -> Calibration:
    """Return what a sensor's checks come to, one or more, oldest first.

    The newest one counts, together with the newest over another salt that was made in the same
    month, if there is one. Raises InputError where those two, or the one, are refused.
    """
    *earlier, newest = checks
    for check in reversed(earlier):
        near_in_time = newest.checked_at - check.checked_at <= SAME_CALIBRATION
        if near_in_time and check.salt is not newest.salt:
            return two_point(check, newest)
    return one_point(newest)


def one_point(check: SaltCheck) -> Calibration:
    """Return an offset from one check; raises InputError where the check is refused."""
    offset_pct = _known_pct(check) - check.read_pct
    return Calibration(gain_ratio=1.0, offset_pct=offset_pct, checked_at=check.checked_at)


def two_point(earlier: SaltCheck, later: SaltCheck) -> Calibration:
    """Return gain and offset from two checks; raises InputError where one or the pair is refused.

    The straight line through two points, read to known.
    """
    if later.checked_at - earlier.checked_at > SAME_CALIBRATION:
        raise InputError(
            f"The check over {earlier.salt} is more than {SAME_CALIBRATION.days} days older than "
            f"the one over {later.salt}. Check the sensor over both again."
        )
    known_apart_pct = _known_pct(later) - _known_pct(earlier)
    if abs(known_apart_pct) < NEAREST_POINTS_PCT:
        raise InputError(
            f"{earlier.salt} and {later.salt} lie {abs(known_apart_pct):.1f} % apart, too near for "
            f"two points. Choose salts at least {NEAREST_POINTS_PCT:g} % apart."
        )
    read_apart_pct = later.read_pct - earlier.read_pct
    lowest_ratio, highest_ratio = SENSIBLE_GAIN_RATIO
    gain_ratio = known_apart_pct / read_apart_pct if read_apart_pct else inf
    if not lowest_ratio <= gain_ratio <= highest_ratio:
        raise InputError(
            f"From {earlier.salt} to {later.salt} the air goes by {known_apart_pct:+.1f} %, the "
            f"sensor by {read_apart_pct:+.1f} %. One of the jars was not ready: check over both "
            "again, and replace the sensor if that does not help."
        )
    return Calibration(
        gain_ratio=gain_ratio,
        offset_pct=_known_pct(later) - gain_ratio * later.read_pct,
        checked_at=later.checked_at,
    )


def _known_pct(check: SaltCheck) -> float:
    """Return the humidity over the salt.

    Raises InputError for a temperature that the salt's table does not reach, and for a reading so
    far off that the jar was not ready or the sensor is past mending.
    """
    salt, read_pct, temperature_c = check.salt, check.read_pct, check.temperature_c
    highest_c = SALTS[salt].highest_c
    if not 0.0 <= temperature_c <= highest_c:
        raise InputError(
            f"The table of {salt} goes from 0 to {highest_c:g} degC; the jar was at "
            f"{temperature_c:g} degC. Check the sensor where it is less extreme."
        )
    known_pct = salt_humidity_pct(salt, temperature_c)
    if not abs(read_pct - known_pct) <= MOST_CORRECTED_PCT or read_pct >= TOP_OF_SCALE_PCT:
        raise InputError(
            f"The sensor read {read_pct:.1f} % where {salt} gives {known_pct:.1f} %. Leave it in "
            "the closed jar for some hours more and check again; if that does not help, replace it."
        )
    return known_pct
