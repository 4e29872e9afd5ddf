"""What a group's forecast is made from, gathered out of the store.

What is not known is left out where a forecast can do without it; else a usual figure stands in for
it, and a remark says so.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from statistics import fmean

from sqlite_utils import Database

from hangroom.errors import InputError
from hangroom.forecasting.air import air_of_room, air_of_stays
from hangroom.forecasting.plan import planned
from hangroom.product.composition import Makeup, dried
from hangroom.product.drying_priors import HUNG_MEAN_RATIO, PUBLISHED
from hangroom.product.forecast import (
    Beliefs,
    Question,
    Remark,
    TaggedStick,
    Weighing,
)
from hangroom.product.learning import Kind, believed, recipe_named
from hangroom.product.yields import Base, Yield
from hangroom.store.batches import Batch, Group
from hangroom.store.forecasts import KeptForecast
from hangroom.store.hanging import Hang
from hangroom.store.plans import plan_by_number, plan_runs
from hangroom.store.record.recipe import as_recipe
from hangroom.store.record.steps import StepKind
from hangroom.store.record.whole import BatchRecord
from hangroom.store.room_plans import course_of
from hangroom.terms import RoomPlan, Stage

# Where no recipe is on record: ground pork with 3 % of salt and spice, hung at 88 % of its green
# weight, holds 53.7 % of water, half of it venison 59.3 % (USDA, NDB 10219 and 17343). The middle.
USUAL_WATER_FRACTION = 0.565
# Where neither a caliper nor a casing is on record. Common practice, no source.
USUAL_DIAMETER_MM = 19.0
# A group that was elsewhere for longer than this share of its time teaches no room.
ELSEWHERE_RATIO = 0.2

HEAT = frozenset({StepKind.SMOKE, StepKind.COOK, StepKind.FINISH})


@dataclass(frozen=True, slots=True, kw_only=True)
class Prepared:
    """A question about a group, since when it hangs, and remarks on what was assumed.

    `room`: where it hung nearly all the time, None where that is none.
    """

    group_number: int
    hung_at: datetime
    room: str | None
    recipe: str
    question: Question
    assumed: tuple[Remark, ...]


def prepared(
    db: Database,
    record: BatchRecord,
    group: Group,
    *,
    plans: Mapping[str, RoomPlan],
    learned: Mapping[tuple[Kind, str], Beliefs],
    earlier: KeptForecast | None,
    scale_sd_g: float,
    now: datetime,
) -> Prepared | None:
    """Return the question about a group as of now, or None where it does not hang to dry.

    `earlier`: its newest forecast. What that began with stays its beginning: what its own weights
    have taught since would count twice otherwise. Raises InputError where its record does not hold
    together.
    """
    stays = _dries_in(record, group)
    if not stays:
        return None
    newest, hung_at = stays[-1], stays[0].from_at
    until = min(now, newest.to_at or now)
    now_h = max(0.0, _after_h(until, hung_at))
    calibrations = {name: plan.calibrations for name, plan in plans.items()}
    air = air_of_stays(db, stays, calibrations, hung_at=hung_at, until=until)
    here = air_of_room(
        db,
        newest.room,
        calibrations.get(newest.room, {}),
        since=newest.from_at,
        until=until,
        hung_at=hung_at,
    )
    plan = plans.get(newest.room) or _nothing_wanted_of(newest.room)
    room, recipe = _mostly_in(stays, until), recipe_named(record.batch.name)
    water = _water(record, group)
    diameter_mm, measured, remarks = _diameter(record.batch, group)
    question = Question(
        tagged=tuple(
            TaggedStick(
                tag=stick.tag,
                green_weight_g=stick.green_weight_g,
                hang_weight_g=stick.hang_weight_g,
            )
            for stick in group.tagged
        ),
        sticks_in_group=max(group.sticks, len(group.tagged)),
        target_yield_ratio=group.target_yield_pct / 100.0,
        water_fraction=water.fraction,
        water_phase_salt_pct=water.phase_salt_pct,
        diameter_mm=diameter_mm,
        diameter_measured=measured,
        scale_sd_g=scale_sd_g,
        now_h=now_h,
        air=air,
        plan=planned(
            plan,
            course_of(db, newest.room, plan.stage),
            here,
            hung_at=hung_at,
            came_h=_after_h(newest.from_at, hung_at),
            now_h=now_h,
            steps=_steps_followed(db, newest.room),
        ),
        weighings=_weighings(group, hung_at, until),
        beliefs=believed(learned, room=newest.room, recipe=recipe, published=PUBLISHED)
        if earlier is None
        else earlier.before,
    )
    return Prepared(
        group_number=group.number,
        hung_at=hung_at,
        room=room,
        recipe=recipe,
        question=question,
        assumed=(*water.remarks, *remarks),
    )


def _steps_followed(db: Database, room: str) -> list[tuple[datetime, float]]:
    """Return from when on which humidity the plan wants that a room follows, %RH."""
    run = plan_runs(db).get(room)
    if run is None or run.ended_at is not None:
        return []
    kept = plan_by_number(db, run.plan_number)
    if kept is None or kept.plan is None:
        return []
    return [
        (kept.made_at + timedelta(hours=step.after_h), step.humidity_pct)
        for step in kept.plan.steps
    ]


def _nothing_wanted_of(room: str) -> RoomPlan:
    """Return the plan of a room that the journal does not know yet, or no more."""
    return RoomPlan(name=room, stage=Stage.HANG, humidity=None, temperature=None, relays={})


def most_weighed(question: Question) -> int:
    """Return how often the stick was weighed that was weighed most often."""
    tags = [one.tag for one in question.weighings]
    return max((tags.count(tag) for tag in set(tags)), default=0)


def _dries_in(record: BatchRecord, group: Group) -> list[Hang]:
    """Return the stays on the rail, oldest first: from the end of the heat on, where there was any.

    Casings dry in the same rooms before; sticks that were never moved since count from the heat on.
    """
    heat = [
        (step.from_at, step.to_at or step.from_at)
        for step in record.steps
        if step.kind in HEAT and step.group in {None, group.letter}
    ]
    stays = [stay for stay in record.stays if stay.group == group.letter]
    if not heat:
        return stays
    began_at, ended_at = min(heat)[0], max(end for _, end in heat)
    return [
        stay if stay.from_at >= began_at else replace(stay, from_at=ended_at)
        for stay in stays
        if stay.from_at >= began_at or stay.to_at is None or stay.to_at > ended_at
    ]


def _mostly_in(stays: Sequence[Hang], until: datetime) -> str | None:
    hung = {stay.room: timedelta() for stay in stays}
    for stay in stays:
        hung[stay.room] += (stay.to_at or until) - stay.from_at
    room, longest = max(hung.items(), key=lambda one: one[1])
    together = sum(hung.values(), timedelta())
    return room if longest >= (1.0 - ELSEWHERE_RATIO) * together else None


def _weighings(group: Group, hung_at: datetime, until: datetime) -> tuple[Weighing, ...]:
    found = [
        Weighing(
            at_h=_after_h(look.taken_at, hung_at),
            tag=stick.tag,
            weight_g=look.weight_g,
            diameter_mm=look.diameter_mm,
            squeeze=look.squeeze,
        )
        for stick in group.tagged
        for look in stick.weigh_ins
        if hung_at <= look.taken_at <= until
    ]
    return tuple(sorted(found, key=lambda one: (one.at_h, one.tag)))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Water:
    fraction: float
    phase_salt_pct: float | None
    remarks: tuple[Remark, ...]


def _water(record: BatchRecord, group: Group) -> _Water:
    """Return the water's share as hung, from the recipe where there is one."""
    recipe = as_recipe(record.recipe)
    if recipe is None:
        assumed = Remark(code="water-assumed", figures={"water_pct": 100.0 * USUAL_WATER_FRACTION})
        return _Water(fraction=USUAL_WATER_FRACTION, phase_salt_pct=None, remarks=(assumed,))
    made = _as_hung(recipe.green, record.batch.fat_drip_g or 0.0, _hung_ratio(group))
    return _Water(
        fraction=made.water_pct / 100.0,
        phase_salt_pct=made.water_phase_salt_pct,
        remarks=(),
    )


def _as_hung(green: Makeup, fat_drip_g: float, hung_ratio: float) -> Makeup:
    kept = Yield(ratio=min(1.0, hung_ratio), base=Base.GREEN)
    try:
        return dried(green, kept, fat_drip_g=fat_drip_g)
    except InputError:
        # More dripped than was lost: the drip is wrong, and the page's makeup says so.
        return dried(green, kept)


def _hung_ratio(group: Group) -> float:
    weighed = [
        (stick.green_weight_g, stick.hang_weight_g)
        for stick in group.tagged
        if stick.hang_weight_g is not None
    ]
    if not weighed:
        return HUNG_MEAN_RATIO
    return sum(hung_g for _, hung_g in weighed) / sum(green_g for green_g, _ in weighed)


def _diameter(batch: Batch, group: Group) -> tuple[float, bool, tuple[Remark, ...]]:
    """Return how thick the sticks were as hung, mm, whether measured, and what was assumed."""
    across_mm = [s.hang_diameter_mm for s in group.tagged if s.hang_diameter_mm is not None]
    if across_mm:
        return fmean(across_mm), True, ()
    if batch.casing_diameter_mm is not None:
        return batch.casing_diameter_mm, False, ()
    assumed = Remark(code="diameter-assumed", figures={"mm": USUAL_DIAMETER_MM})
    return USUAL_DIAMETER_MM, False, (assumed,)


def _after_h(moment: datetime, hung_at: datetime) -> float:
    return (moment - hung_at) / timedelta(hours=1)
