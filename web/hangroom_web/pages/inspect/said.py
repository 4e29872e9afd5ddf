"""What Inspect says beside the cards: what today's weights tell, and what its script needs."""

from collections.abc import Mapping
from dataclasses import replace

from hangroom_web.dates import day_of
from hangroom_web.forecasts.foretold import Foretold, only_a_line
from hangroom_web.forecasts.wording import say_estimate
from hangroom_web.look import Look
from hangroom_web.rail import CHANGE, UNCHANGED, group_estimate
from hangroom_web.scale_text import scale_told
from hangroom_web.site import site
from hangroom_web.slips import slips_told
from hangroom_web.words import _


def script_words() -> dict[str, object]:
    """Return the sentences and figures with which a phone goes on by itself, without contact."""
    return {
        "scale": scale_told(site().units),
        "slips": slips_told(site().units),
        "yield": _("Yield {now} %"),
        "change": CHANGE,
        "unchanged": UNCHANGED,
        "down": _("down"),
        "up": _("up"),
        "outside": _("Outside what is expected."),
        "use": _("Use {}"),
        "keep": _("Keep {}"),
        "kept": _("Saved on this phone, not yet on the controller."),
        "draft": _("Unsaved entry from {}. It counts as weighed then."),
        "discard": _("Clear it"),
        "unsent": _(
            "Not saved: no contact with the controller. What you typed stays here; save it again."
        ),
        "no_store": _(
            "This browser keeps nothing by itself (a private window?). Entries go straight to the "
            "controller; without contact they stay in their card until it is back."
        ),
        "elsewhere": _(
            "It waits here no more: another open page of this phone sent it, or threw it away. "
            "Load this page again to see."
        ),
        "log_in": _("Log in first; nothing was changed. What you typed stays here."),
        "edit": _("Edit"),
    }


def summary_of(look: Look, foretold: Mapping[int, Foretold]) -> list[dict[str, str]]:
    """Return, for each group with an entry of today, what was expected before and is by now."""
    now, zone = site().now(), site().zone
    today = day_of(now, zone)
    groups = {one.hung.group.number: one.hung for one in look.sticks if one.done}
    return [
        {
            "title": hung.title,
            "before": say_estimate(
                replace(told, kept=told.earlier)
                if told.earlier is not None
                else Foretold(line=group_estimate(hung.group, zone, before=today), now=now),
                hung.group,
                zone,
            ),
            "after": say_estimate(
                only_a_line(hung.group, zone=zone, now=now) if told.overtaken else told,
                hung.group,
                zone,
            ),
            "note": _say_basis(told),
        }
        for hung in groups.values()
        for told in [foretold[hung.group.number]]
    ]


def _say_basis(told: Foretold) -> str:
    if told.kept is None:
        return _("Straight lines through the last two looks; wide on purpose.")
    if told.overtaken:
        return _(
            "Now is a straight line; the forecast with today's weights follows within a minute."
        )
    return _("By the forecast; ranges hold 8 times in 10.")
