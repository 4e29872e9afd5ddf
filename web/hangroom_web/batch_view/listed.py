"""A batch as one row of the list: before hanging, hanging or finished. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from markupsafe import Markup

from hangroom.store.batches import Batch
from hangroom_web.batch_view.wording import Wording
from hangroom_web.dates import say_day
from hangroom_web.draw.rail import coin
from hangroom_web.forecasts.foretold import Foretold, only_a_line
from hangroom_web.forecasts.wording import say_window
from hangroom_web.rail import drawn, newest_yield_pct
from hangroom_web.words import _

NOTHING: Mapping[int, Foretold] = MappingProxyType({})


class Phase(StrEnum):
    """How far a batch is as a whole."""

    HANGING = "hanging"
    BEFORE = "before hanging"
    FINISHED = "finished"


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One row; `windows` say when each hanging group may be where it is wanted."""

    number: int
    name: str
    sample: bool
    coin: Markup
    said: str
    yields: str
    windows: Sequence[str]


def line(batch: Batch, wording: Wording, foretold: Mapping[int, Foretold] = NOTHING) -> Line:
    """Return a batch's row; for its windows a hanging batch needs all of its weigh-ins.

    `foretold`: what holds of each group that hangs, by its number.
    """
    tagged = [stick for group in batch.groups for stick in group.tagged]
    yields = [y for stick in tagged if (y := newest_yield_pct(stick)) is not None]
    return Line(
        number=batch.number,
        name=batch.name,
        sample=batch.sample,
        coin=coin(drawn(tagged[0])) if tagged else Markup(""),
        said=_said(batch, wording),
        yields=_("Yield {low:.1f} to {high:.1f} % of green weight").format(
            low=min(yields), high=max(yields)
        )
        if yields
        else _("Not weighed yet"),
        windows=[
            _("{letter}, {target:g} %: {window}").format(
                letter=group.letter,
                target=group.target_yield_pct,
                window=say_window(
                    foretold.get(group.number)
                    or only_a_line(group, zone=wording.zone, now=wording.now),
                    wording.zone,
                ),
            )
            for group in batch.groups
            if group.room is not None
        ],
    )


def phase(batch: Batch) -> Phase:
    """Return how far a batch is: finished once every group of it was pulled."""
    if batch.hangs:
        return Phase.HANGING
    pulled = [group.pulled_at is not None for group in batch.groups]
    return Phase.FINISHED if pulled and all(pulled) else Phase.BEFORE


def _said(batch: Batch, wording: Wording) -> str:
    sticks = _("{} sticks").format(sum(group.sticks for group in batch.groups))
    match phase(batch):
        case Phase.BEFORE:
            day = say_day(batch.started_at, wording.zone)
            return _("{sticks}, started {day}").format(sticks=sticks, day=day)
        case Phase.FINISHED:
            last = max(group.pulled_at for group in batch.groups if group.pulled_at)
            return _("{sticks}, pulled {moment}").format(sticks=sticks, moment=wording.moment(last))
        case Phase.HANGING:
            since = min(g.hung_at for g in batch.groups if g.hung_at)
            days = (wording.now - since).days
            return _("{sticks}, hung {day}, {days} ago").format(
                sticks=sticks,
                day=say_day(since, wording.zone),
                days=_("1 day") if days == 1 else _("{days} days").format(days=days),
            )
