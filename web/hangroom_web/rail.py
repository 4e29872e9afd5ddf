"""What hangs, stick by stick: yields, today's look, and when each group may arrive. Pure."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import groupby
from zoneinfo import ZoneInfo

from hangroom.product.doneness import Estimate, Inspection, estimate
from hangroom.product.geometry import ACROSS_ONLY, Size, shrunk
from hangroom.store.batches import Batch, Group, Stick, WeighIn
from hangroom_web.dates import day_of, say_hour, say_since
from hangroom_web.words import _

# A forecast whose newest weighing is older than this is marked.
NEEDS_WEIGHING_AFTER = timedelta(hours=36)

# Said by the page's script as well, while somebody types.
CHANGE = _("{yield_}, {way} {by} since {since}")
UNCHANGED = _("{yield_}, unchanged since {since}")

# Beyond this loss the geometry knows no size; such a stick is drawn as last measured.
MOST_LOSS_RATIO = 0.9


def yield_pct(stick: Stick, weight_g: float) -> float:
    """Return a weight as a yield on the stick's green weight, %."""
    return 100.0 * weight_g / stick.green_weight_g


def newest_yield_pct(stick: Stick) -> float | None:
    """Return the yield on green weight at the newest weighing, as hung included; % or None."""
    if stick.weigh_ins:
        return yield_pct(stick, stick.weigh_ins[-1].weight_g)
    return None if stick.hang_weight_g is None else yield_pct(stick, stick.hang_weight_g)


def weighed_on(stick: Stick, day: date, zone: ZoneInfo) -> WeighIn | None:
    """Return the stick's newest weigh-in of a local day, or None."""
    todays = [look for look in stick.weigh_ins if day_of(look.taken_at, zone) == day]
    return todays[-1] if todays else None


@dataclass(frozen=True, slots=True, kw_only=True)
class HangingGroup:
    """A group that hangs now, with the batch it is of."""

    batch: Batch
    group: Group

    @property
    def title(self) -> str:
        """For example 'Batch 14 A, supple'."""
        return _("Batch {number} {letter}, {finish}").format(
            number=self.batch.number, letter=self.group.letter, finish=self.group.finish
        )


def hanging(batches: Sequence[Batch]) -> list[HangingGroup]:
    """Return every group that hangs in a room now, oldest batch first."""
    return [
        HangingGroup(batch=batch, group=group)
        for batch in sorted(batches, key=lambda b: b.number)
        for group in batch.groups
        if group.room is not None
    ]


def inspections(group: Group, zone: ZoneInfo, *, before: date | None = None) -> list[Inspection]:
    """Return the weights as hung and then one look per local day, as yields on green weight.

    `before` leaves out that day and all later ones.
    """
    looks = []
    hung = tuple(yield_pct(s, s.hang_weight_g) for s in group.tagged if s.hang_weight_g is not None)
    if hung and group.hung_at is not None:
        looks.append(Inspection(at=group.hung_at, yields_pct=hung))
    entries = sorted(
        (
            (day_of(look.taken_at, zone), stick, look)
            for stick in group.tagged
            for look in stick.weigh_ins
        ),
        key=lambda entry: (entry[0], entry[2].taken_at),
    )
    for day, of_day in groupby(entries, key=lambda entry: entry[0]):
        if before is not None and day >= before:
            break
        # A stick weighed twice in a day counts once, with its newer weight.
        newest = {stick.number: (stick, look) for _day, stick, look in of_day}
        looks.append(
            Inspection(
                at=max(look.taken_at for _stick, look in newest.values()),
                yields_pct=tuple(
                    yield_pct(stick, look.weight_g) for stick, look in newest.values()
                ),
            )
        )
    return looks


def group_estimate(group: Group, zone: ZoneInfo, *, before: date | None = None) -> Estimate | None:
    """Return what can be said of a group from its weights, or None where none was taken."""
    looks = inspections(group, zone, before=before)
    return estimate(looks, target_yield_pct=group.target_yield_pct)


def newest_look_at(group: Group) -> datetime | None:
    """Return when any stick of the group was last weighed since hanging."""
    return max((s.weigh_ins[-1].taken_at for s in group.tagged if s.weigh_ins), default=None)


def say_window(told: Estimate | None, zone: ZoneInfo, *, now: datetime) -> str:
    """Return when the target may be reached, in a few words for a bracket on the drawing."""
    if told is None:
        return _("not weighed yet")
    if told.arrived:
        return _("at its target")
    if told.window is None:
        return _("no loss seen")
    return _("{earliest} to {latest}").format(
        earliest=say_hour(told.window.earliest_at, zone, now=now),
        latest=say_hour(told.window.latest_at, zone, now=now),
    )


def say_estimate(told: Estimate | None, group: Group, zone: ZoneInfo, *, now: datetime) -> str:
    """Return the estimate in one or two honest sentences."""
    target = f"{group.target_yield_pct:g} %"
    if told is None:
        return _(
            "Nothing was weighed yet, so nothing can be said. Target: {target} of green weight."
        ).format(target=target)
    if told.arrived:
        return _(
            "At {now:.1f} % of green weight on average; the target of {target} is reached. "
            "Pull it when it suits you."
        ).format(now=told.yield_pct, target=target)
    if told.window is None:
        return _(
            "At {now:.1f} % of green weight. No loss between the last two looks, so no line can be "
            "drawn to {target}. Weigh again tomorrow."
        ).format(now=told.yield_pct, target=target)
    window = told.window
    if window.likely_at is None:
        return _(
            "{target} of green weight between {earliest} and {latest}. A guess from how thin "
            "sticks usually dry; weigh three sticks and it narrows."
        ).format(
            target=target,
            earliest=say_hour(window.earliest_at, zone, now=now),
            latest=say_hour(window.latest_at, zone, now=now),
        )
    if window.latest_at < now:
        return _(
            "At {now:.1f} % when last weighed; {target} should be behind by now. Weigh it to know."
        ).format(now=told.yield_pct, target=target)
    return _(
        "{target} of green weight likely {likely}, at the earliest {earliest}, "
        "at the latest {latest}."
    ).format(
        target=target,
        likely=say_hour(window.likely_at, zone, now=now),
        earliest=say_hour(window.earliest_at, zone, now=now),
        latest=say_hour(window.latest_at, zone, now=now),
    )


def estimate_footnote(told: Estimate | None, group: Group, *, now: datetime) -> str:
    """Return how the estimate was made, and whether it has grown old; '' where there is none."""
    if told is None or told.arrived or not told.weighed:
        return ""
    note = _("A straight line through the last two looks; wide on purpose.")
    newest_at = newest_look_at(group)
    if newest_at is not None and now - newest_at > NEEDS_WEIGHING_AFTER:
        return _("{note} It needs a weighing.").format(note=note)
    return note


def say_change(stick: Stick, look: WeighIn, zone: ZoneInfo, *, now: datetime) -> str:
    """Return for example 'Yield 68.2 %, down 1.4 since Thu' for one weigh-in of a stick."""
    yield_now_pct = yield_pct(stick, look.weight_g)
    said = _("Yield {now:.1f} %").format(now=yield_now_pct)
    earlier = previous(stick, look)
    if earlier is None:
        return said
    weight_g, at = earlier
    down_pct = yield_pct(stick, weight_g) - yield_now_pct
    since = say_since(at, zone, now=now) if at else _("hanging")
    if round(down_pct, 1) == 0:
        return UNCHANGED.format(yield_=said, since=since)
    way = _("down") if down_pct > 0 else _("up")
    return CHANGE.format(yield_=said, way=way, by=f"{abs(down_pct):.1f}", since=since)


def previous(stick: Stick, look: WeighIn | None = None) -> tuple[float, datetime | None] | None:
    """Return weight in g and time of the weighing before `look`, or of the newest.

    The time is None for the weight as hung.
    """
    earlier = [w for w in stick.weigh_ins if look is None or w.taken_at < look.taken_at]
    if earlier:
        return earlier[-1].weight_g, earlier[-1].taken_at
    return None if stick.hang_weight_g is None else (stick.hang_weight_g, None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A stick as it is drawn, mm; `measured`: by caliper, else reckoned from its weight.

    `spread_pct`: of a yield that was forecast; None where it was weighed.
    """

    tag: str
    hung_diameter_mm: float | None
    diameter_mm: float | None
    length_mm: float | None
    measured: bool
    wrinkle_mm: float
    yield_pct: float | None
    weighed: bool
    spread_pct: float | None = None


def drawn(stick: Stick, now_pct: tuple[float, float] | None = None) -> Drawn:
    """Return the stick's size as last seen: measured if it was, else reckoned from its weight.

    `now_pct`: the yield that a forecast expects of it now, and how far off 8 of 10 lie at most.
    """
    diameters = [w.diameter_mm for w in stick.weigh_ins]
    wrinkles = [w.wrinkle_mm for w in stick.weigh_ins if w.wrinkle_mm is not None]
    measured = bool(diameters) and diameters[-1] is not None
    return Drawn(
        tag=stick.tag,
        hung_diameter_mm=stick.hang_diameter_mm,
        diameter_mm=diameters[-1] if measured else _reckoned_mm(stick),
        length_mm=stick.length_mm,
        measured=measured,
        wrinkle_mm=wrinkles[-1] if wrinkles else 0.0,
        yield_pct=newest_yield_pct(stick) if now_pct is None else now_pct[0],
        weighed=bool(stick.weigh_ins),
        spread_pct=None if now_pct is None else now_pct[1],
    )


def _reckoned_mm(stick: Stick) -> float | None:
    hung_mm, hung_g = stick.hang_diameter_mm, stick.hang_weight_g
    if hung_mm is None or hung_g is None or not stick.weigh_ins:
        return hung_mm
    loss_ratio = 1.0 - stick.weigh_ins[-1].weight_g / hung_g
    if not 0 <= loss_ratio <= MOST_LOSS_RATIO:
        return hung_mm
    as_hung = Size(diameter_mm=hung_mm, length_mm=stick.length_mm or 1.0)
    return shrunk(as_hung, loss_ratio, ACROSS_ONLY).diameter_mm


def tagged_in(groups: Sequence[HangingGroup]) -> Iterator[tuple[HangingGroup, Stick]]:
    """Yield every tagged stick of some groups with its group, in hook order."""
    for hung in groups:
        for stick in hung.group.tagged:
            yield hung, stick
