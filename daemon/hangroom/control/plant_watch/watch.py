"""The plant watch: code that shares nothing with the controller notices what no longer works.

    memory = starting_memory(uptime_s=uptime_s)
    memory, findings = watched(memory, seen)        # once a tick

It sees commands and air and nothing else: not what the controller wishes, nor what it has learned.
So no error there can hide a fault of the plant from here.

Read `effect` for how runs are judged, then the file of each appliance.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from math import inf

from hangroom.alarm_table.row import AlarmId
from hangroom.control.alarms.delays import Raw, Side
from hangroom.control.plant_watch import cooling, door, fan, humidifier, setpoint, stuck
from hangroom.control.plant_watch.cooling import Cooling
from hangroom.control.plant_watch.door import Door
from hangroom.control.plant_watch.runs import Runs
from hangroom.control.plant_watch.setpoint import Means
from hangroom.control.plant_watch.trace import AirSeen, Trace, extended
from hangroom.control.plant_watch.view import Switch, View
from hangroom.terms import HumidityTarget, RelayKind, Stage, TemperatureTarget

# What can be found of which relay, and what of any room.
ABOUT = {
    AlarmId.HUMIDIFIER_INEFFECTIVE: RelayKind.HUMIDIFIER,
    AlarmId.HUMIDIFIER_STUCK_ON: RelayKind.HUMIDIFIER,
    AlarmId.FAN_INEFFECTIVE: RelayKind.EXHAUST_FAN,
    AlarmId.COOLING_INEFFECTIVE: RelayKind.COOLING,
}
ALWAYS = (AlarmId.DOOR_OPEN, AlarmId.SETPOINT_UNREACHABLE)
# Between looks only the air is remembered, unless a relay is switched: a look costs far more.
LOOK_EVERY_S = 10.0
UNJUDGED = Raw(Side.UNKNOWN)


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What the plant watch is shown of one room at one tick.

    `relays`: whether each that the room has is commanded closed. `air`: the room's measured air,
    None where none is to be trusted. `outside`: the same of the air that the room breathes, None
    where it is not known. `humidity`, `temperature`: what the stage asks for, None for nothing.
    """

    stage: Stage
    relays: Mapping[RelayKind, bool]
    air: AirSeen | None
    outside: AirSeen | None
    humidity: HumidityTarget | None
    temperature: TemperatureTarget | None
    uptime_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Findings:
    """The raw condition of every alarm that the plant watch serves in this room.

    What could not be judged is unknown, never normal. `door_open` is an observation from the first
    moment on; how long makes an alarm, its row says.
    """

    raw: Mapping[AlarmId, Raw]
    door_open: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Memory:
    """What the plant watch remembers of one room; replaced, never changed.

    `stuck_above_pct`: above which humidity the air went by itself, or None. `findings`: of the last
    look, None where it could not look.
    """

    started_uptime_s: float
    looked_uptime_s: float = -inf
    switches: Mapping[RelayKind, Switch] = field(default_factory=dict)
    trace: Trace = field(default_factory=Trace)
    door: Door = field(default_factory=Door)
    doses: Runs = field(default_factory=Runs)
    stuck_above_pct: float | None = None
    airing: Runs = field(default_factory=Runs)
    cooling: Cooling = field(default_factory=Cooling)
    means: Means = field(default_factory=Means)
    findings: Findings | None = None


def starting_memory(*, uptime_s: float) -> Memory:
    """Return the memory of a watch that begins now, with every relay just opened."""
    return Memory(started_uptime_s=uptime_s)


def watched(memory: Memory, seen: Seen) -> tuple[Memory, Findings]:
    """Return the memory after one tick, and what was found.

    Where nothing is new, both are the very same as before.
    """
    switches = _switches(memory, seen)
    trace = memory.trace
    if seen.stage is Stage.EMPTY or seen.air is None:
        return _unseen(memory, switches, trace)
    if not trace.readings or trace.readings[-1].taken_uptime_s != seen.air.taken_uptime_s:
        trace = extended(trace, seen.air)
    if not trace.samples:
        return _unseen(memory, switches, trace)
    waits = trace is memory.trace or seen.uptime_s - memory.looked_uptime_s < LOOK_EVERY_S
    if memory.findings and switches is memory.switches and waits:
        same = trace is memory.trace
        return memory if same else replace(memory, trace=trace), memory.findings
    return _looked(
        memory,
        View(
            uptime_s=seen.uptime_s,
            switches=switches,
            trace=trace,
            outside=seen.outside,
            humidity=seen.humidity,
            temperature=seen.temperature,
        ),
    )


def _switches(memory: Memory, seen: Seen) -> Mapping[RelayKind, Switch]:
    before = memory.switches
    if len(before) == len(seen.relays) and all(
        kind in before and before[kind].closed == closed for kind, closed in seen.relays.items()
    ):
        return before
    started = Switch(closed=False, opened_uptime_s=memory.started_uptime_s)
    switches = {}
    for kind, closed in seen.relays.items():
        switch = before.get(kind, started)
        if closed and not switch.closed:
            switch = replace(switch, closed=True, closed_uptime_s=seen.uptime_s)
        elif switch.closed and not closed:
            ran_s = seen.uptime_s - switch.closed_uptime_s
            switch = replace(switch, closed=False, opened_uptime_s=seen.uptime_s, ran_s=ran_s)
        switches[kind] = switch
    return switches


def _unseen(
    memory: Memory, switches: Mapping[RelayKind, Switch], trace: Trace
) -> tuple[Memory, Findings]:
    """Judge nothing. What was learned stays; a run that was not watched to its end is forgotten."""
    memory = replace(
        memory,
        switches=switches,
        trace=trace,
        doses=replace(memory.doses, run=None),
        airing=replace(memory.airing, run=None),
        cooling=replace(memory.cooling, from_c=None),
        findings=None,
    )
    raw = dict.fromkeys(_ids(switches), UNJUDGED)
    return memory, Findings(raw=raw, door_open=memory.door.is_open)


def _ids(relays: Iterable[RelayKind]) -> list[AlarmId]:
    there = frozenset(relays)
    return [*(alarm for alarm, relay in ABOUT.items() if relay in there), *ALWAYS]


def _looked(memory: Memory, view: View) -> tuple[Memory, Findings]:
    """Look at everything once; the door first, since an open one explains the rest."""
    doses, airing, cooled = memory.doses, memory.airing, memory.cooling
    stuck_above_pct = memory.stuck_above_pct
    door_ = door.looked_at(
        memory.door, view, fan_gain_g_per_m3_per_s=airing.effect.gain_g_per_m3_per_s
    )
    if RelayKind.HUMIDIFIER in view.switches:
        doses = humidifier.looked_at(doses, view, door_)
        stuck_above_pct = stuck.stuck_above_pct(
            stuck_above_pct,
            view,
            door_,
            doses=doses.effect,
            airing_dries=fan.airing_dries(airing, view),
        )
    if RelayKind.EXHAUST_FAN in view.switches:
        airing = fan.looked_at(airing, view, door_, flooded=stuck_above_pct is not None)
    if RelayKind.COOLING in view.switches:
        cooled = cooling.looked_at(cooled, view, door_)
    looked = Memory(
        started_uptime_s=memory.started_uptime_s,
        looked_uptime_s=view.uptime_s,
        switches=view.switches,
        trace=view.trace,
        door=door_,
        doses=doses,
        stuck_above_pct=stuck_above_pct,
        airing=airing,
        cooling=cooled,
        means=setpoint.looked_at(memory.means, view),
    )
    findings = _findings(looked, view)
    return replace(looked, findings=findings), findings


def _findings(memory: Memory, view: View) -> Findings:
    raw = {AlarmId.DOOR_OPEN: door.stands_open(memory.door, view)}
    if memory.door.is_open:
        return Findings(raw=dict.fromkeys(_ids(view.switches), UNJUDGED) | raw, door_open=True)
    if RelayKind.HUMIDIFIER in view.switches:
        raw[AlarmId.HUMIDIFIER_INEFFECTIVE] = humidifier.ineffective(memory.doses)
        raw[AlarmId.HUMIDIFIER_STUCK_ON] = stuck.stuck_on(memory.stuck_above_pct, view)
    if RelayKind.EXHAUST_FAN in view.switches:
        raw[AlarmId.FAN_INEFFECTIVE] = fan.ineffective(memory.airing)
    if RelayKind.COOLING in view.switches:
        raw[AlarmId.COOLING_INEFFECTIVE] = cooling.ineffective(memory.cooling, view)
    failing = {ABOUT[alarm] for alarm, found in raw.items() if _failing(alarm, found)}
    raw[AlarmId.SETPOINT_UNREACHABLE] = setpoint.unreachable(memory.means, view, failing=failing)
    return Findings(raw=raw, door_open=False)


def _failing(alarm: AlarmId, found: Raw) -> bool:
    return found.side is Side.BEYOND and alarm in ABOUT
