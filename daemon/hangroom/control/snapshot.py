"""A room's memory as plain data, and back, so that a restart forgets neither limits nor lessons.

Moments are kept as they stand on the monotonic clock of their boot: as long as nothing happens the
snapshot stays the same and need not be written again. Where that clock stood at the save goes with
it, so that a later program can tell how long ago everything was. What it cannot tell counts as no
time at all, which makes every limit hold longest.

Not kept: a dose under way, which nobody watched to its end; what was believed of the air, but for
the sensors that had lost trust; and when a relay was last switched, since every rest counts from
the start.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from math import isfinite
from typing import Any

from hangroom.control.cycle_drying import Drying
from hangroom.control.cycle_mean import MINUTES, CycleMean
from hangroom.control.day import Day, HourOfUse
from hangroom.control.dosing import FASTEST_DRIFT_PCT_PER_S, DoseMemory
from hangroom.control.humidity import LONGEST_DOSE_S
from hangroom.control.memory import RoomState, starting_state
from hangroom.control.sensors.doubt import DISTRUSTED
from hangroom.control.use import RelayMemory, Run, within_the_hour
from hangroom.terms import RelayKind, RelayRules, RoomPlan

# What is not known of the time before a crash: the journal writes once a minute, and a relay that
# was closed stays so for its loan of three ticks. It is more only while nothing can be written.
UNSAVED_S = 66.0

# All that reading a foreign body can come to.
WRONG = (ArithmeticError, AttributeError, LookupError, TypeError, ValueError)


def kept_as(room: str) -> str:
    """Return the name under which the journal keeps a room's memory."""
    return f"room {room}"


def snapshot(state: RoomState, *, uptime_s: float) -> dict[str, Any]:
    """Return what has to outlive the program, as JSON knows it; it changes only with what it says.

    A run under way is kept as far as it has come.
    """
    return {
        "relays": {
            str(kind): {
                "runs": [
                    [run.began_uptime_s, run.ended_uptime_s - run.began_uptime_s]
                    for run in _runs(memory, uptime_s)
                ],
                "refused": list(memory.refused_uptime_s),
                "locked": memory.locked_uptime_s,
            }
            for kind, memory in state.relays.items()
        },
        "doses": {
            str(kind): {
                "s_per_pct": dose.s_per_pct,
                "proved_s_per_pct": dose.proved_s_per_pct,
                "drift_pct_per_s": dose.drift_pct_per_s,
            }
            for kind, dose in state.doses.items()
        },
        "drying": {str(kind): drying.share_ratio for kind, drying in state.drying.items()},
        "mean": state.mean
        and {"minutes_pct": state.mean.minutes_pct, "looked": state.mean.looked_uptime_s},
        "hour_began": state.day.hour_began_uptime_s,
        "hours": [
            [hour.ended_uptime_s, hour.airing_ratio, dict(hour.switches)]
            for hour in state.day.hours
        ],
        "distrusted": sorted(
            name for name, memory in state.sensors.memories.items() if memory.standing.lost
        ),
    }


def stamped(
    taken: Mapping[str, Any], *, boot_id: str, now: datetime, uptime_s: float
) -> dict[str, Any]:
    """Return a snapshot with when it was taken: by the boot's clock, and by the wall's (aware)."""
    return {
        "boot_id": boot_id,
        "uptime_s": uptime_s,
        "saved_at": now.isoformat(),
        "room": dict(taken),
    }


def off_for_s(
    kept: Any,  # noqa: ANN401 - whatever JSON can be
    *,
    boot_id: str,
    now: datetime,
    uptime_s: float,
) -> float:
    """Return how many seconds ago a stamped snapshot was taken, 0 where that is not known.

    After another boot only the wall clock knows, which may stand anywhere before it is set.
    """
    try:
        if kept["boot_id"] == boot_id:
            ago_s = uptime_s - _number(kept["uptime_s"])
        else:
            ago_s = (now - datetime.fromisoformat(kept["saved_at"])).total_seconds()
    except WRONG:
        return 0.0
    return round(max(0.0, ago_s), 3)


def restored(
    kept: object, plan: RoomPlan, *, gap_s: float, uptime_s: float
) -> tuple[RoomState, str | None]:
    """Return the memory of a program that has just opened every relay, from a stamped snapshot.

    `gap_s`: how long ago it was taken. Where it cannot be understood, all of it is forgotten and
    the second value says what is wrong.
    """
    fresh = starting_state(plan, uptime_s=uptime_s)
    try:
        return _understood(kept, fresh, plan, gap_s, uptime_s), None
    except WRONG as wrong:
        return fresh, f"{type(wrong).__name__}: {wrong}"


def _runs(memory: RelayMemory, uptime_s: float) -> tuple[Run, ...]:
    return (*memory.runs, Run(memory.changed_uptime_s, uptime_s)) if memory.closed else memory.runs


def _understood(
    kept: Any,  # noqa: ANN401 - whatever JSON can be
    fresh: RoomState,
    plan: RoomPlan,
    gap_s: float,
    uptime_s: float,
) -> RoomState:
    moved_s = uptime_s - gap_s - _number(kept["uptime_s"])
    kept = kept["room"]

    def moment_s(value: object) -> float:
        # A moment that would lie ahead is taken for this one, as the limits hold longest so.
        return min(_number(value) + moved_s, uptime_s)

    relays, doses = dict(fresh.relays), dict(fresh.doses)
    for kind, memory in fresh.relays.items():
        if kind in kept["relays"]:
            relays[kind] = _relay(kept["relays"][kind], memory, moment_s, uptime_s)
    for kind in fresh.doses:
        if kind in kept["doses"]:
            doses[kind] = _dose(kept["doses"][kind], plan.relays[kind])
    day = Day(
        hour_began_uptime_s=moment_s(kept["hour_began"]),
        hours=tuple(_hour(hour, moment_s) for hour in kept["hours"]),
    )
    distrusted = {str(name): DISTRUSTED for name in kept["distrusted"]}
    sensors = replace(fresh.sensors, memories=distrusted)
    drying = {
        RelayKind(kind): Drying(share_ratio=min(1.0, max(0.0, _number(share))))
        for kind, share in kept["drying"].items()
    }
    mean = None if kept["mean"] is None else _mean(kept["mean"], moment_s, uptime_s)
    return replace(
        fresh, relays=relays, doses=doses, day=day, sensors=sensors, drying=drying, mean=mean
    )


def _relay(
    kept: Mapping[str, Any],
    fresh: RelayMemory,
    moment_s: Callable[[object], float],
    uptime_s: float,
) -> RelayMemory:
    runs = [
        Run(began_s := moment_s(began), began_s + max(0.0, _number(lasted)))
        for began, lasted in sorted(kept["runs"])
    ]
    # What a relay did in the time that was not saved nobody knows. It is taken to have been
    # started and to have run all through it, as if that were now: no limit can then be passed,
    # unless its rest is so short that it could have been started twice.
    unsaved = Run(uptime_s, uptime_s + UNSAVED_S)
    return replace(
        fresh,
        runs=within_the_hour((*runs, unsaved), uptime_s=uptime_s),
        refused_uptime_s=tuple(moment_s(at) for at in kept["refused"]),
        locked_uptime_s=None if kept["locked"] is None else moment_s(kept["locked"]),
    )


def _dose(kept: Mapping[str, Any], rules: RelayRules) -> DoseMemory:
    # The settings may have changed since: what was learned under others must fit these.
    longest = rules.max_run_s or LONGEST_DOSE_S
    proved = kept["proved_s_per_pct"]
    return DoseMemory(
        s_per_pct=min(longest, _above_zero(kept["s_per_pct"])),
        proved_s_per_pct=None if proved is None else min(longest, _above_zero(proved)),
        drift_pct_per_s=min(FASTEST_DRIFT_PCT_PER_S, max(0.0, _number(kept["drift_pct_per_s"]))),
    )


def _mean(
    kept: Mapping[str, Any], moment_s: Callable[[object], float], uptime_s: float
) -> CycleMean | None:
    minutes_pct = tuple(_number(minute) for minute in kept["minutes_pct"])[-MINUTES:]
    if not minutes_pct:
        return None
    # The newest stands for the minute under way, which was lost.
    return CycleMean(
        humidity_pct=sum(minutes_pct) / MINUTES if len(minutes_pct) == MINUTES else None,
        minutes_pct=minutes_pct[:-1],
        sum_pct=minutes_pct[-1],
        looks=1,
        began_uptime_s=uptime_s,
        looked_uptime_s=moment_s(kept["looked"]),
    )


def _hour(kept: Sequence[Any], moment_s: Callable[[object], float]) -> HourOfUse:
    ended, airing, switches = kept
    return HourOfUse(
        ended_uptime_s=moment_s(ended),
        airing_ratio=None if airing is None else min(1.0, max(0.0, _number(airing))),
        switches={RelayKind(kind): int(_number(times)) for kind, times in switches.items()},
    )


def _above_zero(value: object) -> float:
    if _number(value) <= 0:
        raise ValueError(f"{value!r} is not above zero")
    return _number(value)


def _number(value: object) -> float:
    # true is a number to Python, and so is what JSON calls NaN.
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
        raise ValueError(f"{value!r:.40} is no number")
    return float(value)
