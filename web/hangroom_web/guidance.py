"""What published guidance makes of where a group hangs, said where its keeper looks at it.

Trade practice hangs cured sticks at room temperature for days; published guidance does not
support that for sticks that are not acid. The page says so plainly, with what would change it.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlite_utils import Database

from hangroom.product.findings import Finding
from hangroom.product.storage import Measured, Warmth, judge_warm_hanging, judge_warmth, warmth
from hangroom.product.temperatures import Point
from hangroom.store.batches import Group
from hangroom.store.history import air_buckets
from hangroom_web.words import _

BUCKET_S = 900
# Less than one bucket is a door or a defrost, and less than the page would show.
LEAST_WARM_H = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Guidance:
    """Hours on the warm side since hanging, and the finding that belongs to them."""

    stay: Warmth
    finding: Finding


def guidance(db: Database, group: Group, *, now: datetime) -> Guidance | None:
    """Return what the air of the room says about a hanging group's stay so far, or None.

    Neither water activity nor pH can be entered yet, so nothing is taken as measured.
    """
    if group.room is None or group.hung_at is None or now <= group.hung_at:
        return None
    hung_at = group.hung_at
    # The middle of each bucket stands for it; a door opened for a minute does not.
    points = [
        Point(
            at_s=(bucket.starts_at + timedelta(seconds=BUCKET_S / 2) - hung_at).total_seconds(),
            temperature_c=(bucket.lowest_c + bucket.highest_c) / 2,
        )
        for bucket in air_buckets(db, group.room, since=hung_at, until=now, bucket_s=BUCKET_S)
    ]
    stay = warmth(points, start_s=0.0, end_s=(now - hung_at).total_seconds())
    warmest_c = max((point.temperature_c for point in points), default=None)
    if warmest_c is None or stay.warm_h < LEAST_WARM_H:
        return Guidance(stay=stay, finding=judge_warmth(stay, Measured()))
    return Guidance(stay=stay, finding=judge_warm_hanging(warmest_c, Measured()))


def said(found: Guidance) -> str:
    """Return the one line that always stands on the page."""
    warm_h = found.stay.warm_h
    if warm_h < LEAST_WARM_H:
        return _("Above 5 °C (41 °F): not at all since hanging, by the room's readings.")
    return _(
        "Above 5 °C (41 °F) for {hours:.0f} h since hanging, water activity and pH not measured."
    ).format(hours=max(1.0, warm_h))
