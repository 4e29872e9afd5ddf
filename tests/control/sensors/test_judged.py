"""From each sensor's newest reading to its verdict, and to the air they add up to."""

from collections.abc import Mapping
from dataclasses import replace
from math import nan
from statistics import mean, median

import pytest
from control.sensors.sensed import PLAN, QUIET, START, Values, air_of, reading
from hypothesis import given
from hypothesis import strategies as st

from hangroom.control.sensors.judged import SILENT, UNJUDGED, judged
from hangroom.control.sensors.voting import Air
from hangroom.terms import AirReading, Because, Calibration

NOW_S = 5000.0


def aged(age_s: float, humidity_pct: float = 75.0) -> AirReading:
    return reading(humidity_pct, at_s=NOW_S - age_s)


NO_AGE = replace(reading(), taken_uptime_s=nan)


def air_now(*readings: AirReading | None) -> Air | Because:
    by_sensor = {f"sensor {number}": newest for number, newest in enumerate(readings)}
    return judged(UNJUDGED, by_sensor, PLAN, QUIET, uptime_s=NOW_S).air


@pytest.mark.parametrize(
    ("readings", "because"),
    [
        pytest.param([], Because("no-reading"), id="no sensor at all"),
        pytest.param([None, None], Because("no-reading"), id="nothing measured yet"),
        pytest.param([aged(30.5)], Because("stale-reading", {"age_s": 30.5}), id="stale"),
        pytest.param(
            [aged(90), aged(40), None],
            Because("stale-reading", {"age_s": 40.0}),
            id="all stale, the youngest is named",
        ),
        pytest.param(
            [aged(-5.0)], Because("future-reading", {"ahead_s": 5.0}), id="stamped in the future"
        ),
        pytest.param([NO_AGE], Because("future-reading", {"ahead_s": 0.0}), id="no age"),
        pytest.param(
            [aged(31), aged(1, 99.9)],
            Because("top-of-scale", {"seen_pct": 99.9}),
            id="a fresh one that cannot be tells more than a stale one",
        ),
    ],
)
def test_where_nothing_can_be_gone_by_the_nearest_reason_is_told(
    readings: list[AirReading | None], because: Because
) -> None:
    assert air_now(*readings) == because


@pytest.mark.parametrize("age_s", [0.0, 30.0, -2.0], ids=["just taken", "as old as may be", "late"])
def test_a_fresh_reading_counts_up_to_the_very_limit(age_s: float) -> None:
    assert isinstance(air_now(aged(age_s)), Air)


def test_a_reading_that_was_good_expires_without_a_new_one() -> None:
    newest = {"rail": reading(at_s=0.0)}
    seen = judged(UNJUDGED, newest, PLAN, QUIET, uptime_s=0.0)
    assert judged(seen, newest, PLAN, QUIET, uptime_s=30.0) is seen
    late = judged(seen, newest, PLAN, QUIET, uptime_s=30.1)
    assert late.air == Because("stale-reading", {"age_s": 30.1})
    assert late.air.code in SILENT


def test_a_silent_sensor_is_gone_by_again_at_its_first_reading() -> None:
    seen = judged(UNJUDGED, {"rail": reading(at_s=0.0)}, PLAN, QUIET, uptime_s=0.0)
    back = {"rail": reading(20.0, at_s=400.0)}
    assert isinstance(judged(seen, back, PLAN, QUIET, uptime_s=400.0).air, Air)


def test_a_doubtful_sensor_does_not_speak_for_the_others() -> None:
    air = air_now(None, aged(1, 99.9), aged(31), aged(1, 0.5), aged(1, 74.0))
    assert air == air_now(aged(1, 74.0))


def test_of_two_sensors_the_mean_is_shown_and_of_three_the_middle() -> None:
    assert air_of((70, 12), (80, 14)) == Air(
        temperature_c=13.0,
        humidity_pct=75.0,
        highest_temperature_c=14.0,
        lowest_temperature_c=12.0,
        highest_humidity_pct=80.0,
        lowest_humidity_pct=70.0,
    )
    three = air_of((70, 12), (97, 40), (71, 13))
    assert isinstance(three, Air)
    assert (three.temperature_c, three.humidity_pct) == (13.0, 71.0)
    assert (three.highest_humidity_pct, three.lowest_humidity_pct) == (97.0, 70.0)
    assert (three.apart_pct, three.apart_c) == (27.0, 28.0)


@given(
    st.lists(
        st.tuples(st.integers(10, 997), st.integers(-100, 500)).map(
            lambda v: (v[0] / 10, v[1] / 10)
        ),
        min_size=1,
        max_size=7,
    ).filter(lambda values: (25.5, 25.5) not in values)
)
def test_the_vote_is_the_median_of_the_textbook_between_the_outermost(values: list[Values]) -> None:
    humidities_pct, temperatures_c = zip(*values, strict=True)
    air = air_of(*values)
    assert isinstance(air, Air)
    assert air.humidity_pct == pytest.approx(median(humidities_pct), abs=1e-9)
    assert air.temperature_c == pytest.approx(median(temperatures_c), abs=1e-9)
    assert air.highest_humidity_pct == max(humidities_pct) >= air.humidity_pct
    assert air.lowest_humidity_pct == min(humidities_pct) <= air.humidity_pct
    assert air.highest_temperature_c == max(temperatures_c) >= air.temperature_c
    assert air.lowest_temperature_c == min(temperatures_c) <= air.temperature_c
    if len(values) == 2:
        assert air.humidity_pct == pytest.approx(mean(humidities_pct))


def calibrated(offset_pct: float, gain_ratio: float = 1.0) -> Mapping[str, Calibration]:
    return {"rail": Calibration(gain_ratio=gain_ratio, offset_pct=offset_pct, checked_at=START)}


def test_a_calibration_comes_before_the_vote_and_only_for_its_own_sensor() -> None:
    plan = replace(PLAN, calibrations=calibrated(-4.0))
    readings = {"rail": reading(78.0), "back": reading(80.0)}
    seen = judged(UNJUDGED, readings, plan, QUIET, uptime_s=0.0)
    assert isinstance(seen.air, Air)
    assert (seen.air.lowest_humidity_pct, seen.air.highest_humidity_pct) == (74.0, 80.0)
    assert seen.verdicts == {"rail": reading(74.0), "back": reading(80.0)}
    # A new calibration counts at once, though the reading is the old one.
    without = judged(seen, readings, PLAN, QUIET, uptime_s=2.0)
    assert without.verdicts == readings


def test_a_calibration_never_makes_a_value_plausible_that_is_not() -> None:
    plan = replace(PLAN, calibrations=calibrated(-10.0))
    seen = judged(UNJUDGED, {"rail": reading(99.9)}, plan, QUIET, uptime_s=0.0)
    assert seen.air == Because("top-of-scale", {"seen_pct": 99.9})


@given(
    st.floats(1.0, 99.7),
    st.floats(-5.0, 5.0),
    st.floats(-100.0, 100.0),
)
def test_a_calibration_moves_a_reading_by_10_pct_at_most_and_never_off_the_scale(
    read_pct: float, gain_ratio: float, offset_pct: float
) -> None:
    plan = replace(PLAN, calibrations=calibrated(offset_pct, gain_ratio))
    air = judged(UNJUDGED, {"rail": reading(read_pct)}, plan, QUIET, uptime_s=0.0).air
    assert isinstance(air, Air)
    assert 1.0 <= air.humidity_pct <= 99.8
    assert abs(air.humidity_pct - read_pct) <= 10.0 + 1e-9
    true_pct = gain_ratio * read_pct + offset_pct
    if 1.0 <= true_pct <= 99.8 and abs(true_pct - read_pct) <= 10.0:
        assert air.humidity_pct == pytest.approx(true_pct)


def test_what_is_handed_in_may_change_afterwards() -> None:
    newest: dict[str, AirReading | None] = {"rail": reading(78.0)}
    seen = judged(UNJUDGED, newest, PLAN, QUIET, uptime_s=0.0)
    newest["rail"] = reading(79.0, at_s=6.0)
    assert judged(seen, newest, PLAN, QUIET, uptime_s=6.0).verdicts == newest
