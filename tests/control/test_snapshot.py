"""What outlives a program: everything that limits a relay or was learned, and nothing else."""

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hangroom.control.memory import RoomState, starting_state
from hangroom.control.room import decide
from hangroom.control.snapshot import UNSAVED_S, off_for_s, restored, snapshot, stamped
from hangroom.control.use import RelayMemory, Run
from hangroom.terms import (
    AirReading,
    HumidityTarget,
    RelayKind,
    RelayRules,
    RoomPlan,
    Stage,
    TemperatureTarget,
)

HUMIDIFIER, COOLING = RelayKind.HUMIDIFIER, RelayKind.COOLING
PLAN = RoomPlan(
    name="closet",
    stage=Stage.HANG,
    humidity=HumidityTarget(setpoint_pct=75, band_pct=3, low_limit_pct=50, high_limit_pct=92),
    temperature=TemperatureTarget(setpoint_c=13, band_c=1, low_limit_c=-2, high_limit_c=30),
    relays={
        HUMIDIFIER: RelayRules(min_on_s=2, min_off_s=60, max_run_s=120, max_on_s_per_h=900),
        RelayKind.EXHAUST_FAN: RelayRules(min_on_s=30, min_off_s=90),
        COOLING: RelayRules(min_on_s=180, min_off_s=300, max_run_s=900, max_starts_per_h=6),
    },
)
TICK_S = 10.0
NOW = datetime(2026, 11, 1, tzinfo=UTC)


def lived(hours: float) -> tuple[RoomState, float]:
    """Return a state with something in every part of it, and its moment."""
    state, uptime_s = starting_state(PLAN, uptime_s=5000.0), 5000.0
    for number in range(int(hours * 3600 / TICK_S)):
        uptime_s += TICK_S
        # Too dry on the whole, and warm with breaks.
        spell = number // 40 % 4
        reading = AirReading(
            taken_at=datetime(2026, 11, 1, tzinfo=UTC) + timedelta(seconds=uptime_s),
            taken_uptime_s=uptime_s,
            temperature_c=(18.0, 18.0, 11.0, 18.0)[spell] + 0.1 * (number % 2),
            humidity_pct=(66.0, 72.0, 69.0, 75.0)[spell] + 0.1 * (number % 3),
        )
        state = decide(state, PLAN, {"rail": reading}, uptime_s=uptime_s).state
    return state, uptime_s


@pytest.fixture(scope="module")
def before() -> tuple[RoomState, float]:
    return lived(3.4)


def saved(state: RoomState, uptime_s: float) -> dict[str, Any]:
    """Return what would lie on the disk."""
    body = stamped(snapshot(state, uptime_s=uptime_s), boot_id="b", now=NOW, uptime_s=uptime_s)
    return dict(json.loads(json.dumps(body, allow_nan=False)))


def test_a_restart_in_the_same_boot_keeps_what_was_used_and_learned(
    before: tuple[RoomState, float],
) -> None:
    state, saved_s = before
    kept = saved(state, saved_s)
    again, fault = restored(kept, PLAN, gap_s=20.0, uptime_s=saved_s + 20.0)
    assert fault is None
    assert again.day == state.day
    assert again.day.hours
    assert again.mean
    assert state.mean
    assert (*again.mean.minutes_pct, again.mean.sum_pct) == state.mean.minutes_pct
    assert again.mean.humidity_pct == state.mean.humidity_pct is not None
    shares = {kind: drying.share_ratio for kind, drying in state.drying.items()}
    assert {kind: drying.share_ratio for kind, drying in again.drying.items()} == shares
    assert shares
    for kind, memory in again.relays.items():
        old = state.relays[kind]
        assert (memory.closed, memory.changed_uptime_s) == (False, saved_s + 20.0)
        recent = tuple(r for r in old.runs if r.ended_uptime_s > saved_s + 20.0 - 3600.0)
        assert memory.runs[: len(recent)] == recent
        assert memory.refused_uptime_s == old.refused_uptime_s
        assert memory.locked_uptime_s == old.locked_uptime_s
    assert state.relays[HUMIDIFIER].runs
    assert state.relays[COOLING].refused_uptime_s
    for kind, dose in again.doses.items():
        old_dose = state.doses[kind]
        assert dose.s_per_pct == old_dose.s_per_pct
        assert dose.proved_s_per_pct == old_dose.proved_s_per_pct
        assert dose.drift_pct_per_s == old_dose.drift_pct_per_s
        assert (dose.from_pct, dose.ended_uptime_s) == (None, None)
    assert (again.trusted_once, again.sight.known) == (False, False)


def one_relay(memory: RelayMemory, *, saved_s: float, gap_s: float, uptime_s: float) -> RelayMemory:
    state = starting_state(PLAN, uptime_s=0.0)
    state = replace(state, relays={**state.relays, COOLING: memory})
    kept = saved(state, saved_s)
    again, fault = restored(kept, PLAN, gap_s=gap_s, uptime_s=uptime_s)
    assert fault is None
    return again.relays[COOLING]


def test_after_another_boot_everything_is_as_long_ago_as_it_was() -> None:
    old = RelayMemory(
        closed=False, changed_uptime_s=9000.0, runs=(Run(8000.0, 9000.0),), locked_uptime_s=9000.0
    )
    # Saved 100 s after the trip; the machine was off for 8 min and is up for 40 s.
    new = one_relay(old, saved_s=9100.0, gap_s=520.0, uptime_s=40.0)
    assert new.locked_uptime_s == 40.0 - 520.0 - 100.0
    assert new.runs[0] == Run(-1580.0, -580.0)


def test_where_nobody_knows_how_long_ago_it_was_no_time_has_passed() -> None:
    old = RelayMemory(
        closed=False, changed_uptime_s=9000.0, runs=(Run(8000.0, 9000.0),), locked_uptime_s=9000.0
    )
    new = one_relay(old, saved_s=9100.0, gap_s=0.0, uptime_s=40.0)
    assert new.locked_uptime_s == -60.0
    assert new.runs[0] == Run(-1060.0, -60.0)


def test_a_run_under_way_counts_up_to_the_save_and_what_was_not_saved_as_one_more() -> None:
    running = RelayMemory(closed=True, changed_uptime_s=8000.0)
    new = one_relay(running, saved_s=8500.0, gap_s=50.0, uptime_s=8550.0)
    assert new.runs == (Run(8000.0, 8500.0), Run(8550.0, 8550.0 + UNSAVED_S))
    assert not new.closed


def test_what_lies_ahead_by_a_clock_gone_wrong_is_taken_for_now_and_lasts_as_long() -> None:
    old = RelayMemory(
        closed=False, changed_uptime_s=9000.0, runs=(Run(8000.0, 9000.0),), locked_uptime_s=9000.0
    )
    new = one_relay(old, saved_s=9100.0, gap_s=-5000.0, uptime_s=40.0)
    assert new.locked_uptime_s == 40.0
    assert new.runs[0] == Run(40.0, 1040.0)


def test_how_long_ago_a_save_was_is_known_exactly_within_a_boot() -> None:
    kept = saved(starting_state(PLAN, uptime_s=100.0), 100.0)
    # The wall clock may have jumped meanwhile.
    for jump in (timedelta(hours=5), timedelta(hours=-5)):
        assert off_for_s(kept, boot_id="b", now=NOW + jump, uptime_s=130.5) == 30.5


def test_after_another_boot_the_wall_clock_tells_unless_it_stands_before_the_save() -> None:
    kept = saved(starting_state(PLAN, uptime_s=100.0), 100.0)
    later, earlier = NOW + timedelta(hours=2), NOW - timedelta(days=30)
    assert off_for_s(kept, boot_id="c", now=later, uptime_s=40.0) == 7200.0
    # A Pi without a clock chip, before the network's time has come.
    assert off_for_s(kept, boot_id="c", now=earlier, uptime_s=40.0) == 0.0


def test_a_quiet_room_has_the_same_snapshot_a_minute_later() -> None:
    state = starting_state(PLAN, uptime_s=0.0)
    assert snapshot(state, uptime_s=100.0) == snapshot(state, uptime_s=160.0)


def test_a_dose_learned_under_other_settings_fits_these(before: tuple[RoomState, float]) -> None:
    state, saved_s = before
    kept = saved(state, saved_s)
    dose = {"s_per_pct": 500.0, "proved_s_per_pct": 400.0, "drift_pct_per_s": 9.0}
    kept["room"]["doses"][HUMIDIFIER] = dose
    again, _ = restored(kept, PLAN, gap_s=0.0, uptime_s=saved_s)
    fits = again.doses[HUMIDIFIER]
    assert (fits.s_per_pct, fits.proved_s_per_pct) == (120.0, 120.0)
    assert fits.drift_pct_per_s < 9.0


def test_relays_that_are_new_begin_fresh_and_relays_that_are_gone_are_dropped(
    before: tuple[RoomState, float],
) -> None:
    state, saved_s = before
    kept = saved(state, saved_s)
    rules = RelayRules(min_on_s=1, min_off_s=1)
    plan = replace(PLAN, relays={RelayKind.HEATER: rules, HUMIDIFIER: PLAN.relays[HUMIDIFIER]})
    again, fault = restored(kept, plan, gap_s=0.0, uptime_s=saved_s)
    assert fault is None
    assert set(again.relays) == set(plan.relays)
    assert again.relays[RelayKind.HEATER].runs == ()


# Whatever a damaged disk or another program may have left there.
leaves = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.floats(),
    st.text(max_size=5),
    st.just(10**400),
    st.just([]),
    st.just({}),
)
anything = st.recursive(
    leaves,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(
            st.sampled_from(["room", "uptime_s", "relays", "doses", "hours", "cooling", "runs"]),
            inner,
        ),
    ),
    max_leaves=8,
)


def is_in_order(state: RoomState) -> bool:
    """Whether the next decision can be made on it, and no later one divides by what was kept."""
    reading = AirReading(
        taken_at=datetime(2026, 11, 1, tzinfo=UTC),
        taken_uptime_s=50.0,
        temperature_c=20.0,
        humidity_pct=60.0,
    )
    decide(state, PLAN, {"rail": reading}, uptime_s=50.0)
    learned = [dose.s_per_pct for dose in state.doses.values()]
    return set(state.relays) == set(PLAN.relays) and all(s_per_pct > 0 for s_per_pct in learned)


@given(anything)
def test_a_foreign_snapshot_is_refused_with_its_reason_and_everything_begins_fresh(
    kept: object,
) -> None:
    assert off_for_s(kept, boot_id="b", now=NOW, uptime_s=40.0) == 0.0
    state, fault = restored(kept, PLAN, gap_s=0.0, uptime_s=40.0)
    assert fault
    assert state == starting_state(PLAN, uptime_s=40.0)


@given(st.data())
def test_a_snapshot_with_one_thing_wrong_in_it_never_raises(
    before: tuple[RoomState, float], data: st.DataObject
) -> None:
    kept = saved(*before)
    place: Any = kept
    while True:
        keys = list(place) if isinstance(place, dict) else list(range(len(place)))
        key = data.draw(st.sampled_from(keys))
        if not isinstance(place[key], dict | list) or not place[key] or data.draw(st.booleans()):
            break
        place = place[key]
    place[key] = data.draw(leaves)
    state, fault = restored(kept, PLAN, gap_s=0.0, uptime_s=40.0)
    assert is_in_order(state)
    if fault:
        assert state == starting_state(PLAN, uptime_s=40.0)
