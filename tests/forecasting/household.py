"""An invented household in a database: rooms whose air is known by heart, and what hangs there."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sqlite_utils import Database

from hangroom.store.batches import NewGroup, NewStick, add_batch, batches
from hangroom.store.database import connect, prepare_database
from hangroom.store.hanging import move_group
from hangroom.store.journal import Journal
from hangroom.store.record.whole import BatchRecord, batch_record
from hangroom.store.weigh_ins import NewWeighIn, add_weigh_in
from hangroom.terms import (
    AirReading,
    HumidityTarget,
    RoomPlan,
    Stage,
    StagePlan,
    TemperatureTarget,
)

HUNG_AT = datetime(2026, 11, 24, 14, 0, tzinfo=UTC)
Air = Callable[[float], tuple[float, float]]


def humidity(setpoint_pct: float) -> HumidityTarget:
    return HumidityTarget(
        setpoint_pct=setpoint_pct, band_pct=3.0, low_limit_pct=50.0, high_limit_pct=92.0
    )


COOL = TemperatureTarget(setpoint_c=13.0, band_c=1.0, low_limit_c=-2.0, high_limit_c=30.0)
PLAN = RoomPlan(
    name="closet",
    stage=Stage.HANG,
    humidity=humidity(76.0),
    temperature=COOL,
    relays={},
    stages={
        Stage.HANG: StagePlan(humidity=humidity(76.0), temperature=COOL),
        Stage.REST: StagePlan(
            humidity=humidity(85.0), temperature=COOL, for_s=12 * 3600.0, then=Stage.HANG
        ),
    },
)


def at(hours: float) -> datetime:
    return HUNG_AT + timedelta(hours=hours)


@dataclass(slots=True)
class Household:
    """One database, and ways to let things happen in it; hours count from `HUNG_AT`."""

    path: Path

    @classmethod
    def in_folder(cls, folder: Path) -> "Household":
        return cls(prepare_database(folder))

    def open(self) -> Database:
        return connect(self.path)

    def hang(
        self,
        *,
        name: str = "Juniper",
        tags: tuple[str, ...] = ("A1", "A2"),
        room: str = "closet",
        hours: float = 0.0,
        hang_g: float | None = 88.0,
        across_mm: float | None = 19.0,
        casing_mm: float | None = None,
        target_pct: float = 72.0,
    ) -> int:
        """Hang a batch of one group, each stick of 100 g green; return its number."""
        sticks = [
            NewStick(
                tag=tag, green_weight_g=100.0, hang_weight_g=hang_g, hang_diameter_mm=across_mm
            )
            for tag in tags
        ]
        group = NewGroup(
            letter="A", finish="supple", target_yield_pct=target_pct, sticks=14, tagged=sticks,
            room=room, hung_at=at(hours),
        )  # fmt: skip
        db = self.open()
        number = add_batch(
            db,
            name=name,
            started_at=at(hours),
            groups=[group],
            casing_diameter_mm=casing_mm,
            now=at(hours),
        )
        db.close()
        return number

    def weigh(self, hours: float, weights_g: Mapping[str, float]) -> None:
        db = self.open()
        for tag, weight_g in weights_g.items():
            entry = NewWeighIn(key=f"{tag} {hours}", tag=tag, taken_at=at(hours), weight_g=weight_g)
            add_weigh_in(db, entry)
        db.close()

    def move(self, number: int, room: str, hours: float) -> None:
        db = self.open()
        group = next(b for b in batches(db) if b.number == number).groups[0]
        move_group(
            db, group.number, room=room, at=at(hours), key=f"to {room}", by="", now=at(hours)
        )
        db.close()

    def journal(self, sensors: Mapping[str, list[str]], *, hours: float = -1.0) -> Journal:
        journal = Journal(self.path)
        journal.start(sensors, boot_id="boot", version="0", now=at(hours))
        return journal

    def measure(
        self,
        room: str,
        air: Air,
        from_h: float,
        to_h: float,
        *,
        sensor: str = "rail",
        every_s: float = 60.0,
    ) -> None:
        """Let a sensor read `air` (degC, %RH, of hours) for a while."""
        journal = self.journal({room: [sensor]})
        for step in range(round((to_h - from_h) * 3600.0 / every_s)):
            hours = from_h + step * every_s / 3600.0
            temperature_c, humidity_pct = air(hours)
            reading = AirReading(
                taken_at=at(hours),
                taken_uptime_s=1000.0 + hours * 3600.0,
                temperature_c=temperature_c,
                humidity_pct=humidity_pct,
            )
            journal.note_reading(room, sensor, reading, seen_uptime_s=0.0)
        journal.flush(now=at(to_h))
        journal.close()

    def follow(self, plan: RoomPlan, *, hours: float = 0.0) -> None:
        """Let the daemon note that a room follows a plan from now on."""
        journal = self.journal({plan.name: ["rail"]})
        journal.note_plan(plan.name, plan, uptime_s=1000.0 + hours * 3600.0)
        journal.flush(now=at(hours))
        journal.close()

    def record(self, number: int = 1) -> BatchRecord:
        db = self.open()
        found = batch_record(db, number)
        db.close()
        assert found is not None
        return found


def plan_for(room: str, **other: object) -> RoomPlan:
    return replace(PLAN, name=room, **other)  # type: ignore[arg-type]  # a test names what it has
