"""Invariant 7: a room whose air is not known.

What is right stands in the invariant itself: the humidifier off, the fan at a small clamped hourly
duty (3 to 15 %, 10 % where nothing is known, a day at most), and nothing before the first trusted
reading of a run.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hangroom.control.blind import CYCLE_S, usual_airing_ratio
from hangroom.control.day import HourOfUse
from hangroom.control.memory import starting_state
from hangroom.control.room import decide
from hangroom.terms import (
    AirReading,
    Command,
    HumidityTarget,
    RelayKind,
    RelayRules,
    RoomPlan,
    Stage,
    TemperatureTarget,
)

EXHAUST = RelayKind.EXHAUST_FAN
HOUR_S = 3600.0
PLAN = RoomPlan(
    name="closet",
    stage=Stage.HANG,
    humidity=HumidityTarget(setpoint_pct=75, band_pct=3, low_limit_pct=50, high_limit_pct=92),
    temperature=TemperatureTarget(setpoint_c=13, band_c=1, low_limit_c=-2, high_limit_c=30),
    relays=dict.fromkeys(RelayKind, RelayRules(min_on_s=30, min_off_s=90)),
)
TICK_S = 10.0


def lived(
    plan: RoomPlan, humidities_pct: Sequence[float | None], *, tick_s: float = TICK_S
) -> Iterator[tuple[float, bool, dict[RelayKind, Command]]]:
    """Yield moment, whether anything was measured, and the commands, for one humidity a tick."""
    state = starting_state(plan, uptime_s=0.0)
    for number, humidity_pct in enumerate(humidities_pct, start=1):
        uptime_s = number * tick_s
        reading = humidity_pct and AirReading(
            taken_at=datetime(2026, 11, 1, tzinfo=UTC) + timedelta(seconds=uptime_s),
            taken_uptime_s=uptime_s,
            temperature_c=18.0,
            # A sensor that never moves would be taken for a broken one.
            humidity_pct=humidity_pct + 0.1 * (number % 2),
        )
        decision = decide(state, plan, {"rail": reading or None}, uptime_s=uptime_s)
        state = decision.state
        yield uptime_s, bool(humidity_pct), {c.relay: c for c in decision.commands}


def hours(*ratios: float | None) -> list[HourOfUse]:
    return [
        HourOfUse(ended_uptime_s=HOUR_S * n, airing_ratio=ratio, switches={})
        for n, ratio in enumerate(ratios)
    ]


@pytest.mark.parametrize(
    ("known", "ratio"),
    [
        pytest.param([], 0.10, id="nothing known"),
        pytest.param([0.05] * 5, 0.10, id="less than six hours known"),
        pytest.param([0.05] * 5 + [None] * 19, 0.10, id="hours without air do not count"),
        pytest.param([0.05] * 6, 0.05, id="six hours known"),
        pytest.param([0.04] * 7 + [0.9] * 6, 0.04, id="the median, whatever the extremes"),
        pytest.param([0.0] * 24, 0.03, id="never less than 3 %"),
        pytest.param([0.9] * 24, 0.15, id="never more than 15 %"),
    ],
)
def test_the_share_is_the_median_hour_within_its_limits(
    known: list[float | None], ratio: float
) -> None:
    assert usual_airing_ratio(hours(*known)) == ratio


def test_a_blind_room_airs_6_minutes_an_hour_where_nothing_else_is_known() -> None:
    ticks = [75.0] * 10 + [None] * 720
    airs_s = sum(
        TICK_S for _, seen, told in lived(PLAN, ticks) if not seen and told[EXHAUST].closed
    )
    assert airs_s == pytest.approx(2 * 360, abs=2 * TICK_S)


def test_a_room_that_was_aired_much_is_aired_more_while_blind_and_one_that_was_not_less() -> None:
    def share_pct(before: Sequence[float]) -> float:
        blind = [
            told[EXHAUST].closed
            for _, seen, told in lived(PLAN, [*before, *[None] * 720])
            if not seen
        ]
        return 100 * sum(blind) / len(blind)

    seven_h = int(7 * HOUR_S / TICK_S)
    assert share_pct([85.0] * seven_h) == pytest.approx(15, abs=1)
    assert share_pct([75.0] * seven_h) == pytest.approx(3, abs=1)


def test_a_sensor_that_is_back_soon_has_moved_no_fan() -> None:
    ticks = [75.0] * 10 + [None] * int((CYCLE_S - 280) / TICK_S) + [75.0] * 10
    assert not any(told[EXHAUST].closed for _, _, told in lived(PLAN, ticks))


def test_after_a_day_of_blindness_the_fan_stays_off_and_says_why() -> None:
    day = int(24 * HOUR_S / 60)
    told = [told[EXHAUST] for _, _, told in lived(PLAN, [75.0, *[None] * (day + 120)], tick_s=60.0)]
    assert any(command.closed for command in told[day - 60 : day + 1])
    assert {(c.closed, c.because.code) for c in told[day + 1 :]} == {(False, "blind-for-long")}


@pytest.mark.parametrize("stage", [Stage.REST, Stage.EMPTY])
def test_a_stage_that_forbids_the_fan_forbids_it_blindly_too(stage: Stage) -> None:
    plan = replace(PLAN, stage=stage)
    ticks = [75.0] * 10 + [None] * 720
    assert not any(told[EXHAUST].closed for _, _, told in lived(plan, ticks))


def test_a_dose_under_way_ends_at_once_when_the_air_is_lost() -> None:
    closet = replace(PLAN, relays={EXHAUST: PLAN.relays[EXHAUST]})
    *_, (_, _, airing), (_, _, lost) = lived(closet, [75.0] * 10 + [85.0] * 2 + [None])
    assert airing[EXHAUST].closed
    assert (lost[EXHAUST].closed, lost[EXHAUST].because.code) == (False, "no-reading")


stretches = st.lists(
    st.tuples(
        st.sampled_from([66.0, 75.0, 85.0, 85.0, None, None]),
        st.sampled_from([1, 5, 30, 180, 400, 1500]),
    ),
    min_size=1,
    max_size=8,
)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(stretches, st.sampled_from([Stage.HANG, Stage.HANG, Stage.HOLD, Stage.CASING_DRY, *Stage]))
def test_without_air_the_fan_alone_runs_and_at_most_15_pct_of_any_hour(
    stretches: list[tuple[float | None, int]], stage: Stage
) -> None:
    plan = replace(PLAN, stage=stage)
    trusted, blind_since_s, aired_s = False, 0.0, list[float]()
    for uptime_s, seen, told in lived(
        plan, [pct for pct, times in stretches for _ in range(times)]
    ):
        closed = {relay for relay, command in told.items() if command.closed}
        if seen:
            trusted, blind_since_s, aired_s = True, uptime_s + TICK_S, []
            continue
        assert closed <= {EXHAUST, RelayKind.CIRCULATION_FAN}
        assert trusted or not closed
        if EXHAUST in closed:
            assert stage not in (Stage.REST, Stage.EMPTY)
            assert uptime_s - blind_since_s < 24 * HOUR_S
            aired_s.append(uptime_s)
        in_the_hour_s = TICK_S * sum(at_s > uptime_s - HOUR_S for at_s in aired_s)
        assert in_the_hour_s <= 0.15 * HOUR_S + 2 * TICK_S
