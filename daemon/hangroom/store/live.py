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

from hangroom.alarm_table.ringing import Ring
from hangroom.alarm_table.row import AlarmId
from hangroom.alarm_table.words import Condition, Suppression
from hangroom.terms import AirReading, Because, Calibration, RelayKind, Stage

FILE_NAME = "live.json"


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveSensor:
    """One sensor: its newest good reading, how often it is read, and failed reads by reason.

    `reading` is as the sensor gave it, before `calibration`. `distrusted`: why control does not
    go by it, or None.
    """

    reading: AirReading | None
    read_every_s: float
    faults: Mapping[str, int] = field(default_factory=dict)
    distrusted: Because | None = None
    calibration: Calibration | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveOverride:
    """What a person wants of a relay, until when, and why."""

    closed: bool
    ends_at: datetime
    by: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveWish:
    """What a controller wants of a relay that is only watched, and why."""

    closed: bool
    because: Because


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveRelay:
    """One relay as commanded, since when, and why; and a person's override, where there is one.

    `watched`: it is not proved, and stays off; `would`: what would be done with it, were it proved.
    `dose_s`: the length of its next dose as learned so far, None for a relay without doses;
    `dose_proved` tells whether a dose has had an effect yet.
    """

    closed: bool
    since_at: datetime
    since_uptime_s: float
    because: Because
    override: LiveOverride | None = None
    dose_s: float | None = None
    dose_proved: bool = False
    watched: bool = False
    would: LiveWish | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveAir:
    """Air as it is believed to be."""

    temperature_c: float
    humidity_pct: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveStage:
    """The stage under way: since when, until when (None for no end), what then, who began it."""

    since_at: datetime
    ends_at: datetime | None
    then: Stage | None
    by: str
    batch: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveAlarm:
    """One alarm that is not simply normal.

    `scope`: what it is about, as `hangroom.alarm_table.log` calls it. `since_at`: of its condition.
    `figures`, `why`: of the condition when it came on. `held_*`: who keeps it quiet, why and until
    when, where a person does.
    """

    alarm: AlarmId
    condition: Condition
    acknowledged: bool
    latched: bool
    suppression: Suppression
    occurrences: int
    since_at: datetime
    scope: str = ""
    figures: Mapping[str, float] = field(default_factory=dict)
    why: str = ""
    held_by: str = ""
    held_why: str = ""
    held_until: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveRoom:
    """One room: its stage, what is wanted, what is measured, what its relays do.

    `distrusted` is the reason why control acts on no reading at the moment, or None. `air`: what
    control believes, from all usable sensors. `inspection_ends_at`: until when a person has
    announced an open door.
    """

    stage: Stage
    humidity_setpoint_pct: float | None
    humidity_band_pct: float | None
    temperature_setpoint_c: float | None
    temperature_band_c: float | None
    distrusted: Because | None
    sensors: Mapping[str, LiveSensor]
    relays: Mapping[RelayKind, LiveRelay]
    air: LiveAir | None = None
    stage_run: LiveStage | None = None
    inspection_ends_at: datetime | None = None
    alarms: tuple[LiveAlarm, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveBell:
    """The bell at the rooms: what it tells, and what is wrong with it, '' for nothing."""

    ring: Ring
    fault: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveBoard:
    """Everything at one tick. `boot_id` tells whether `uptime_s` is on the reader's own clock.

    `alarms`: those of the service and of batches; each room has its own. `outside`: the air that
    an exhaust fan draws in, where it is known. `bell`: None where the settings name none.
    """

    boot_id: str
    version: str
    written_at: datetime
    uptime_s: float
    tick_s: float
    unwritten_rows: int
    rooms: Mapping[str, LiveRoom]
    alarms: tuple[LiveAlarm, ...] = ()
    outside: LiveAir | None = None
    bell: LiveBell | None = None


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
