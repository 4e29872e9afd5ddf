"""Jumps. Limits from control practice: 15 %RH or 3 degC within 10 s with every relay off.

What a door or a relay does is taken from first-order lags (a closed form), not from control.
"""

from math import exp

import pytest
from control.sensors.sensed import PLAN, QUIET, READ_EVERY_S, Rail, reading

from hangroom.control.sensors.judged import UNJUDGED, Judged, judged
from hangroom.control.use import RelayMemory
from hangroom.terms import Because, RelayKind

FINE = None


def settled() -> Rail:
    """Return a sensor that has read 78 % and 13 degC twice."""
    rail = Rail()
    assert rail.reads_all([78.0, 78.1]) == [FINE, FINE]
    return rail


def test_a_spike_is_left_out_and_forgotten_at_once() -> None:
    # Doubled values are known from wrong frames (adafruit/Adafruit_Python_DHT, issue 14).
    rail = settled()
    assert rail.reads(39.0) == "jumped"
    assert rail.figures == {"from_pct": 78.1, "to_pct": 39.0}
    assert rail.reads(78.0) is FINE
    assert rail.reads(78.0, 26.0) == "temperature-jumped"
    assert rail.figures == {"from_c": 13.0, "to_c": 26.0}
    assert rail.reads(78.0) is FINE


def test_a_jump_that_the_next_reading_confirms_is_the_air() -> None:
    rail = settled()
    assert rail.reads_all([55.0, 54.0, 54.1]) == ["jumped", FINE, FINE]


@pytest.mark.parametrize("outside_pct", [30.0, 50.0, 99.0])
@pytest.mark.parametrize("lag_s", [2.0, 5.0, 10.0, 20.0])
def test_an_opened_door_leaves_control_blind_for_two_readings_at_most(
    outside_pct: float, lag_s: float
) -> None:
    rail = Rail()
    rail.reads(80.0)
    told = [
        rail.reads(outside_pct + (80.0 - outside_pct) * exp(-READ_EVERY_S * number / lag_s))
        for number in range(1, 20)
    ]
    assert sum(code is not FINE for code in told) <= 2
    assert told[2:] == [FINE] * 17


@pytest.mark.parametrize(
    ("change_pct", "change_c", "told"),
    [(15.0, 0.0, FINE), (15.1, 0.0, "jumped"), (0.0, 3.0, FINE), (0.0, -3.1, "temperature-jumped")],
)
def test_the_limits_themselves(change_pct: float, change_c: float, told: str | None) -> None:
    rail = Rail()
    rail.reads(64.0, 10.0)
    assert rail.reads(64.0 + change_pct, 10.0 + change_c) == told


def test_after_lost_readings_the_air_may_have_come_farther_and_after_30_s_anywhere() -> None:
    for gap_s, change_pct, told in (
        (20.0, 29.0, FINE),
        (20.0, 31.0, "jumped"),
        (30.0, 45.5, "jumped"),
        (30.5, 70.0, FINE),
    ):
        rail = Rail()
        rail.reads(20.0)
        assert rail.reads(20.0 + change_pct, after_s=gap_s) == told


@pytest.mark.parametrize(
    ("closed", "switched_s_ago", "told"),
    [(True, 3000.0, FINE), (False, 59.0, FINE), (False, 61.0, "jumped")],
)
@pytest.mark.parametrize("kind", RelayKind)
def test_a_relay_that_is_on_or_was_just_switched_explains_any_change(
    kind: RelayKind, closed: bool, switched_s_ago: float, told: str | None
) -> None:
    rail = settled()
    switched_s = rail.at_s + READ_EVERY_S - switched_s_ago
    rail.relays = {**QUIET, kind: RelayMemory(closed=closed, changed_uptime_s=switched_s)}
    assert rail.reads(97.0) == told


def test_the_same_reading_given_again_does_not_confirm_itself() -> None:
    rail = settled()
    assert rail.reads(39.0) == "jumped"
    # A journal gives the same reading as another object, and a tick comes every two seconds.
    assert rail.reads(39.0, after_s=0.0) == "jumped"
    assert rail.reads(39.5) is FINE


def test_a_reading_that_is_waited_for_by_another_sensor_does_not_confirm_itself_either() -> None:
    def judge(before: Judged, back_at_s: float) -> Judged:
        rail = reading(39.0 if back_at_s else 78.0, at_s=6.0 if back_at_s else 0.0)
        readings = {"rail": rail, "back": reading(78.0, at_s=back_at_s)}
        return judged(before, readings, PLAN, QUIET, uptime_s=back_at_s)

    seen = judge(judge(UNJUDGED, 0.0), 6.0)
    again = judge(seen, 8.0)
    assert again.verdicts["rail"] == seen.verdicts["rail"]
    assert isinstance(again.verdicts["rail"], Because)
