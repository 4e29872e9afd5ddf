"""What alarms are told in, on page and in notices: priorities, places, figures, causes. Pure."""

from collections.abc import Mapping

from hangroom.alarm_table.row import Priority, Scope
from hangroom.reasons import REASONS, say, say_figure
from hangroom.terms import Because
from hangroom.units import Units, say_duration

URGENCY = {
    Priority.HIGH: "Act now",
    Priority.MEDIUM: "Act today",
    Priority.LOW: "Look into it",
}

# The most urgent first.
RANK = {Priority.HIGH: 0, Priority.MEDIUM: 1, Priority.LOW: 2}

# What brought a condition on, where that is no reason of control.
CAUSES = {
    "not-written": "what waited could not be written",
    "little-space": "the disk is nearly full",
}

# What the figures of a condition are; others are for the file alone.
FIGURES = {
    "seen_pct": "measured {}",
    "seen_c": "measured {}",
    "limit_pct": "limit {}",
    "limit_c": "limit {}",
    "lowest_pct": "lowest sensor {}",
    "highest_pct": "highest sensor {}",
    "lowest_c": "lowest sensor {}",
    "highest_c": "highest sensor {}",
    "free_pct": "{} of the disk free",
    "age_s": "last reading {} old",
    "gap_s": "nothing recorded for {}",
    "unseen_s": "no look for {}",
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
        way = "forward by {}" if jump_s > 0 else "back by {}"
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


def say_where(scope: str, room_titles: Mapping[str, str]) -> str:
    """Return what the log's word for a room, batch or group means, for example 'Closet'."""
    kind, _space, name = scope.partition(" ")
    match kind:
        case Scope.ROOM:
            return room_titles.get(name, name)
        case Scope.BATCH:
            return f"Batch {name}"
        case Scope.GROUP:
            number, _space, letter = name.partition(" ")
            return f"Batch {number}, group {letter}"
        case _:
            return "The controller"
