"""The humidifier: whether its doses do anything.

An empty tank, a scaled disc and a contact that does not close look alike from here.
"""

from hangroom.control.alarms.delays import Raw, Side, whether
from hangroom.control.plant_watch.door import Door
from hangroom.control.plant_watch.effect import (
    FAILURES,
    UNLEARNED_PCT,
    Effect,
    Run,
    after_a_run,
)
from hangroom.control.plant_watch.runs import Runs, Works, followed
from hangroom.control.plant_watch.view import View
from hangroom.terms import RelayKind

# Mist takes some time to evaporate.
MIST = Works(relay=RelayKind.HUMIDIFIER, against=RelayKind.EXHAUST_FAN, spread_s=(25.0, 65.0))
# A first dose may be far too small for the room. Before any has worked, the failures that make a
# finding must have run for so long altogether.
UNLEARNED_S = 60.0


def looked_at(doses: Runs, view: View, door: Door) -> Runs:
    """Return what is known of the doses after one more look."""

    def judge(effect: Effect, run: Run, rise_g_per_m3: float) -> Effect:
        return _judged(effect, run, rise_g_per_m3, view)

    return followed(doses, view, door, MIST, judge)


def ineffective(doses: Runs) -> Raw:
    """Return the raw condition of a humidifier whose doses do nothing."""
    effect = doses.effect
    if effect.moved_pct is None or effect.expected_pct is None:
        return Raw(Side.UNKNOWN)
    enough = effect.gain_g_per_m3_per_s is not None or effect.failed_s >= UNLEARNED_S
    return Raw(
        whether(holds=effect.failures >= FAILURES and enough),
        {"moved_pct": effect.moved_pct, "expected_pct": effect.expected_pct},
    )


def _judged(effect: Effect, run: Run, rise_g_per_m3: float, view: View) -> Effect:
    on_s = run.on_s(view.uptime_s)
    one_pct = view.one_pct_g_per_m3
    gain = effect.gain_g_per_m3_per_s
    return after_a_run(
        effect,
        moved_pct=rise_g_per_m3 / one_pct,
        expected_pct=UNLEARNED_PCT if gain is None else gain * on_s / one_pct,
        on_s=on_s,
        one_pct_g_per_m3=one_pct,
        uptime_s=view.uptime_s,
    )
