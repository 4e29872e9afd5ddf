"""The live board: whole or absent, never half."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from hangroom.store.live import (
    FILE_NAME,
    LiveBoard,
    LiveRelay,
    LiveRoom,
    LiveSensor,
    read_board,
    write_board,
)
from hangroom.terms import AirReading, Because, RelayKind, Stage

NOW = datetime(2026, 11, 1, 6, 0, 0, 123000, tzinfo=UTC)

BOARD = LiveBoard(
    boot_id="0f9a",
    version="0.1.0",
    written_at=NOW,
    uptime_s=1234.567,
    tick_s=2.0,
    unwritten_rows=17,
    rooms={
        "closet": LiveRoom(
            stage=Stage.HANG,
            humidity_setpoint_pct=76.0,
            humidity_band_pct=3.0,
            temperature_setpoint_c=None,
            temperature_band_c=None,
            distrusted=Because("stale-reading", {"age_s": 31.5}),
            sensors={
                "rail": LiveSensor(
                    reading=AirReading(
                        taken_at=NOW - timedelta(seconds=31.5),
                        taken_uptime_s=1203.067,
                        temperature_c=-0.1,
                        humidity_pct=76.4,
                    ),
                    read_every_s=6.0,
                    faults={"checksum": 3},
                ),
                "floor": LiveSensor(reading=None, read_every_s=6.0),
            },
            relays={
                RelayKind.HUMIDIFIER: LiveRelay(
                    closed=False,
                    since_at=NOW - timedelta(minutes=3),
                    since_uptime_s=1054.567,
                    because=Because("stale-reading", {"age_s": 31.5}),
                )
            },
        )
    },
)


def test_a_board_comes_back_as_it_was(tmp_path: Path) -> None:
    write_board(tmp_path, BOARD)
    assert read_board(tmp_path) == BOARD


def test_a_new_board_replaces_the_old_one_and_leaves_nothing_else(tmp_path: Path) -> None:
    write_board(tmp_path, BOARD)
    write_board(tmp_path, BOARD)
    assert [file.name for file in tmp_path.iterdir()] == [FILE_NAME]


def test_no_board_is_none(tmp_path: Path) -> None:
    assert read_board(tmp_path) is None
    assert read_board(tmp_path / "nowhere") is None


def test_a_board_cut_off_anywhere_is_none(tmp_path: Path) -> None:
    write_board(tmp_path, BOARD)
    whole = (tmp_path / FILE_NAME).read_bytes()
    for length in range(len(whole)):
        (tmp_path / FILE_NAME).write_bytes(whole[:length])
        assert read_board(tmp_path) is None


@pytest.mark.parametrize(
    "garbage",
    [b"\x00" * 500, b"{}", b"[]", b"null", b'"closet"', b"\xff\xfe", b"[" * 100_000],
    ids=["zeros", "empty", "list", "null", "text", "no UTF-8", "too deep"],
)
def test_garbage_is_none(tmp_path: Path, garbage: bytes) -> None:
    (tmp_path / FILE_NAME).write_bytes(garbage)
    assert read_board(tmp_path) is None


@pytest.mark.parametrize(
    ("was", "now"),
    [
        (b'"humidity_pct":76.4', b'"humidity_pct":"wet"'),
        (b'"humidity_pct":76.4', b'"humidity_pct":null'),
        (b'"stage":"hang"', b'"stage":"smoke"'),
        (b'"humidifier":', b'"fogger":'),
    ],
)
def test_a_board_with_one_value_that_cannot_be_is_none(
    tmp_path: Path, was: bytes, now: bytes
) -> None:
    write_board(tmp_path, BOARD)
    whole = (tmp_path / FILE_NAME).read_bytes()
    assert was in whole
    (tmp_path / FILE_NAME).write_bytes(whole.replace(was, now, 1))
    assert read_board(tmp_path) is None
