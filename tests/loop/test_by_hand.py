"""What a person asks of a room, from the page's row to the relay and to the live board."""

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from loop.asking import Desk
from loop.fakes import DRY, EXHAUST, FINE, HUMIDIFIER, PLAN, START, House

from hangroom.store.live import LiveOverride, LiveStage, read_board, write_board
from hangroom.store.requests import Kind
from hangroom.terms import Override, Stage, StageRun

OVERRIDE = Override(closed=True, ends_uptime_s=1600.0, by="keeper", why="smoke")
RUN = StageRun(since_uptime_s=400.0, ends_uptime_s=2000.0, then=Stage.HOLD, by="keeper", batch=7)


@pytest.mark.parametrize("jump_s", [0.0, 3600.0])
def test_the_board_tells_stage_and_override_with_their_ends_by_the_wall_clock(
    house: House, tmp_path: Path, jump_s: float
) -> None:
    house.new_plans = {"closet": replace(PLAN, overrides={EXHAUST: OVERRIDE}, stage_run=RUN)}
    house.tick(FINE)
    house.clock.step_wall(jump_s)
    house.tick(FINE)
    write_board(tmp_path, house.boards[-1])
    board = read_board(tmp_path)
    assert board is not None
    room = board.rooms["closet"]
    # The fakes' clock showed START at 1000 s.
    zero = START - timedelta(seconds=1000.0 - jump_s)
    assert room.relays[EXHAUST].override == LiveOverride(
        closed=True, ends_at=zero + timedelta(seconds=1600), by="keeper", why="smoke"
    )
    assert room.relays[HUMIDIFIER].override is None
    assert room.stage_run == LiveStage(
        since_at=zero + timedelta(seconds=400),
        ends_at=zero + timedelta(seconds=2000),
        then=Stage.HOLD,
        by="keeper",
        batch=7,
    )


def test_the_board_tells_a_stage_without_an_end_and_a_room_without_a_begun_stage(
    house: House,
) -> None:
    house.tick(FINE)
    assert house.boards[-1].rooms["closet"].stage_run is None
    endless = replace(RUN, ends_uptime_s=None, then=None)
    house.new_plans = {"closet": replace(PLAN, stage_run=endless)}
    house.tick(FINE)
    house.tick(FINE)
    stage = house.boards[-1].rooms["closet"].stage_run
    assert stage is not None
    assert (stage.ends_at, stage.then) == (None, None)


def test_a_relay_switched_by_hand_follows_within_a_tick_and_is_let_go_in_time(
    house: House, desk: Desk
) -> None:
    """The loop and the answers together; `desk` holds the database, `house` the relays."""
    desk.plans = {"closet": PLAN}
    house.loop._plans_now = desk.answers.plans_now
    house.loop._plans = dict(desk.plans)
    house.tick(DRY)
    assert house.closed == {HUMIDIFIER}
    desk.ask(Kind.OVERRIDE, relay=HUMIDIFIER, closed=False, for_s=10.0, why="tank is out")
    house.tick(DRY)  # is asked
    house.tick(DRY)  # is done
    assert house.closed == set()
    for _ in range(3):
        house.tick(DRY)
        assert house.closed == set()
    house.tick(DRY)
    assert house.closed == {HUMIDIFIER}
    house.tick(DRY)
    assert house.boards[-1].rooms["closet"].relays[HUMIDIFIER].override is None
