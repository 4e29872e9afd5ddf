"""The live board: what the daemon knows this very moment, for the page to show.

A small file, replaced as a whole every tick. It is not a table, because a commit every two
seconds would write some 180 MB a day to the SD card; on the Pi it lies in memory (/run).
The page judges its age by the machine's monotonic clock, which both processes share, so that a
jump of the wall clock can neither hide a dead daemon nor invent one.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from hangroom.terms import AirReading, Because, RelayKind, Stage

FILE_NAME = "live.json"


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveSensor:
    """One sensor: its newest good reading, how often it is read, and failed reads by reason."""

    reading: AirReading | None
    read_every_s: float
    faults: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveRelay:
    """One relay as commanded, since when, and why."""

    closed: bool
    since_at: datetime
    since_uptime_s: float
    because: Because


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveRoom:
    """One room: its stage, what is wanted, what is measured, what its relays do.

    `distrusted` is the reason why control acts on no reading at the moment, or None.
    """

    stage: Stage
    humidity_setpoint_pct: float | None
    humidity_band_pct: float | None
    temperature_setpoint_c: float | None
    temperature_band_c: float | None
    distrusted: Because | None
    sensors: Mapping[str, LiveSensor]
    relays: Mapping[RelayKind, LiveRelay]


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveBoard:
    """Everything at one tick. `boot_id` tells whether `uptime_s` is on the reader's own clock."""

    boot_id: str
    version: str
    written_at: datetime
    uptime_s: float
    tick_s: float
    unwritten_rows: int
    rooms: Mapping[str, LiveRoom]


_FORM = TypeAdapter(LiveBoard)


def write_board(folder: Path, board: LiveBoard) -> None:
    """Replace the board in `folder`; a reader sees the old one or the new one, never half."""
    fresh = folder / f"{FILE_NAME}.new"
    fresh.write_bytes(_FORM.dump_json(board))
    fresh.replace(folder / FILE_NAME)


def read_board(folder: Path) -> LiveBoard | None:
    """Return the newest board, or None where the daemon has left none that can be read.

    Whatever is wrong with the file, the page must not show it as live: damaged is absent.
    """
    try:
        return _FORM.validate_json((folder / FILE_NAME).read_bytes())
    except (OSError, ValidationError):
        return None
