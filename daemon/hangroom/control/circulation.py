"""The circulation fan: stirs the room's own air for a share of the time."""

from hangroom.control.wish import Wish, off, on, safe_off
from hangroom.terms import RoomPlan


def circulation_wish(plan: RoomPlan, *, trusted_once: bool, uptime_s: float) -> Wish:
    """Return what the circulation fan should do: `stir_for_s` of every `stir_every_s`.

    Stirring takes nothing out of the room, so it goes on while the sensor is lost; only before
    the first trusted reading everything stays open.
    """
    if not trusted_once:
        return safe_off("started")
    into_cycle_s = uptime_s % plan.stir_every_s
    if into_cycle_s < plan.stir_for_s:
        return on("circulating", left_s=plan.stir_for_s - into_cycle_s)
    return off("between-stirs", left_s=plan.stir_every_s - into_cycle_s)
