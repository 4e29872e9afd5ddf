from datetime import UTC, datetime
from math import inf, nan

import pytest

from hangroom.control.trust import Air, judge
from hangroom.terms import AirReading, Because

NOW_S = 5000.0
EXPIRES_S = 30.0


def reading(
    humidity_pct: float = 75.0, temperature_c: float = 13.0, *, age_s: float = 1.0
) -> AirReading:
    return AirReading(
        taken_at=datetime(2026, 11, 1, tzinfo=UTC),
        taken_uptime_s=NOW_S - age_s,
        temperature_c=temperature_c,
        humidity_pct=humidity_pct,
    )


def judged(*readings: AirReading | None) -> Air | Because:
    return judge(readings, uptime_s=NOW_S, expires_s=EXPIRES_S)


@pytest.mark.parametrize(
    ("readings", "because"),
    [
        pytest.param([], Because("no-reading"), id="no sensor at all"),
        pytest.param([None, None], Because("no-reading"), id="nothing measured yet"),
        pytest.param(
            [reading(age_s=30.5)],
            Because("stale-reading", {"age_s": 30.5}),
            id="stale",
        ),
        pytest.param(
            [reading(age_s=90), reading(age_s=40), None],
            Because("stale-reading", {"age_s": 40.0}),
            id="all stale, the youngest is named",
        ),
        pytest.param(
            [reading(age_s=-5.0)],
            Because("stale-reading", {"age_s": 0.0}),
            id="stamped in the future",
        ),
        pytest.param([reading(age_s=nan)], Because("stale-reading", {"age_s": 0.0}), id="no age"),
        pytest.param([reading(0.0, 0.0)], Because("implausible-reading"), id="an all-zero frame"),
        pytest.param([reading(99.9)], Because("implausible-reading"), id="a soaked element"),
        pytest.param([reading(60, -3276)], Because("implausible-reading"), id="sign bit as number"),
        pytest.param([reading(nan)], Because("implausible-reading"), id="humidity no number"),
        pytest.param(
            [reading(75, nan)], Because("implausible-reading"), id="temperature no number"
        ),
        pytest.param([reading(inf)], Because("implausible-reading"), id="endless"),
        pytest.param(
            [reading(age_s=31), reading(99.9)],
            Because("implausible-reading"),
            id="a good one that is stale does not help",
        ),
    ],
)
def test_a_bad_reading_is_absent(readings: list[AirReading | None], because: Because) -> None:
    assert judged(*readings) == because


@pytest.mark.parametrize("age_s", [0.0, 30.0], ids=["just taken", "exactly as old as allowed"])
def test_a_fresh_reading_is_taken_as_it_is(age_s: float) -> None:
    assert judged(reading(age_s=age_s)) == Air(temperature_c=13.0, humidity_pct=75.0)


def test_two_sensors_are_averaged_and_of_three_the_middle_counts() -> None:
    # The median of an even number is the mean of the middle two: any statistics textbook.
    assert judged(reading(70, 12), reading(80, 14)) == Air(temperature_c=13.0, humidity_pct=75.0)
    assert judged(reading(70, 12), reading(97, 40), reading(71, 13)) == Air(
        temperature_c=13.0, humidity_pct=71.0
    )


def test_of_several_sensors_only_the_usable_ones_count() -> None:
    assert judged(None, reading(0, 0), reading(99.9), reading(60, age_s=31), reading(75)) == Air(
        temperature_c=13.0, humidity_pct=75.0
    )
