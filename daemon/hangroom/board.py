"""The live board, made from what the loop remembers: what the page shows of this very moment."""

from collections.abc import Callable, Iterable
from datetime import datetime

from hangroom.control.humidity import usual_dose_s
from hangroom.control.memory import RoomState
from hangroom.control.room import Decision
from hangroom.control.sensors.voting import Air
from hangroom.store.live import (
    LiveAir,
    LiveAlarm,
    LiveOverride,
    LiveRelay,
    LiveRoom,
    LiveSensor,
    LiveStage,
    LiveWish,
)
from hangroom.terms import AirReading, Because, Override, RelayKind, RoomPlan, StageRun
from hangroom.wired import RoomMemory, WiredRoom


def live_room(
    plan: RoomPlan,
    room: WiredRoom,
    memory: RoomMemory,
    *,
    alarms: tuple[LiveAlarm, ...],
    inspection_ends_uptime_s: float | None,
    wall_time: Callable[[float], datetime],
    uptime_s: float,
) -> LiveRoom:
    """Return one room for the page; `wall_time` dates a moment of the monotonic clock."""
    decision = memory.decision
    since_s = uptime_s - decision.made_uptime_s if decision else 0.0
    humidity, temperature = plan.humidity, plan.temperature
    air = decision.air if decision else Because("no-reading")
    verdicts = decision.verdicts if decision else {}
    return LiveRoom(
        stage=plan.stage,
        humidity_setpoint_pct=humidity.setpoint_pct if humidity else None,
        humidity_band_pct=humidity.band_pct if humidity else None,
        temperature_setpoint_c=temperature.setpoint_c if temperature else None,
        temperature_band_c=temperature.band_c if temperature else None,
        distrusted=_doubt(air),
        air=_live_air(air),
        sensors={
            name: LiveSensor(
                reading=memory.newest.get(name),
                read_every_s=room.read_every_s[name],
                faults=dict(sensor.faults()),
                distrusted=_doubt(verdicts.get(name)),
                calibration=plan.calibrations.get(name),
            )
            for name, sensor in room.sensors.items()
        },
        relays={
            command.relay: LiveRelay(
                closed=command.closed,
                since_at=memory.since[command.relay][0],
                since_uptime_s=memory.since[command.relay][1],
                because=_counted_down(command.because, since_s),
                override=_live_override(plan.overrides.get(command.relay), wall_time),
                dose_s=_dose_s(command.relay, plan, memory.state),
                dose_proved=_dose_proved(command.relay, memory.state),
                watched=command.relay in plan.unproved,
                would=_would(decision, command.relay, since_s),
            )
            for command in (decision.commands if decision else ())
        },
        stage_run=_live_stage(plan.stage_run, wall_time),
        inspection_ends_at=None
        if inspection_ends_uptime_s is None
        else wall_time(inspection_ends_uptime_s),
        alarms=alarms,
    )


def live_outside(decisions: Iterable[Decision | None]) -> LiveAir | None:
    """Return the air outside as any room's decision went by it, None where it is not known."""
    for decision in decisions:
        if decision and decision.outside:
            outside = decision.outside
            return LiveAir(temperature_c=outside.temperature_c, humidity_pct=outside.humidity_pct)
    return None


def _counted_down(because: Because, since_s: float) -> Because:
    """Return a reason with what it counts down as it is now; a decision may stand for a while."""
    left_s = because.figures.get("left_s")
    if left_s is None:
        return because
    return Because(because.code, {**because.figures, "left_s": max(0.0, left_s - since_s)})


def _doubt(verdict: AirReading | Air | Because | None) -> Because | None:
    return verdict if isinstance(verdict, Because) else None


def _live_air(air: Air | Because) -> LiveAir | None:
    if isinstance(air, Because):
        return None
    return LiveAir(temperature_c=air.temperature_c, humidity_pct=air.humidity_pct)


def _dose_s(relay: RelayKind, plan: RoomPlan, state: RoomState) -> float | None:
    dose, humidity = state.doses.get(relay), plan.humidity
    if dose is None or humidity is None:
        return None
    return usual_dose_s(relay, dose, humidity, plan.relays[relay])


def _dose_proved(relay: RelayKind, state: RoomState) -> bool:
    dose = state.doses.get(relay)
    return dose is not None and dose.proved_s_per_pct is not None


def _would(decision: Decision | None, relay: RelayKind, since_s: float) -> LiveWish | None:
    wish = decision.would.get(relay) if decision else None
    if wish is None:
        return None
    return LiveWish(closed=wish.closed, because=_counted_down(wish.because, since_s))


def _live_override(
    override: Override | None, wall_time: Callable[[float], datetime]
) -> LiveOverride | None:
    if override is None:
        return None
    return LiveOverride(
        closed=override.closed,
        ends_at=wall_time(override.ends_uptime_s),
        by=override.by,
        why=override.why,
    )


def _live_stage(run: StageRun | None, wall_time: Callable[[float], datetime]) -> LiveStage | None:
    if run is None:
        return None
    return LiveStage(
        since_at=wall_time(run.since_uptime_s),
        ends_at=None if run.ends_uptime_s is None else wall_time(run.ends_uptime_s),
        then=run.then,
        by=run.by,
        batch=run.batch,
    )
