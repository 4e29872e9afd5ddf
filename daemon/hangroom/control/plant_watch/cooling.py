"""Cooling: whether the air gets colder while the compressor runs.

One at its limit in a hot place still undoes in a run what its rest before had warmed, and so is
not taken for a dead one.
"""

from dataclasses import dataclass, replace
from statistics import fmean

from hangroom.control.alarms.delays import Raw, Side, whether
from hangroom.control.plant_watch.door import Door
from hangroom.control.plant_watch.view import View
from hangroom.terms import RelayKind

# Colder by so much than when the run began means that it cools; noise is a tenth of that.
FALLS_C = 0.3
# So long a run without that, over as many runs as it takes, is a finding: some ten times what a
# fridge needs to show it.
IDLE_S = 1800.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Cooling:
    """What is known of the cooling.

    `from_c`: temperature when the run under way began, None between runs. `idle_s`: how long it
    has run without making the air colder, up to `counted_uptime_s`. `judged`: whether it has ever
    been seen to cool, or not to.
    """

    from_c: float | None = None
    idle_s: float = 0.0
    counted_uptime_s: float = 0.0
    judged: bool = False


def looked_at(known: Cooling, view: View, door: Door) -> Cooling:
    """Return what is known after one more look."""
    if not view.switches[RelayKind.COOLING].closed or door.is_open:
        return known if known.from_c is None else replace(known, from_c=None)
    now_c = fmean([s.temperature_c for s in view.now])
    if known.from_c is None:
        return replace(known, from_c=now_c, counted_uptime_s=view.uptime_s)
    if now_c <= known.from_c - FALLS_C:
        return replace(known, idle_s=0.0, counted_uptime_s=view.uptime_s, judged=True)
    needed = view.temperature is None or now_c > view.temperature.setpoint_c
    idle_s = known.idle_s + (view.uptime_s - known.counted_uptime_s if needed else 0.0)
    return replace(
        known,
        idle_s=idle_s,
        counted_uptime_s=view.uptime_s,
        judged=known.judged or idle_s >= IDLE_S,
    )


def ineffective(known: Cooling, view: View) -> Raw:
    """Return the raw condition of cooling that does not cool."""
    if not known.judged:
        return Raw(Side.UNKNOWN)
    return Raw(
        whether(holds=known.idle_s >= IDLE_S),
        {"seen_c": view.now[-1].temperature_c, "ran_s": known.idle_s},
    )
