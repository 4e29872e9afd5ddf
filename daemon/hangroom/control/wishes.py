"""What each relay's own controller would like, before a person, the guards and the interlocks."""

from dataclasses import dataclass, replace
from math import inf

from hangroom.control.blind import Sight, blind_airing_wish
from hangroom.control.circulation import circulation_wish
from hangroom.control.cycle_drying import UNLEARNED, Drying, reheat_wish, vent_wish
from hangroom.control.cycle_mean import CycleMean
from hangroom.control.dosing import DoseMemory, Manner, unjudged, unseen
from hangroom.control.guards import paused_in_time
from hangroom.control.humidity import Doser, exhaust_wish, humidifier_wish, manner_of
from hangroom.control.memory import RoomState, works_in_doses
from hangroom.control.outside import gated
from hangroom.control.overrides import in_force
from hangroom.control.sensors.voting import Air
from hangroom.control.temperature import cooling_wish, heater_wish
from hangroom.control.wish import Wish, off, on, safe_off
from hangroom.stage_table import AIRS_ALL_THE_TIME, FANS, FORBIDDEN
from hangroom.terms import AirOutside, Because, HumidityTarget, RelayKind, RoomPlan

MOVES_TEMPERATURE = frozenset({RelayKind.COOLING, RelayKind.HEATER})


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """What is known at one tick.

    `state`: the memory of the last tick. `trusted_once`, `sight`, `mean`: what has become of those
    parts of it. `anew`: whether the air was measured anew.
    """

    plan: RoomPlan
    state: RoomState
    trusted_once: bool
    sight: Sight
    mean: CycleMean | None
    air: Air | Because
    outside: AirOutside | None
    anew: bool
    uptime_s: float


@dataclass(frozen=True, slots=True)
class Asked:
    """A controller's wish, and what it has learned: of doses or of drying, None without.

    `stands_s`: how long it would be the same, as far as the wish does not count that down itself.
    """

    wish: Wish
    dose: DoseMemory | None = None
    drying: Drying | None = None
    stands_s: float = inf


def asked(relay: RelayKind, look: Look) -> Asked:
    """Return what a relay's own controller wants."""
    plan, state = look.plan, look.state
    override = in_force(plan.overrides.get(relay), uptime_s=look.uptime_s)
    forbidden = relay in FORBIDDEN[plan.stage] and override is None
    airs = relay is RelayKind.EXHAUST_FAN and plan.humidity is not None and not forbidden
    if airs and isinstance(look.air, Because):
        wish = blind_airing_wish(
            look.air, look.sight, trusted_once=look.trusted_once, uptime_s=look.uptime_s
        )
        if override is not None and override.trial and look.trusted_once:
            # It may air blindly for longer than the few seconds of a trial.
            wish = replace(wish, safety=False)
        dose = state.doses.get(relay)
        return Asked(wish, dose=dose and unseen(dose))
    if forbidden:
        dose = state.doses.get(relay)
        answer = Asked(safe_off("stage-forbids"), dose=dose and unseen(dose))
    elif relay is RelayKind.CIRCULATION_FAN:
        once = look.trusted_once
        answer = Asked(circulation_wish(plan, trusted_once=once, uptime_s=look.uptime_s))
    elif plan.humidity and works_in_doses(relay, plan):
        answer = _of_a_dosing_relay(relay, plan.humidity, look)
    elif relay is RelayKind.EXHAUST_FAN and plan.humidity:
        answer = _of_a_cooled_room_s_fan(plan.humidity, look)
    else:
        answer = _of_what_moves_temperature(relay, look)
    if relay in FANS and plan.stage in AIRS_ALL_THE_TIME and not answer.wish.safety:
        wish = paused_in_time(
            on("airing-stage"), state.relays[relay], plan.relays[relay], uptime_s=look.uptime_s
        )
        answer = Asked(wish, dose=answer.dose and unjudged(answer.dose))
    if relay is RelayKind.EXHAUST_FAN and RelayKind.COOLING not in plan.relays:
        answer = replace(answer, wish=gated(answer.wish, look.air, look.outside))
    return answer


def manner(relay: RelayKind, plan: RoomPlan) -> Manner:
    """Return the manner of a dosing relay in this room."""
    cooled = RelayKind.COOLING in plan.relays
    return manner_of(relay, settle_s=plan.settle_s, cooled=cooled)


def _of_a_dosing_relay(relay: RelayKind, humidity: HumidityTarget, look: Look) -> Asked:
    plan, memory = look.plan, look.state.relays[relay]
    doser = Doser(
        rules=plan.relays[relay],
        manner=manner(relay, plan),
        dose=look.state.doses[relay],
        closed=memory.closed,
        stayed_s=look.uptime_s - memory.changed_uptime_s,
        uptime_s=look.uptime_s,
        mean=look.mean,
        anew=look.anew,
    )
    wish_of = humidifier_wish if relay is RelayKind.HUMIDIFIER else exhaust_wish
    wish, dose = wish_of(look.air, humidity, doser)
    unseen_for_s = doser.manner.unseen_s - doser.stayed_s
    stands_s = unseen_for_s if memory.closed and unseen_for_s > 0 else inf
    return Asked(wish, dose=dose, stands_s=stands_s)


def _of_a_cooled_room_s_fan(humidity: HumidityTarget, look: Look) -> Asked:
    state = look.state
    if look.plan.reheats:
        return Asked(off("reheating-dries"))
    drying = state.drying.get(RelayKind.EXHAUST_FAN, UNLEARNED)
    wish, drying = vent_wish(look.air, look.mean, drying, humidity, uptime_s=look.uptime_s)
    return Asked(wish, drying=drying)


def _of_what_moves_temperature(relay: RelayKind, look: Look) -> Asked:
    plan, target = look.plan, look.plan.temperature
    closed = look.state.relays[relay].closed
    if target is None or relay not in MOVES_TEMPERATURE:
        return Asked(safe_off("no-target"))
    if relay is RelayKind.COOLING:
        has_heater = RelayKind.HEATER in plan.relays and not plan.reheats
        return Asked(cooling_wish(look.air, target, closed=closed, has_heater=has_heater))
    if not plan.reheats:
        has_cooling = RelayKind.COOLING in plan.relays
        return Asked(heater_wish(look.air, target, closed=closed, has_cooling=has_cooling))
    if plan.humidity is None:
        return Asked(safe_off("no-target"))
    wish, drying = reheat_wish(
        look.air,
        look.mean,
        look.state.drying.get(relay, UNLEARNED),
        plan.humidity,
        target,
        uptime_s=look.uptime_s,
    )
    return Asked(wish, drying=drying)
