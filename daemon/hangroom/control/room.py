"""The decision for one room, once a tick: what every relay shall do now, and why.

Read this file first. It asks the parts for their wishes, lets the stage forbid, lets the guards
protect each relay, and lets the interlocks have the last word. No clock, no pin, no database:
everything comes in as an argument, so that every decision can be replayed.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from hangroom.control.circulation import circulation_wish
from hangroom.control.dosing import DoseMemory, carried_out
from hangroom.control.guards import guarded
from hangroom.control.humidity import Doser, exhaust_wish, humidifier_wish
from hangroom.control.interlocks import interlocked
from hangroom.control.memory import DOSING, RelayMemory, RoomState
from hangroom.control.stages import AIRS_ALL_THE_TIME, FORBIDDEN
from hangroom.control.temperature import cooling_wish, heater_wish
from hangroom.control.trust import Air, judge
from hangroom.control.wish import Wish, on, safe_off
from hangroom.terms import AirReading, Because, Command, RelayKind, RoomPlan


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """The next state, one command for every relay of the room, and the air it was decided on."""

    state: RoomState
    commands: tuple[Command, ...]
    air: Air | Because


def decide(
    state: RoomState,
    plan: RoomPlan,
    readings: Mapping[str, AirReading | None],
    *,
    uptime_s: float,
) -> Decision:
    """Choose every relay's position from the newest reading of each of the room's sensors."""
    air = judge(list(readings.values()), uptime_s=uptime_s, expires_s=plan.reading_expires_s)
    state = replace(state, trusted_once=state.trusted_once or isinstance(air, Air))
    doses = dict(state.doses)
    wishes = {}
    for relay, rules in plan.relays.items():
        wish, dose = _wish(relay, plan, air, state, uptime_s)
        wishes[relay] = guarded(wish, state.relays[relay], rules, uptime_s=uptime_s)
        if dose is not None:
            doses[relay] = dose
    settled = interlocked(wishes, state.relays, uptime_s=uptime_s, settle_s=plan.settle_s)
    return Decision(
        state=RoomState(
            relays={
                relay: _remembered(state.relays[relay], closed=wish.closed, uptime_s=uptime_s)
                for relay, wish in settled.items()
            },
            doses={
                relay: carried_out(
                    dose,
                    was_closed=state.relays[relay].closed,
                    closed=settled[relay].closed,
                    seen_pct=None if isinstance(air, Because) else air.humidity_pct,
                    uptime_s=uptime_s,
                )
                for relay, dose in doses.items()
            },
            trusted_once=state.trusted_once,
        ),
        commands=tuple(
            Command(relay, wish.closed, wish.because) for relay, wish in settled.items()
        ),
        air=air,
    )


def _wish(
    relay: RelayKind, plan: RoomPlan, air: Air | Because, state: RoomState, uptime_s: float
) -> tuple[Wish, DoseMemory | None]:
    """Return what a relay's own controller wants, and for a dosing one its dose after a look."""
    closed = state.relays[relay].closed
    dose = None
    if relay in FORBIDDEN[plan.stage]:
        wish = safe_off("stage-forbids")
    elif relay is RelayKind.CIRCULATION_FAN:
        wish = circulation_wish(plan, trusted_once=state.trusted_once, uptime_s=uptime_s)
    elif relay in DOSING and plan.humidity:
        wish_of = humidifier_wish if relay is RelayKind.HUMIDIFIER else exhaust_wish
        wish, dose = wish_of(air, plan.humidity, _doser(relay, plan, state, uptime_s))
        if relay is RelayKind.EXHAUST_FAN and plan.stage in AIRS_ALL_THE_TIME and not wish.safety:
            wish = on("airing-stage")
    elif relay is RelayKind.COOLING and plan.temperature:
        has_heater = RelayKind.HEATER in plan.relays
        wish = cooling_wish(air, plan.temperature, closed=closed, has_heater=has_heater)
    elif relay is RelayKind.HEATER and plan.temperature:
        has_cooling = RelayKind.COOLING in plan.relays
        wish = heater_wish(air, plan.temperature, closed=closed, has_cooling=has_cooling)
    else:
        wish = safe_off("no-target")
    return wish, dose


def _doser(relay: RelayKind, plan: RoomPlan, state: RoomState, uptime_s: float) -> Doser:
    memory = state.relays[relay]
    return Doser(
        rules=plan.relays[relay],
        dose=state.doses[relay],
        closed=memory.closed,
        stayed_s=uptime_s - memory.changed_uptime_s,
        uptime_s=uptime_s,
        settle_s=plan.settle_s,
    )


def _remembered(memory: RelayMemory, *, closed: bool, uptime_s: float) -> RelayMemory:
    if closed == memory.closed:
        return memory
    return RelayMemory(closed=closed, changed_uptime_s=uptime_s)
