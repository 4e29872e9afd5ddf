"""The settings file's tables, one class each; what a key means stands beside it.

Every number is SI or plain percent. A class checks what it can see alone; what concerns several
rooms at once is checked in `hangroom.settings.read`.
"""

from pathlib import Path
from typing import Annotated, Literal, Self, TypeVar
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

from hangroom.terms import (
    HumidityTarget,
    RelayKind,
    RelayRules,
    RoomPlan,
    Stage,
    TemperatureTarget,
)
from hangroom.units import LengthUnit, TemperatureUnit, Units, WeightUnit

# Strict: true is no number, "80" is none either. A whole number is one.
Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
Whole = Annotated[int, Field(strict=True)]
Percent = Annotated[Number, Field(ge=0, le=100)]
Seconds = Annotated[Number, Field(ge=0, le=7 * 86_400)]
Name = Annotated[str, Field(strict=True, pattern=r"^[a-z][a-z0-9_-]{0,30}$")]
ClockTime = Annotated[str, Field(strict=True, pattern=r"^([01][0-9]|2[0-3]):[0-5][0-9]$")]

# What a relay gets where the file does not say. Humidifier: short pulses matter more than few,
# since 0.13 g of water lift a cubic metre by 1 %. Compressor: at least 5 min off and 3 min on,
# the usual anti-short-cycle figures of refrigerator manuals.
DEFAULT_RULES = {
    RelayKind.HUMIDIFIER: RelayRules(min_on_s=2, min_off_s=60, max_run_s=120),
    RelayKind.EXHAUST_FAN: RelayRules(min_on_s=30, min_off_s=90, max_run_s=7200),
    RelayKind.CIRCULATION_FAN: RelayRules(min_on_s=60, min_off_s=60),
    RelayKind.COOLING: RelayRules(min_on_s=180, min_off_s=300, max_run_s=5400),
    RelayKind.HEATER: RelayRules(min_on_s=30, min_off_s=60, max_run_s=1200),
}


class Table(BaseModel):
    """A table of the file: unknown keys are faults, nothing changes once read."""

    model_config = ConfigDict(extra="forbid", frozen=True)


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
    """Where the page listens, and by which names it may be asked for."""

    host: Annotated[str, Field(strict=True)] = "0.0.0.0"  # noqa: S104 - a LAN page is the point
    port: Annotated[Whole, Field(ge=1, le=65535)] = 8080
    hosts: tuple[str, ...] = ()


class InspectionTable(Table):
    """When the daily look is due, in the site's zone."""

    at: ClockTime = "08:00"


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


class SensorTable(Table):
    """One air sensor: what it is, the BCM pin of its data line, how often it is read."""

    kind: Literal["dht22"]
    pin: Whole
    read_every_s: Annotated[Number, Field(ge=2, le=60)] = 6.0


class RelayTable(Table):
    """One relay: what it switches, its BCM pin and polarity, how it may be switched."""

    kind: Literal["humidifier", "fan", "cooling", "heater"]
    role: Literal["exhaust", "circulation"] | None = None
    pin: Whole
    active_high: Annotated[bool, Field(strict=True)] = True
    min_on_s: Seconds | None = None
    min_off_s: Seconds | None = None
    max_run_s: Annotated[Number, Field(ge=2, le=7 * 86_400)] | None = None

    @model_validator(mode="after")
    def _role_belongs_to_fans(self) -> Self:
        if self.kind == "fan" and self.role is None:
            raise ValueError(
                "a fan needs role = 'exhaust' (blows room air out) or "
                "'circulation' (stirs the air inside)"
            )
        if self.kind != "fan" and self.role is not None:
            raise ValueError(f"only a fan has a role; remove it from this {self.kind}")
        rules = self.rules()
        if rules.max_run_s is not None and rules.max_run_s < rules.min_on_s:
            raise ValueError(
                f"max_run_s ({rules.max_run_s:g}) is shorter than min_on_s ({rules.min_on_s:g}); "
                "raise one or lower the other"
            )
        return self

    def switches(self) -> RelayKind:
        """Return what control calls it."""
        return RelayKind(f"{self.role}-fan" if self.kind == "fan" else self.kind)

    def rules(self) -> RelayRules:
        """Return its rules, from the file or the default of its kind."""
        default = DEFAULT_RULES[self.switches()]
        return RelayRules(
            min_on_s=default.min_on_s if self.min_on_s is None else self.min_on_s,
            min_off_s=default.min_off_s if self.min_off_s is None else self.min_off_s,
            max_run_s=default.max_run_s if self.max_run_s is None else self.max_run_s,
        )


class RoomTable(Table):
    """One room: what hangs there now (stage), what its air should be, what it is wired to."""

    title: Annotated[str, Field(strict=True, min_length=1, max_length=40)]
    stage: Literal["casing-dry", "hang", "rest", "hold", "empty"] = "hang"
    humidity: HumidityTable | None = None
    temperature: TemperatureTable | None = None
    sensor: dict[Name, SensorTable] = Field(min_length=1)
    relay: dict[Name, RelayTable] = {}
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
        faults += [
            f"sensor.{name}: read_every_s ({sensor.read_every_s:g}) must be at most half of "
            f"reading_expires_s ({self.reading_expires_s:g}), or one failed read leaves the room "
            "blind; read more often"
            for name, sensor in self.sensor.items()
            if sensor.read_every_s > self.reading_expires_s / 2
        ]
        if faults:
            raise ValueError("\n".join(faults))
        return self

    def plan(self, name: str) -> RoomPlan:
        """Return everything control needs to know about this room."""
        return RoomPlan(
            name=name,
            stage=Stage(self.stage),
            humidity=self.humidity.target() if self.humidity else None,
            temperature=self.temperature.target() if self.temperature else None,
            relays={relay.switches(): relay.rules() for relay in self.relay.values()},
            reading_expires_s=self.reading_expires_s,
            settle_s=self.settle_s,
            stir_for_s=self.stir_for_s,
            stir_every_s=self.stir_every_s,
        )


class Settings(Table):
    """The whole file."""

    site: SiteTable = SiteTable()
    units: UnitsTable = UnitsTable()
    store: StoreTable = StoreTable()
    web: WebTable = WebTable()
    inspection: InspectionTable = InspectionTable()
    room: dict[Name, RoomTable] = Field(min_length=1)

    def zone(self) -> ZoneInfo:
        """Return the site's time zone."""
        return ZoneInfo(self.site.timezone)

    def live_folder(self) -> Path:
        """Return the folder of the live board."""
        return self.store.live_folder or self.store.folder
