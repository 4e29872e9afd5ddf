"""The words and figures that every floor shares: relays, stages, readings, limits, reasons.

Plain frozen data; the only behaviour is to say whether the data can hold together. Settings
build these, control decides on them, the store writes them down and the page reads them back,
so that none of those has to know another.
"""

from collections.abc import Mapping
from dataclasses import astuple, dataclass, field
from datetime import datetime, timedelta
from enum import StrEnum


class RelayKind(StrEnum):
    """What a relay switches; a room has at most one of each."""

    HUMIDIFIER = "humidifier"
    EXHAUST_FAN = "exhaust-fan"
    CIRCULATION_FAN = "circulation-fan"
    COOLING = "cooling"
    HEATER = "heater"

    @property
    def in_words(self) -> str:
        """Its name as it stands in a sentence."""
        return self.replace("-", " ")


class Stage(StrEnum):
    """Where a room stands in the work; one room, one stage at a time."""

    CASING_DRY = "casing-dry"
    HANG = "hang"
    REST = "rest"
    HOLD = "hold"
    EMPTY = "empty"

    @property
    def in_words(self) -> str:
        """Its name as it stands in a sentence."""
        return self.replace("-", " ")


@dataclass(frozen=True, slots=True, kw_only=True)
class AirReading:
    """Temperature and relative humidity from one measurement.

    `taken_at` (aware, UTC) is for the record. `taken_uptime_s` is the machine's monotonic clock
    at the measurement, in seconds; age is judged on it alone, because the wall clock may jump.
    """

    taken_at: datetime
    taken_uptime_s: float
    temperature_c: float
    humidity_pct: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HumidityTarget:
    """Where relative humidity is wanted (setpoint +- band) and the hard limits it must not pass."""

    setpoint_pct: float
    band_pct: float
    low_limit_pct: float
    high_limit_pct: float

    def fault(self) -> str | None:
        """Say what keeps the band from lying inside the limits, or None where it does."""
        return _band_fault("pct", astuple(self))


@dataclass(frozen=True, slots=True, kw_only=True)
class TemperatureTarget:
    """Where air temperature is wanted (setpoint +- band) and its hard limits, degC."""

    setpoint_c: float
    band_c: float
    low_limit_c: float
    high_limit_c: float

    def fault(self) -> str | None:
        """Say what keeps the band from lying inside the limits, or None where it does."""
        return _band_fault("c", astuple(self))


def _band_fault(unit: str, figures: tuple[float, ...]) -> str | None:
    setpoint, band, low_limit, high_limit = figures
    low, high = setpoint - band, setpoint + band
    lies = f"the band ({low:g} to {high:g})"
    if not low_limit < low:
        return f"low_limit_{unit} ({low_limit:g}) must lie below {lies}"
    if not high < high_limit:
        return f"high_limit_{unit} ({high_limit:g}) must lie above {lies}"
    return None


@dataclass(frozen=True, slots=True, kw_only=True)
class TemperatureLimits:
    """Where a room's air counts as too cold or too warm for what hangs in it, degC.

    An alarm's limits, which stand apart from those of control: a room without cooling has them too.
    """

    low_c: float
    high_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RelayRules:
    """How a relay may be switched: times in seconds, None where there is no such limit.

    `max_run_s`: longest unbroken run. `max_on_s_per_h`: most seconds on in any hour. Past either
    the relay is locked out for `lockout_s`. `max_starts_per_h`: most starts in any hour.
    """

    min_on_s: float
    min_off_s: float
    max_run_s: float | None = None
    max_starts_per_h: int | None = None
    max_on_s_per_h: float | None = None
    lockout_s: float = 1200.0


# The longest that a person may switch a relay by hand at a time, s. Our judgement, from how much
# harm it does when it is forgotten: water and heat half an hour, cold two hours, moving air four.
LONGEST_OVERRIDE_S = {
    RelayKind.HUMIDIFIER: 1800.0,
    RelayKind.EXHAUST_FAN: 4 * 3600.0,
    RelayKind.CIRCULATION_FAN: 4 * 3600.0,
    RelayKind.COOLING: 2 * 3600.0,
    RelayKind.HEATER: 1800.0,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Override:
    """A relay's position as a person wants it for a while, whatever its controller wishes.

    Hard limits, guards and interlocks go before it. `ends_uptime_s` is monotonic. `trial`: only to
    see and hear what the relay switches, for a few seconds.
    """

    closed: bool
    ends_uptime_s: float
    by: str
    why: str
    trial: bool = False


# For how long a relay is tried, s: long enough to hear it, to see mist, or to feel a draught. Our
# judgement. The others' few seconds would leave a compressor no time to be heard.
TRIAL_S = {
    RelayKind.HUMIDIFIER: 4.0,
    RelayKind.EXHAUST_FAN: 4.0,
    RelayKind.CIRCULATION_FAN: 4.0,
    RelayKind.COOLING: 10.0,
    RelayKind.HEATER: 10.0,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Wiring:
    """How a relay is wired: its BCM pin, and whether it closes on a high level of it."""

    pin: int
    active_high: bool


# How long a person may keep a room's door open at a time without an alarm, s. Our judgement.
LONGEST_INSPECTION_S = 900.0

# A stage planned for longer is a slip of the finger, h. Our judgement: no stick hangs for so long.
LONGEST_STAGE_H = 60 * 24.0


@dataclass(frozen=True, slots=True, kw_only=True)
class StagePlan:
    """What a stage asks of a room, for how long, and which stage follows.

    `for_s` None: until a person ends it. A target is None where nothing acts on it.
    """

    humidity: HumidityTarget | None
    temperature: TemperatureTarget | None
    for_s: float | None = None
    then: Stage | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StageRun:
    """The stage under way: since when, until when (monotonic, None for no end), what then, whose.

    `batch`: the number of the batch that it was started for, or None.
    """

    since_uptime_s: float
    ends_uptime_s: float | None
    then: Stage | None
    by: str
    batch: int | None = None


# After this time a calibration is old. Our judgement: DHT22s were seen to drift to the top of the
# scale within half a year (opendata-stuttgart/sensors-software, issue 170).
CALIBRATION_OLD_AFTER = timedelta(days=182)


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """A sensor's humidity correction from salt checks: true = gain * read + offset.

    `checked_at` (aware, UTC): the newest check it rests on.
    """

    gain_ratio: float
    offset_pct: float
    checked_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class AirOutside:
    """The air that an exhaust fan draws in, as measured there or as the settings estimate it."""

    temperature_c: float
    humidity_pct: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomPlan:
    """Everything control needs to know about one room, apart from what is measured.

    `humidity` or `temperature` is None where the room has nothing that acts on it.
    `reading_expires_s`: older readings count as absent. `settle_s`: how long after a humidifier
    run no drying action may start, because the water is still on its way to the sensor.
    `stir_for_s` of every `stir_every_s`: how long the circulation fan runs.
    `reheats`: the heater warms what cooling has dried, and may run with it.
    `stages`: what each stage asks for; the one under way is in `stage`, `humidity`, `temperature`.
    `outside_estimate`: what the air outside is taken for while no sensor there tells.
    `overrides`, `calibrations`: by relay and by sensor name.
    `unproved`: the relays that nobody has seen switch what they should; they are watched only.
    `lockouts_lifted_uptime_s`: a lockout from before this moment was ended by a person; or None.
    """

    name: str
    stage: Stage
    humidity: HumidityTarget | None
    temperature: TemperatureTarget | None
    relays: Mapping[RelayKind, RelayRules]
    reading_expires_s: float = 30.0
    settle_s: float = 120.0
    stir_for_s: float = 300.0
    stir_every_s: float = 1800.0
    reheats: bool = False
    outside_estimate: AirOutside | None = None
    temperature_limits: TemperatureLimits | None = None
    stages: Mapping[Stage, StagePlan] = field(default_factory=dict)
    stage_run: StageRun | None = None
    overrides: Mapping[RelayKind, Override] = field(default_factory=dict)
    calibrations: Mapping[str, Calibration] = field(default_factory=dict)
    lockouts_lifted_uptime_s: float | None = None
    unproved: frozenset[RelayKind] = frozenset()


@dataclass(frozen=True, slots=True)
class Because:
    """Why a relay is where it is: a code of `hangroom.reasons` and the figures it speaks of.

    Kept as figures, not as a sentence, so that the page can say it in the keeper's units.
    Figure names end in their SI unit, for example `seen_pct`, `limit_c`, `left_s`.
    """

    code: str
    figures: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Command:
    """What one relay shall do now, and why."""

    relay: RelayKind
    closed: bool
    because: Because
