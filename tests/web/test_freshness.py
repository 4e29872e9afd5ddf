from dataclasses import replace

import pytest
from web.scenario import BOOT, Scene

from hangroom.store.live import LiveBoard
from hangroom.terms import Because
from hangroom_web.freshness import (
    Freshness,
    ask_again_s,
    board_age_s,
    is_alive,
    reading_freshness,
)

# page.md of the design: live up to 2 of the sensor's intervals, late up to 3, stale beyond; the
# daemon is given up after the longer of 3 ticks and 6 s. The fixtures' sensor is read every 6 s.


@pytest.fixture
def board(scene: Scene) -> LiveBoard:
    return scene.report(reading_age_s=0.0)


@pytest.mark.parametrize(
    ("age_s", "freshness"),
    [
        pytest.param(0.0, Freshness.LIVE, id="just read"),
        pytest.param(12.0, Freshness.LIVE, id="exactly two intervals"),
        pytest.param(12.1, Freshness.LATE, id="a little over two intervals"),
        pytest.param(18.0, Freshness.LATE, id="exactly three intervals"),
        pytest.param(18.1, Freshness.STALE, id="a little over three intervals"),
        pytest.param(86_400.0, Freshness.STALE, id="a day old"),
        pytest.param(-0.1, Freshness.STALE, id="from the future"),
    ],
)
def test_a_reading_ages_from_live_to_late_to_stale(
    board: LiveBoard, age_s: float, freshness: Freshness
) -> None:
    sensor = board.rooms["closet"].sensors["rail"]
    at_s = board.uptime_s + age_s
    assert reading_freshness(sensor, alive=True, uptime_s=at_s) == freshness


def test_no_reading_is_live_under_a_dead_daemon(board: LiveBoard) -> None:
    sensor = board.rooms["closet"].sensors["rail"]
    told = reading_freshness(sensor, alive=False, uptime_s=board.uptime_s)
    assert told == Freshness.STALE


def test_a_fresh_value_that_cannot_be_shows_no_digits(board: LiveBoard) -> None:
    sensor = board.rooms["closet"].sensors["rail"]
    sensor = replace(sensor, distrusted=Because("implausible-reading"))
    told = reading_freshness(sensor, alive=True, uptime_s=board.uptime_s)
    assert told == Freshness.DOUBTED
    assert not told.shows_digits


@pytest.mark.parametrize(
    ("age_s", "alive"),
    [
        pytest.param(0.0, True, id="just written"),
        pytest.param(6.0, True, id="exactly the limit"),
        pytest.param(6.1, False, id="a little beyond it"),
        pytest.param(-0.1, False, id="a board from the future is of another boot"),
    ],
)
def test_the_daemon_lives_until_six_seconds_of_silence(
    board: LiveBoard, age_s: float, alive: bool
) -> None:
    assert is_alive(board, boot_id=BOOT, uptime_s=board.uptime_s + age_s) == alive


def test_a_board_of_another_boot_is_dead_and_has_no_age(board: LiveBoard) -> None:
    assert not is_alive(board, boot_id="another boot", uptime_s=board.uptime_s)
    assert board_age_s(board, boot_id="another boot", uptime_s=board.uptime_s) is None


def test_no_board_is_a_dead_daemon() -> None:
    assert not is_alive(None, boot_id=BOOT, uptime_s=1.0)


@pytest.mark.parametrize("killed_after_s", [0.0, 0.5, 1.0, 1.9])
@pytest.mark.parametrize("asked_after_kill_s", [0.0, 0.9, 2.9, 3.1, 4.0, 5.9])
def test_a_page_that_asks_when_told_sees_a_killed_daemon_within_15_s(
    board: LiveBoard, killed_after_s: float, asked_after_kill_s: float
) -> None:
    killed_s = board.uptime_s + killed_after_s
    at_s = killed_s + asked_after_kill_s
    while is_alive(board, boot_id=BOOT, uptime_s=at_s):
        at_s += ask_again_s(board, boot_id=BOOT, uptime_s=at_s)
    assert at_s - killed_s <= 15.0
