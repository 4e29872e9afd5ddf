"""What is learned and found outlives the program; what nobody watched to its end does not."""

import json
from dataclasses import replace
from typing import Any

import pytest
from control.plant_watch.closet import FAN, HUMIDIFIER, Closet
from hypothesis import given
from hypothesis import strategies as st

from hangroom.alarm_table.row import AlarmId
from hangroom.control.alarms.delays import Side
from hangroom.control.plant_watch.door import Door, Jump
from hangroom.control.plant_watch.snapshot import restored, snapshot
from hangroom.control.plant_watch.watch import Memory, starting_memory

SAVED_S, GAP_S, UPTIME_S = 50_000.0, 300.0, 40.0


def through_json(memory: Memory) -> tuple[Memory, str | None]:
    kept = json.loads(json.dumps(snapshot(memory), allow_nan=False))
    return restored(kept, saved_uptime_s=SAVED_S, gap_s=GAP_S, uptime_s=UPTIME_S)


def restarted(closet: Closet) -> None:
    """Go on in a new program, in the same boot and without a gap."""
    kept = json.loads(json.dumps(snapshot(closet.memory)))
    closet.memory, wrong = restored(
        kept, saved_uptime_s=closet.uptime_s, gap_s=0, uptime_s=closet.uptime_s
    )
    assert wrong is None


def test_a_memory_that_knows_nothing_comes_back_as_it_was() -> None:
    memory, wrong = through_json(starting_memory(uptime_s=7.0))
    assert wrong is None
    assert memory == starting_memory(uptime_s=UPTIME_S)


def test_what_doses_do_and_how_many_failed_is_known_after_a_restart() -> None:
    closet = Closet()
    closet.live(600)
    closet.runs(HUMIDIFIER, 8, for_s=6)
    closet.tank_empty = True
    closet.runs(HUMIDIFIER, 2, for_s=6)
    restarted(closet)
    closet.live(120)
    assert closet.side(AlarmId.HUMIDIFIER_INEFFECTIVE) is Side.WITHIN
    closet.runs(HUMIDIFIER, 1, for_s=6)
    assert closet.side(AlarmId.HUMIDIFIER_INEFFECTIVE) is Side.BEYOND
    restarted(closet)
    closet.live(120)
    assert closet.side(AlarmId.HUMIDIFIER_INEFFECTIVE) is Side.BEYOND


def test_when_the_fan_worked_last_is_moved_to_the_new_clock() -> None:
    closet = Closet(given_off_per_h=10, outside_known=False, humidity_pct=82)
    closet.live(600)
    closet.runs(FAN, 6, for_s=20)
    worked_s = closet.memory.airing.effect.worked_uptime_s
    memory, _ = through_json(closet.memory)
    ago_s = SAVED_S + GAP_S - worked_s
    assert memory.airing.effect.worked_uptime_s == pytest.approx(UPTIME_S - ago_s)


def test_a_door_that_stood_open_is_still_believed_open_and_then_seen_to_be_shut() -> None:
    closet = Closet(given_off_per_h=10)
    closet.live(900)
    closet.door_open = True
    closet.live(300)
    restarted(closet)
    assert closet.live(120).raw[AlarmId.DOOR_OPEN].side is Side.BEYOND
    closet.door_open = False
    assert closet.live(600).raw[AlarmId.DOOR_OPEN].side is Side.WITHIN


def test_a_quiet_room_is_not_written_again_and_again() -> None:
    closet = Closet(leaks_per_h=0.0001, noise=None)
    closet.live(3 * 3600)
    before = snapshot(closet.memory)
    closet.live(3600)
    assert snapshot(closet.memory) == before


json_values = st.recursive(
    st.none() | st.booleans() | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=6,
)


@given(kept=json_values)
def test_what_cannot_be_understood_is_forgotten_with_a_word_why(kept: object) -> None:
    memory, wrong = restored(kept, saved_uptime_s=SAVED_S, gap_s=GAP_S, uptime_s=UPTIME_S)
    assert memory == starting_memory(uptime_s=UPTIME_S)
    assert wrong


@pytest.mark.parametrize("part", ["doses", "airing", "cooling", "door"])
@given(value=json_values)
def test_one_part_that_cannot_be_understood_spoils_no_more_than_the_memory(
    part: str, value: object
) -> None:
    open_door = Door(vapour=Jump(10.0, 6.0))
    kept: dict[str, Any] = snapshot(replace(starting_memory(uptime_s=0.0), door=open_door))
    memory, wrong = restored(
        kept | {part: value}, saved_uptime_s=SAVED_S, gap_s=GAP_S, uptime_s=UPTIME_S
    )
    assert (wrong is not None) == (memory == starting_memory(uptime_s=UPTIME_S))
