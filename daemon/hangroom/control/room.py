"""The decision for one room, once a tick: what every relay shall do now, and why.

Read this file first. It asks the parts for their wishes, lets the stage forbid, lets the guards
protect each relay, and lets the interlocks have the last word. No clock, no pin, no database:
everything comes in as an argument, so that every decision can be replayed.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf

from hangroom.control.blind import looked
from hangroom.control.cycle_mean import looked as averaged
from hangroom.control.day import carried_on
from hangroom.control.dosing import DoseMemory, Manner, begun, ended, unjudged
from hangroom.control.guards import guarded, paused_in_time, until_the_next_turn_s
from hangroom.control.interlocks import interlocked
from hangroom.control.memory import RoomState
from hangroom.control.overrides import by_hand, in_force
from hangroom.control.sensors.judged import judged
from hangroom.control.sensors.voting import Air
from hangroom.control.use import HOUR_S, RelayMemory, told
from hangroom.control.watching import NOT_PROVED, only_watched
from hangroom.control.wish import Wish
from hangroom.control.wishes import Look, asked, manner
from hangroom.terms import AirOutside, AirReading, Because, Command, RelayKind, RoomPlan


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """The next state, one command for every relay of the room, and the air it was decided on.

    `verdicts`: what each sensor's newest reading was taken for, or why it was not gone by.
    `plan`, `outside`: what was asked, and the air outside that was reckoned with, None where it is
    not known. `made_uptime_s`: when; by its own timers it stands until `until_uptime_s`.
    `would`: what the controller of each relay that is only watched wants of it.
    """

    state: RoomState
    commands: tuple[Command, ...]
    air: Air | Because
    verdicts: Mapping[str, AirReading | Because]
    plan: RoomPlan
    outside: AirOutside | None
    made_uptime_s: float
    until_uptime_s: float
    would: Mapping[RelayKind, Wish]

    def stands(
        self,
        plan: RoomPlan,
        readings: Mapping[str, AirReading | None],
        *,
        uptime_s: float,
        outside: AirOutside | None,
    ) -> bool:
        """Whether nothing was measured or asked anew and no time has run out."""
        return (
            uptime_s < self.until_uptime_s
            and plan is self.plan
            and (outside or plan.outside_estimate) == self.outside
            and self.state.sensors.stands(readings, plan, uptime_s=uptime_s)
        )


def followed(
    before: Decision,
    plan: RoomPlan,
    readings: Mapping[str, AirReading | None],
    *,
    uptime_s: float,
    outside: AirOutside | None = None,
) -> Decision:
    """Return the decision that follows on another: the very same one, for as long as it stands.

    It is what `decide` would come to, but for how long is left of what its reasons count down.
    """
    if before.stands(plan, readings, uptime_s=uptime_s, outside=outside):
        return before
    return decide(before.state, plan, readings, uptime_s=uptime_s, outside=outside)


def decide(
    state: RoomState,
    plan: RoomPlan,
    readings: Mapping[str, AirReading | None],
    *,
    uptime_s: float,
    outside: AirOutside | None = None,
) -> Decision:
    """Choose every relay's position from the newest reading of each of the room's sensors.

    `outside`: the air outside as it was measured, None for not; then the plan's estimate counts.
    """
    sensors = judged(state.sensors, readings, plan, state.relays, uptime_s=uptime_s)
    air = sensors.air
    known = isinstance(air, Air)
    anew = sensors is not state.sensors
    outside = outside or plan.outside_estimate
    mean = state.mean
    if isinstance(air, Air) and anew and RelayKind.COOLING in plan.relays and plan.humidity:
        mean = averaged(mean, seen_pct=air.humidity_pct, uptime_s=uptime_s)
    sight = looked(state.sight, state.day.hours, known=known, uptime_s=uptime_s)
    look = Look(
        plan=plan,
        state=state,
        trusted_once=state.trusted_once or known,
        sight=sight,
        mean=mean,
        air=air,
        outside=outside,
        anew=anew,
        uptime_s=uptime_s,
    )
    doses = dict(state.doses)
    relays = dict(state.relays)
    drying = dict(state.drying)
    wishes = {}
    would = {}
    # Where the air is not known, what is done instead goes by the time.
    until_uptime_s = inf if known else uptime_s
    for relay, rules in plan.relays.items():
        answer = asked(relay, look)
        wish = answer.wish
        wait_s = min(answer.stands_s, wish.because.figures.get("left_s", inf))
        until_uptime_s = min(until_uptime_s, uptime_s + wait_s)
        override = in_force(plan.overrides.get(relay), uptime_s=uptime_s)
        if override is not None:
            wish = by_hand(wish, override, uptime_s=uptime_s)
            wish = paused_in_time(wish, state.relays[relay], rules, uptime_s=uptime_s)
            until_uptime_s = min(until_uptime_s, override.ends_uptime_s)
        if only_watched(relay, plan.unproved, override):
            would[relay] = answer.wish
            wish = NOT_PROVED
        wishes[relay], relays[relay] = guarded(
            wish,
            state.relays[relay],
            rules,
            uptime_s=uptime_s,
            lifted_uptime_s=plan.lockouts_lifted_uptime_s,
        )
        if answer.dose is not None:
            # A run by hand has not the length that was learned, so it teaches nothing.
            doses[relay] = answer.dose if override is None else unjudged(answer.dose)
        if answer.drying is not None and relay not in would:
            # A share that grew while nothing could dry would be far too much after the proof.
            drying[relay] = answer.drying
    settled = interlocked(
        wishes,
        state.relays,
        uptime_s=uptime_s,
        settle_s=plan.settle_s,
        reheats=plan.reheats,
    )
    for relay, wish in settled.items():
        relays[relay] = told(relays[relay], closed=wish.closed, uptime_s=uptime_s)
        if relay in doses:
            doses[relay] = _carried_out(
                doses[relay], manner(relay, plan), state.relays[relay], wish, uptime_s=uptime_s
            )
        # A relay that has just been switched has other reasons at the next look.
        wait_s = (
            until_the_next_turn_s(relays[relay], plan.relays[relay], wish, uptime_s=uptime_s)
            if wish.closed == state.relays[relay].closed
            else 0.0
        )
        until_uptime_s = min(until_uptime_s, uptime_s + wait_s)
    day = carried_on(
        state.day,
        relays,
        seen_since_uptime_s=sight.since_uptime_s if known else None,
        uptime_s=uptime_s,
    )
    return Decision(
        state=RoomState(
            relays=relays,
            doses=doses,
            trusted_once=look.trusted_once,
            day=day,
            sight=sight,
            sensors=sensors,
            mean=mean,
            drying=drying,
        ),
        commands=tuple(
            Command(relay, wish.closed, wish.because) for relay, wish in settled.items()
        ),
        air=air,
        verdicts=sensors.verdicts,
        plan=plan,
        outside=outside,
        made_uptime_s=uptime_s,
        until_uptime_s=min(until_uptime_s, day.hour_began_uptime_s + HOUR_S),
        would=would,
    )


def _carried_out(
    dose: DoseMemory, how: Manner, before: RelayMemory, wish: Wish, *, uptime_s: float
) -> DoseMemory:
    """Return the dose after its relay has been told what to do: begun, ended or unchanged."""
    if wish.closed == before.closed:
        return dose
    if wish.closed:
        return begun(dose, how, uptime_s=uptime_s)
    ran_s = uptime_s - before.changed_uptime_s
    return ended(dose, ran_s=ran_s, cut_short=wish.safety, uptime_s=uptime_s)
