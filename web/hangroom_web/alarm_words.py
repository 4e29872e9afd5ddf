"""What alarms are told in: priorities, states, events, figures and circumstances. Pure."""

from collections.abc import Mapping

from hangroom.alarm_table.row import Priority
from hangroom.alarm_table.words import Event
from hangroom.reasons import REASONS, say, say_figure
from hangroom.terms import Because
from hangroom.units import Units, say_duration
from hangroom_web.words import _

URGENCY = {
    Priority.HIGH: _("Act now"),
    Priority.MEDIUM: _("Act today"),
    Priority.LOW: _("Look into it"),
}

# The most urgent first.
RANK = {Priority.HIGH: 0, Priority.MEDIUM: 1, Priority.LOW: 2}

EVENTS = {
    Event.ACTIVATED: _("came on"),
    Event.RETURNED_TO_NORMAL: _("returned to normal"),
    Event.RE_ALARMED: _("still on, told again"),
    Event.ACKNOWLEDGED: _("acknowledged"),
    Event.RESET: _("reset"),
    Event.SHELVED: _("shelved"),
    Event.UNSHELVED: _("taken off the shelf"),
    Event.SHELF_ENDED: _("shelf time over"),
    Event.SUPPRESSED: _("kept quiet by design"),
    Event.UNSUPPRESSED: _("no longer kept quiet"),
    Event.TAKEN_OUT_OF_SERVICE: _("taken out of service"),
    Event.RETURNED_TO_SERVICE: _("returned to service"),
}

# Why alarms are kept quiet by design, by the code that the log keeps.
CIRCUMSTANCES = {
    "no-trusted-air": _("no sensor can be trusted, which is an alarm of its own"),
    "starting": _("the controller has only just started"),
    "inspection": _("somebody said that the door is open"),
    "door-opened": _("the air jumped as with an opened door"),
    "settling-in": _("the room is on its way to a new setpoint or stage"),
}

# What brought a condition on, where that is no reason of control.
CAUSES = {
    "not-written": _("what waited could not be written"),
    "little-space": _("the disk is nearly full"),
}

# What the figures of a condition are; others are for the file alone.
FIGURES = {
    "seen_pct": _("measured {}"),
    "seen_c": _("measured {}"),
    "limit_pct": _("limit {}"),
    "limit_c": _("limit {}"),
    "lowest_pct": _("lowest sensor {}"),
    "highest_pct": _("highest sensor {}"),
    "lowest_c": _("lowest sensor {}"),
    "highest_c": _("highest sensor {}"),
    "free_pct": _("{} of the disk free"),
    "age_s": _("last reading {} old"),
    "gap_s": _("nothing recorded for {}"),
    "unseen_s": _("no look for {}"),
}


def say_figures(figures: Mapping[str, float], units: Units) -> str:
    """Return for example 'measured 21.2 °C, limit 18.6 °C', in the keeper's units."""
    told = [
        words.format(say_figure(name, figures[name], units))
        for name, words in FIGURES.items()
        if name in figures
    ]
    jump_s = figures.get("jump_s")
    if jump_s is not None:
        way = _("forward by {}") if jump_s > 0 else _("back by {}")
        told.append(way.format(say_duration(abs(jump_s))))
    return ", ".join(told)


def say_why(code: str, figures: Mapping[str, float], units: Units) -> str:
    """Return what brought a condition on, in words; '' where nothing is known of it."""
    if code in CAUSES:
        return CAUSES[code]
    if code not in REASONS:
        return ""
    try:
        return say(Because(code, figures), units)
    except KeyError:
        return ""  # the figures that the sentence speaks of were not kept
