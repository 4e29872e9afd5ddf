"""The settings file's tables, one class each; what a key means stands beside it.

Every number is SI or plain percent. A class checks what it can see alone; what concerns several
rooms at once is checked in `hangroom.settings.read`.
"""

from pathlib import Path
from typing import Annotated, Literal, Self, TypeVar
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import Field, field_validator, model_validator

from hangroom.settings.backup import BackupTable
from hangroom.settings.base import Name, Number, Percent, Seconds, Table, Whole
from hangroom.settings.bell import BellTable
from hangroom.settings.food_limits import (
    FoodLimitsTable,
    food_limit_faults,
    temperature_limits,
)
from hangroom.settings.inspection import InspectionTable
from hangroom.settings.notices import NoticesTable
from hangroom.settings.relays import RelayTable, stir_faults
from hangroom.settings.sensors import SensorTable
from hangroom.settings.stages import StageTable, stage_faults, stage_plans
from hangroom.terms import (
    AirOutside,
    HumidityTarget,
    RelayKind,
    RoomPlan,
    Stage,
    StagePlan,
    TemperatureLimits,
    TemperatureTarget,
    Wiring,
)
from hangroom.units import LengthUnit, TemperatureUnit, Units, WeightUnit

TableT = TypeVar("TableT", bound=Table)


class SiteTable(Table):
    """Where this is: a name for print-outs and the zone that days are counted in."""

    name: Annotated[str, Field(strict=True, min_length=1, max_length=60)] = "Hang room"
    timezone: Annotated[str, Field(strict=True)] = "UTC"

    @field_validator("timezone")
    @classmethod
    def _known_zone(cls, value: str) -> str:
        try:
            ZoneInfo(value)
        except (ZoneInfoNotFoundError, ValueError, OSError):
            raise ValueError(
                f"{value!r} is no time zone; write one like 'Europe/Berlin' or 'America/New_York'"
            ) from None
        return value


class UnitsTable(Table):
    """What the keeper reads and types; stored is SI all the same."""

    temperature: Literal["C", "F"] = "C"
    weight: Literal["g", "oz"] = "g"
    length: Literal["mm", "in"] = "mm"

    def units(self) -> Units:
        """Return the choice in the form the page uses."""
        return Units(
            temperature=TemperatureUnit(self.temperature),
            weight=WeightUnit(self.weight),
            length=LengthUnit(self.length),
        )


class StoreTable(Table):
    """Where the database lies, and where the live board does (best in memory, not on the card)."""

    folder: Path = Path("/var/lib/hangroom")
    live_folder: Path | None = None


class WebTable(Table):
    """Where the page listens, by which names it may be asked for, and who may look."""

    host: Annotated[str, Field(strict=True)] = "0.0.0.0"  # noqa: S104 - a LAN page is the point
    port: Annotated[Whole, Field(ge=1, le=65535)] = 8080
    hosts: tuple[str, ...] = ()
    looking: Literal["open", "log-in"] = "open"


def _with_room_around_the_band(table: TableT, fault: str | None) -> TableT:
    if fault:
        raise ValueError(f"{fault}; move the limit outwards, or narrow the band")
    return table


class HumidityTable(Table):
    """Relative humidity wanted in a room, and the hard limits no command may pass."""

    setpoint_pct: Percent
    band_pct: Annotated[Number, Field(ge=0.5, le=20)] = 3.0
    low_limit_pct: Percent = 50.0
    high_limit_pct: Percent = 92.0

    @model_validator(mode="after")
    def _limits_outside_band(self) -> Self:
        return _with_room_around_the_band(self, self.target().fault())

    def target(self) -> HumidityTarget:
        """Return the same for control."""
        return HumidityTarget(**self.model_dump())


class TemperatureTable(Table):
    """Air temperature wanted in a room, and its hard limits, degC."""

    setpoint_c: Annotated[Number, Field(ge=-5, le=40)]
    band_c: Annotated[Number, Field(ge=0.3, le=10)] = 1.0
    low_limit_c: Annotated[Number, Field(ge=-10, le=45)] = -2.0
    high_limit_c: Annotated[Number, Field(ge=-10, le=45)] = 30.0

    @model_validator(mode="after")
    def _limits_outside_band(self) -> Self:
        return _with_room_around_the_band(self, self.target().fault())

    def target(self) -> TemperatureTarget:
        """Return the same for control."""
        return TemperatureTarget(**self.model_dump())


class OutsideTable(Table):
    """The air that exhaust fans draw in: sensors there, or an estimate where those are silent."""

    sensor: dict[Name, SensorTable] = Field(default_factory=dict)
    temperature_c: Annotated[Number, Field(ge=-40, le=50)] | None = None
    humidity_pct: Annotated[Number, Field(ge=1, le=100)] | None = None

    @model_validator(mode="after")
    def _estimate_is_whole(self) -> Self:
        if (self.temperature_c is None) != (self.humidity_pct is None):
            raise ValueError(
                "an estimate is temperature_c and humidity_pct together; give both, or neither"
            )
        if not self.sensor and self.temperature_c is None:
            raise ValueError("has neither a sensor nor an estimate; give one, or remove the table")
        return self

    def estimate(self) -> AirOutside | None:
        """Return what the air there is taken for while no sensor tells, None for nothing."""
        if self.temperature_c is None or self.humidity_pct is None:
            return None
        return AirOutside(temperature_c=self.temperature_c, humidity_pct=self.humidity_pct)


class RoomTable(Table):
    """One room: what hangs there now (stage), what its air should be, what it is wired to."""

    title: Annotated[str, Field(strict=True, min_length=1, max_length=40)]
    stage: Literal["casing-dry", "hang", "rest", "hold", "empty"] = "hang"
    humidity: HumidityTable | None = None
    temperature: TemperatureTable | None = None
    stage_plan: dict[Stage, StageTable] = Field(default_factory=dict)
    food_limits: FoodLimitsTable = FoodLimitsTable()
    sensor: dict[Name, SensorTable] = Field(min_length=1)
    relay: dict[Name, RelayTable] = Field(default_factory=dict)
    reading_expires_s: Annotated[Number, Field(ge=5, le=30)] = 30.0
    settle_s: Annotated[Number, Field(ge=0, le=900)] = 120.0
    stir_for_s: Seconds = 300.0
    stir_every_s: Annotated[Number, Field(ge=60, le=86_400)] = 1800.0

    @model_validator(mode="after")
    def _relays_fit(self) -> Self:
        faults = []
        seen: dict[RelayKind, str] = {}
        for name, relay in self.relay.items():
            kind = relay.switches()
            if kind in seen:
                faults.append(
                    f"relay.{name} and relay.{seen[kind]} are both of kind {kind}; a room has one "
                    "of each, so remove one or wire both loads to one relay"
                )
            seen[kind] = name
        if self.humidity is None and {RelayKind.HUMIDIFIER, RelayKind.EXHAUST_FAN} & set(seen):
            faults.append("has a humidifier or exhaust fan but no [humidity] table; add one")
        if self.temperature is None and {RelayKind.COOLING, RelayKind.HEATER} & set(seen):
            faults.append("has cooling or a heater but no [temperature] table; add one")
        reheats = [name for name, relay in self.relay.items() if relay.reheats()]
        if reheats and (RelayKind.COOLING not in seen or self.humidity is None):
            faults.append(
                f"relay.{reheats[0]} reheats, which dries only a room with cooling and a "
                "[humidity] table; add them, or remove its role"
            )
        faults += [
            f"sensor.{name}: read_every_s ({sensor.read_every_s:g}) must be at most half of "
            f"reading_expires_s ({self.reading_expires_s:g}), or one failed read leaves the room "
            "blind; read more often"
            for name, sensor in self.sensor.items()
            if sensor.read_every_s > self.reading_expires_s / 2
        ]
        faults += stir_faults(self.relay, self.stir_for_s, self.stir_every_s)
        stages, limits = self.stages(), self.temperature_limits()
        faults += stage_faults(self.stage_plan, stages)
        faults += food_limit_faults(
            self.food_limits, limits, [stage.temperature for stage in stages.values()]
        )
        if faults:
            raise ValueError("\n".join(faults))
        return self

    def wirings(self) -> dict[RelayKind, Wiring]:
        """Return how each relay is wired."""
        return {relay.switches(): relay.wiring() for relay in self.relay.values()}

    def stages(self) -> dict[Stage, StagePlan]:
        """Return what each stage asks of this room."""
        return stage_plans(
            self.stage_plan,
            self.humidity.target() if self.humidity else None,
            self.temperature.target() if self.temperature else None,
        )

    def temperature_limits(self) -> TemperatureLimits:
        """Return where this room's air counts as too cold or too warm for what hangs in it."""
        cooled = RelayKind.COOLING in {relay.switches() for relay in self.relay.values()}
        target = self.temperature.target() if self.temperature else None
        return temperature_limits(self.food_limits, target, cooled=cooled)

    def plan(self, name: str, outside: OutsideTable | None = None) -> RoomPlan:
        """Return everything control needs to know about this room and the air outside."""
        stages, stage = self.stages(), Stage(self.stage)
        return RoomPlan(
            name=name,
            stage=stage,
            humidity=stages[stage].humidity,
            temperature=stages[stage].temperature,
            stages=stages,
            temperature_limits=self.temperature_limits(),
            relays={relay.switches(): relay.rules() for relay in self.relay.values()},
            reading_expires_s=self.reading_expires_s,
            settle_s=self.settle_s,
            stir_for_s=self.stir_for_s,
            stir_every_s=self.stir_every_s,
            reheats=any(relay.reheats() for relay in self.relay.values()),
            outside_estimate=outside.estimate() if outside else None,
        )


class Settings(Table):
    """The whole file."""

    site: SiteTable = SiteTable()
    units: UnitsTable = UnitsTable()
    store: StoreTable = StoreTable()
    backup: BackupTable = BackupTable()
    web: WebTable = WebTable()
    inspection: InspectionTable = InspectionTable()
    notices: NoticesTable = NoticesTable()
    outside: OutsideTable | None = None
    bell: BellTable | None = None
    room: dict[Name, RoomTable] = Field(min_length=1)

    @field_validator("room")
    @classmethod
    def _outside_is_no_room(cls, value: dict[str, RoomTable]) -> dict[str, RoomTable]:
        if "outside" in value:
            raise ValueError("'outside' stands for the air outside; name that room otherwise")
        return value

    def zone(self) -> ZoneInfo:
        """Return the site's time zone."""
        return ZoneInfo(self.site.timezone)

    def live_folder(self) -> Path:
        """Return the folder of the live board."""
        return self.store.live_folder or self.store.folder
