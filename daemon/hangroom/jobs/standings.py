"""Where a group stands, out of the store, in the form that words are made of."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from statistics import fmean

from hangroom.product.group_standing import Standing
from hangroom.store.batches import Group, Stick, WeighIn
from hangroom.store.forecasts import KeptForecast

# Weights taken within this time belong to one look.
ONE_LOOK = timedelta(hours=12)
# As typed, to the hundredth of a percent; a target that was moved since makes a forecast void.
SAME_TARGET_RATIO = 1e-4


def standing_of(group: Group, kept: KeptForecast | None) -> Standing:
    """Return what is known of a group that hangs."""
    told = kept if kept is not None and _same_target(kept, group) else None
    return Standing(
        target_pct=group.target_yield_pct,
        forecast=told.forecast if told else None,
        made_at=told.made_at if told else None,
        hung_at=told.hung_at if told else None,
        weighed_pct=newest_yield_pct(group),
        weighed_at=newest_weighed_at(group),
    )


def _same_target(kept: KeptForecast, group: Group) -> bool:
    apart_ratio = kept.forecast.target_yield_ratio - group.target_yield_pct / 100.0
    return abs(apart_ratio) < SAME_TARGET_RATIO


def newest_weighed_at(group: Group) -> datetime | None:
    """Return when any of a group's sticks was weighed last, or None."""
    return max((entry.taken_at for _, entry in _newest(group)), default=None)


def newest_yield_pct(group: Group) -> float | None:
    """Return the mean yield on green weight at the group's newest look, or None without one, %."""
    newest = _newest(group)
    if not newest:
        return None
    looked_at = max(weigh_in.taken_at for _, weigh_in in newest)
    return fmean(
        100.0 * weigh_in.weight_g / stick.green_weight_g
        for stick, weigh_in in newest
        if looked_at - weigh_in.taken_at < ONE_LOOK
    )


def _newest(group: Group) -> Sequence[tuple[Stick, WeighIn]]:
    return [(stick, stick.weigh_ins[-1]) for stick in group.tagged if stick.weigh_ins]
