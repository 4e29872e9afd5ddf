"""Salt checks, with Greenspan's table (1977, J. Res. NBS 81A(1):89-96) as the known humidity.

At 20 degC: NaCl 75.47, KCl 85.11, MgCl2 33.07; at 25 degC NaCl 75.29, KCl 84.34; at 50 degC KCl
81.20. The sensors are invented.
"""

from datetime import UTC, datetime, timedelta
from math import nan

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from hangroom.air import Salt
from hangroom.control.sensors.salt_checks import (
    SaltCheck,
    calibration_from,
    one_point,
    two_point,
)
from hangroom.errors import InputError

AT = datetime(2026, 11, 1, 8, 0, tzinfo=UTC)
NACL, KCL, MGCL2 = Salt.SODIUM_CHLORIDE, Salt.POTASSIUM_CHLORIDE, Salt.MAGNESIUM_CHLORIDE
# As printed in the table, 20 degC.
KNOWN_PCT = {NACL: 75.47, KCL: 85.11, MGCL2: 33.07}
PRINTED = 0.02  # public copies of the table differ by up to this


def check(
    salt: Salt, read_pct: float, *, temperature_c: float = 20.0, days: float = 0.0
) -> SaltCheck:
    return SaltCheck(
        salt=salt,
        temperature_c=temperature_c,
        read_pct=read_pct,
        checked_at=AT + timedelta(days=days),
    )


def test_one_check_gives_an_offset_to_the_printed_humidity() -> None:
    calibration = one_point(check(NACL, 72.0))
    assert calibration.gain_ratio == 1.0
    assert calibration.offset_pct == pytest.approx(75.47 - 72.0, abs=PRINTED)
    assert calibration.checked_at == AT
    warm = one_point(check(KCL, 88.0, temperature_c=25.0))
    assert warm.offset_pct == pytest.approx(84.34 - 88.0, abs=PRINTED)


@given(
    st.floats(0.75, 1.3),
    st.floats(-2.0, 2.0),
    st.sampled_from([(NACL, KCL), (MGCL2, NACL), (KCL, MGCL2)]),
)
def test_two_checks_find_gain_and_offset_of_a_sensor_that_errs_in_a_straight_line(
    gain_ratio: float, at_75_pct: float, salts: tuple[Salt, Salt]
) -> None:
    # The sensor reads `at_75_pct` off at NaCl, and its error grows in proportion from there.
    def reads_pct(true_pct: float) -> float:
        return KNOWN_PCT[NACL] + at_75_pct + (true_pct - KNOWN_PCT[NACL]) / gain_ratio

    # Farther off than 10 % a check is refused.
    assume(all(abs(reads_pct(KNOWN_PCT[salt]) - KNOWN_PCT[salt]) < 9.9 for salt in salts))
    found = two_point(*[check(salt, reads_pct(KNOWN_PCT[salt])) for salt in salts])
    for true_pct in (KNOWN_PCT[salt] for salt in salts):
        corrected_pct = found.gain_ratio * reads_pct(true_pct) + found.offset_pct
        assert corrected_pct == pytest.approx(true_pct, abs=PRINTED)
    assert found.gain_ratio == pytest.approx(gain_ratio, rel=0.01)


@pytest.mark.parametrize(
    ("refused", "says"),
    [
        pytest.param(check(NACL, 65.0), "75.5 %.*Leave it in the closed jar.*replace", id="far"),
        pytest.param(check(NACL, 86.0), "closed jar", id="far above"),
        pytest.param(check(Salt.POTASSIUM_SULPHATE, 99.9), "closed jar", id="a soaked element"),
        pytest.param(check(NACL, nan), "closed jar", id="no number"),
        pytest.param(check(NACL, 75.0, temperature_c=-1.0), "from 0 to 50 degC", id="frozen"),
        pytest.param(
            check(Salt.POTASSIUM_CARBONATE, 43.0, temperature_c=31.0),
            "from 0 to 30 degC",
            id="beyond the salt's table",
        ),
        pytest.param(check(NACL, 75.0, temperature_c=nan), "from 0 to 50", id="no temperature"),
    ],
)
def test_a_check_that_proves_nothing_is_refused_with_what_to_do(
    refused: SaltCheck, says: str
) -> None:
    with pytest.raises(InputError, match=says):
        one_point(refused)
    with pytest.raises(InputError, match=says):
        two_point(check(MGCL2, 33.0), refused)


@pytest.mark.parametrize(
    ("pair", "says"),
    [
        pytest.param(
            (check(NACL, 75.0), check(NACL, 75.2, temperature_c=30.0)), "too near", id="one salt"
        ),
        pytest.param((check(NACL, 80.0), check(KCL, 80.0)), "not ready", id="no difference"),
        pytest.param((check(NACL, 82.0), check(KCL, 80.0)), "not ready", id="the wrong way"),
        pytest.param((check(NACL, 68.0), check(KCL, 92.0)), "not ready", id="far too steep"),
        pytest.param(
            (check(NACL, 75.0), check(KCL, 85.0, days=40)), "31 days older", id="months between"
        ),
    ],
)
def test_two_points_that_make_no_line_are_refused(
    pair: tuple[SaltCheck, SaltCheck], says: str
) -> None:
    with pytest.raises(InputError, match=says):
        two_point(*pair)


def test_of_all_checks_the_newest_counts_with_its_partner_of_the_same_month() -> None:
    old = check(KCL, 90.0, days=-200)
    first, second = check(NACL, 74.0), check(KCL, 86.0, days=1)
    again = check(KCL, 85.5, days=2)
    assert calibration_from([first]) == one_point(first)
    assert calibration_from([old, first]) == one_point(first)
    assert calibration_from([old, first, second]) == two_point(first, second)
    assert calibration_from([old, first, second, again]) == two_point(first, again)
    assert calibration_from([old, first, second, again]).checked_at == again.checked_at
