"""One bad frame of a trusted sensor: what it measured just before is gone by until it expires.

A frame whose checksum is right though its values are wrong comes about once in 500 to 1000 reads
(adafruit/Adafruit_Python_DHT, issue 14): once or twice an hour at a reading every six seconds. The
series are invented.
"""

from math import nan

import pytest
from control.sensors.sensed import PLAN, QUIET, Rail, reading

from hangroom.control.sensors.judged import judged
from hangroom.control.sensors.voting import Air
from hangroom.terms import AirReading, Because

NO_MEASUREMENTS = [(25.5, 25.5), (0.0, 0.0), (nan, 13.0), (60.0, -3276.6)]


def trusted() -> Rail:
    rail = Rail()
    rail.reads_all([78.0, 78.1, 78.2])
    return rail


@pytest.mark.parametrize(("humidity_pct", "temperature_c"), NO_MEASUREMENTS)
def test_the_reading_before_it_counts_on_with_its_own_moment(
    humidity_pct: float, temperature_c: float
) -> None:
    rail = trusted()
    before_s = rail.at_s
    assert rail.reads(humidity_pct, temperature_c) is not None
    held = rail.judged.verdicts["rail"]
    assert held == reading(78.2, at_s=before_s)
    assert isinstance(rail.judged.air, Air)


def test_it_expires_when_it_would_have_without_the_bad_frame() -> None:
    rail = trusted()
    good_s = rail.at_s
    rail.reads(25.5, 25.5)
    bad = reading(25.5, 25.5, at_s=rail.at_s)
    for uptime_s in (good_s + 30.0, good_s + 30.1):
        rail.judged = judged(rail.judged, {"rail": bad}, PLAN, QUIET, uptime_s=uptime_s)
        known = isinstance(rail.judged.verdicts["rail"], AirReading)
        assert known == (uptime_s <= good_s + 30.0)


def test_the_third_in_a_row_ends_it() -> None:
    rail = trusted()
    for known in (True, True, False):
        rail.reads(25.5, 25.5, after_s=2.0)
        assert isinstance(rail.judged.air, Air) is known


@pytest.mark.parametrize(
    ("humidity_pct", "temperature_c"),
    [(99.8, 13.0), (100.0, 13.0), (85.0, -3276.6), (60.0, 55.0), (60.0, -20.0)],
)
def test_a_frame_that_may_be_true_or_tells_of_more_humidity_hides_what_was_before(
    humidity_pct: float, temperature_c: float
) -> None:
    rail = trusted()
    rail.reads(humidity_pct, temperature_c)
    assert isinstance(rail.judged.air, Because)


def test_so_does_a_jump() -> None:
    rail = trusted()
    rail.reads(95.0)
    assert isinstance(rail.judged.air, Because)


@pytest.mark.parametrize("humidity_pct", [99.9, 95.0])
def test_what_hid_it_does_so_until_a_good_reading_and_not_only_until_the_next_bad_one(
    humidity_pct: float,
) -> None:
    rail = trusted()
    rail.reads(humidity_pct)
    rail.reads(25.5, 25.5)
    assert isinstance(rail.judged.air, Because)
    assert rail.reads(78.1) is None
    rail.reads(25.5, 25.5)
    assert isinstance(rail.judged.air, Air)


def test_a_sensor_that_is_not_trusted_yet_has_nothing_to_hold() -> None:
    rail = Rail()
    rail.reads_all([99.9, 99.9, 99.9, 78.0, 78.1])
    rail.reads(25.5, 25.5)
    assert isinstance(rail.judged.air, Because)
