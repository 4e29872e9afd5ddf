"""Batches dried day by day under setpoints that may be changed on the way."""

from dataclasses import dataclass, field

import numpy as np
from bench.drying_truth.batches import Batches, made_batches
from bench.drying_truth.histories import History, Told, crossing_h, seen_air, told_of
from bench.drying_truth.meat import Floats
from bench.drying_truth.regimes import COOL
from bench.drying_truth.rooms import SENT_EVERY_STEPS, STEPS_PER_H, Rooms, made_rooms

from hangroom.product.forecast import AirPlanned, AirSeen, Question
from hangroom.product.humidity_plan import HumidityStep

DAY_H = 24
DAYS = 20
# Where a batch's natural hours must lie for a target to be chosen.
NATURAL_H = (80.0, 330.0)


@dataclass(frozen=True, kw_only=True)
class World:
    """Batches, their rooms and setpoints; what is wanted is added when the natural hours are known."""

    sticks: Batches
    rooms: Rooms
    told: list[Told]
    temperature_c: Floats
    humidity_pct: Floats
    targets_ratio: Floats


@dataclass(kw_only=True)
class Course:
    """One way of running all batches: setpoints by step, and all that was noted so far.

    `tags`: how many sticks of each are weighed.
    """

    world: World
    tags: int = 3
    scale_sd_g: float = 0.5
    wanted_pct: Floats = field(init=False)
    noted_g: list[Floats] = field(init=False)
    air: list[list[AirSeen]] = field(init=False)
    plans: list[list[AirPlanned]] = field(init=False)
    step: int = 0

    def __post_init__(self) -> None:
        world = self.world
        count = world.sticks.count
        self.hung = world.sticks.hang()
        self.wanted_pct = np.tile(world.humidity_pct, (DAYS * DAY_H * STEPS_PER_H, 1))
        self.noted_g = [1000.0 * self.hung.weight_kg]
        self.air = [[] for _ in range(count)]
        self.plans = [
            [
                AirPlanned(
                    from_h=0.0,
                    temperature_c=float(world.temperature_c[number]),
                    humidity_pct=float(world.humidity_pct[number]),
                )
            ]
            for number in range(count)
        ]

    @property
    def now_h(self) -> float:
        """Hours since hanging."""
        return self.step / STEPS_PER_H

    def a_day(self) -> None:
        """Dry for a day at the setpoints as they stand."""
        world = self.world
        steps = slice(self.step, self.step + DAY_H * STEPS_PER_H)
        true_c, true_pct = world.rooms.true_air(steps, world.temperature_c, self.wanted_pct[steps])
        for index in range(DAY_H * STEPS_PER_H):
            air = true_c[index], true_pct[index]
            world.sticks.dry(self.hung, world.rooms, step=self.step + index, air=air)
            if (index + 1) % SENT_EVERY_STEPS == 0:
                self.noted_g.append(1000.0 * self.hung.weight_kg)
        said_c, said_pct = world.rooms.sent(steps, true_c, true_pct)
        for number, so_far in enumerate(self.air):
            so_far.extend(seen_air(said_c[:, number], said_pct[:, number], from_h=self.now_h))
        self.step = steps.stop

    def arrivals_h(self) -> list[float | None]:
        """When each batch reached its target, None where it has not yet."""
        return self._arrive_h(self.world.sticks.green_kg.shape[1])

    def tags_arrive_h(self) -> list[float | None]:
        """When the weighed sticks alone reached it: nobody can know the others better."""
        return self._arrive_h(self.tags)

    def _arrive_h(self, sticks: int) -> list[float | None]:
        green_g = 1000.0 * self.world.sticks.green_kg[:, :sticks].sum(axis=1)
        yields = np.array(self.noted_g)[:, :, :sticks].sum(axis=2) / green_g
        return [
            crossing_h(yields[:, number], float(target_ratio))
            for number, target_ratio in enumerate(self.world.targets_ratio)
        ]

    def question(self, number: int, *, seed: int) -> Question:
        """Return what would be asked of a batch right after today's weigh-in."""
        world = self.world
        history = History(
            number=number,
            told=world.told[number],
            green_g=1000.0 * world.sticks.green_kg[number],
            weights_g=np.array(self.noted_g)[:, number],
            target_yield_ratio=float(world.targets_ratio[number]),
            arrives_h=0.0,
            plan=tuple(self.plans[number]),
            air=tuple(self.air[number]),
            looks_h=tuple(float(at_h) for at_h in range(DAY_H, round(self.now_h) + 1, DAY_H)),
        )
        return history.question(
            looks=len(history.looks_h), tags=self.tags, scale_sd_g=self.scale_sd_g, seed=seed
        )

    def follow(self, number: int, steps: tuple[HumidityStep, ...]) -> None:
        """Set a batch's setpoints as planned now."""
        plan = [planned for planned in self.plans[number] if planned.from_h < self.now_h]
        for each in steps:
            from_h = self.now_h + each.after_h
            self.wanted_pct[round(from_h * STEPS_PER_H) :, number] = each.humidity_pct
            plan.append(
                AirPlanned(
                    from_h=from_h,
                    temperature_c=float(self.world.temperature_c[number]),
                    humidity_pct=each.humidity_pct,
                )
            )
        self.plans[number] = plan


def made_world(seed: int, batches: int) -> World:
    """Draw batches whose natural hours lie in range, each with a target of its own."""
    rng = np.random.default_rng([seed, 7])
    sticks = made_batches(rng, batches)
    return World(
        sticks=sticks,
        rooms=made_rooms(rng, COOL, batches=batches, hours=DAYS * DAY_H),
        told=[told_of(rng, sticks, number) for number in range(batches)],
        temperature_c=np.round(rng.uniform(*COOL.temperature_c, batches), 1),
        humidity_pct=np.round(rng.uniform(*COOL.humidity_pct, batches), 0),
        targets_ratio=np.full(batches, np.nan),
    )


def set_targets(course: Course, seed: int) -> None:
    """Choose each batch's target so that the kept setpoint gets there in the usual hours."""
    rng = np.random.default_rng([seed, 8])
    green_g = 1000.0 * course.world.sticks.green_kg.sum(axis=1)
    yields = np.array(course.noted_g).sum(axis=2) / green_g
    for number in range(course.world.sticks.count):
        for _ in range(40):
            ratio = rng.uniform(*COOL.target_on_hung_ratio) * yields[0, number]
            natural_h = crossing_h(yields[:, number], ratio)
            if natural_h is not None and NATURAL_H[0] <= natural_h <= NATURAL_H[1]:
                course.world.targets_ratio[number] = round(ratio, 3)
                break
