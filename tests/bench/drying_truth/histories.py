"""Batches dried to the end under a plan, and what hands and sensors would have noted on the way."""

from dataclasses import dataclass

import numpy as np
from bench.drying_truth.batches import STICKS, Batches, made_batches
from bench.drying_truth.meat import Floats
from bench.drying_truth.regimes import Regime
from bench.drying_truth.rooms import SENT_EVERY_STEPS, STEPS_PER_H, Rooms, made_rooms

from hangroom.product.forecast import AirPlanned, AirSeen, Question, TaggedStick, Weighing

NOTED_EVERY_H = SENT_EVERY_STEPS / STEPS_PER_H
# Of candidates, so many more are dried than wanted; some get to no target within the hours.
SPARE_RATIO = 1.5
TARGETS_TRIED = 20
GAP_SHARE = 1.0 / 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What the keeper says of a batch before it hangs."""

    water_fraction: float
    diameter_mm: float
    diameter_measured: bool
    water_phase_salt_pct: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """One batch. `yields` (noted moment, stick) on green weight, every half hour from hanging."""

    number: int
    told: Told
    green_g: Floats
    weights_g: Floats
    target_yield_ratio: float
    arrives_h: float
    plan: tuple[AirPlanned, ...]
    air: tuple[AirSeen, ...]
    looks_h: tuple[float, ...]

    def weight_g(self, stick: int, at_h: float) -> float:
        """Return a stick's true weight."""
        noted_h = np.arange(len(self.weights_g)) * NOTED_EVERY_H
        return float(np.interp(at_h, noted_h, self.weights_g[:, stick]))

    def question(self, *, looks: int, tags: int, scale_sd_g: float, seed: int) -> Question:
        """Return what would be asked right after so many looks, with a scale's own errors."""
        rng = np.random.default_rng([seed, self.number, round(1000 * scale_sd_g)])

        def shown_g(weight_g: float) -> float:
            return round(weight_g + rng.normal(0.0, scale_sd_g), 1)

        tagged = tuple(
            TaggedStick(
                tag=f"T{stick}",
                green_weight_g=shown_g(self.green_g[stick]),
                hang_weight_g=shown_g(self.weights_g[0, stick]),
            )
            for stick in range(tags)
        )
        weighings = tuple(
            Weighing(at_h=at_h, tag=f"T{stick}", weight_g=shown_g(self.weight_g(stick, at_h)))
            for at_h in self.looks_h[:looks]
            for stick in range(tags)
        )
        now_h = self.looks_h[looks - 1] if looks else 0.0
        return Question(
            tagged=tagged,
            sticks_in_group=STICKS,
            target_yield_ratio=self.target_yield_ratio,
            water_fraction=self.told.water_fraction,
            diameter_mm=self.told.diameter_mm,
            diameter_measured=self.told.diameter_measured,
            scale_sd_g=scale_sd_g,
            now_h=now_h,
            air=tuple(seen for seen in self.air if seen.at_h <= now_h),
            plan=self.plan,
            weighings=weighings,
            water_phase_salt_pct=self.told.water_phase_salt_pct,
        )


def histories(*, regime: Regime, stepped: bool, seed: int, batches: int) -> list[History]:
    """Return so many batches that arrive in the regime's hours; with a step, after it."""
    rng = np.random.default_rng([seed, ord(regime.name[0]), int(stepped)])
    count = round(SPARE_RATIO * batches) + 4
    hours = regime.arrives_h[1] + 4.0
    sticks = made_batches(rng, count)
    rooms = made_rooms(rng, regime, batches=count, hours=hours)
    plans = [_plan(rng, regime, stepped=stepped) for _ in range(count)]
    weights_g, air = _dried(sticks, rooms, plans, hours=hours)
    found = []
    for number in range(count):
        told = told_of(rng, sticks, number)
        green_g = 1000.0 * sticks.green_kg[number]
        looks_h = _looks_h(rng, regime)
        after_h = plans[number][-1].from_h + 6.0 if stepped else 0.0
        yields = weights_g[:, number].sum(axis=1) / green_g.sum()
        for _ in range(TARGETS_TRIED):
            target_ratio = round(rng.uniform(*regime.target_on_hung_ratio) * yields[0], 3)
            arrives_h = crossing_h(yields, target_ratio)
            if arrives_h is None:
                continue
            if max(regime.arrives_h[0], after_h) <= arrives_h <= regime.arrives_h[1]:
                found.append(
                    History(
                        number=number,
                        told=told,
                        green_g=green_g,
                        weights_g=weights_g[:, number],
                        target_yield_ratio=target_ratio,
                        arrives_h=arrives_h,
                        plan=plans[number],
                        air=_with_a_gap(rng, air[number]),
                        looks_h=looks_h,
                    )
                )
                break
    if len(found) < batches:
        raise RuntimeError(f"only {len(found)} of {count} batches arrive in time; raise the spare")
    return found[:batches]


def crossing_h(yields: Floats, target_ratio: float) -> float | None:
    """Return when a group's yield first falls to a target, between two noted moments."""
    below = np.flatnonzero(yields <= target_ratio)
    if not len(below):
        return None
    after = int(below[0])
    if after == 0:
        return 0.0
    share = (yields[after - 1] - target_ratio) / (yields[after - 1] - yields[after])
    return float((after - 1 + share) * NOTED_EVERY_H)


def told_of(rng: np.random.Generator, sticks: Batches, number: int) -> Told:
    """Return what the keeper knows: the recipe's water to 6 %, a caliper or only the casing."""
    meat = sticks.meat
    hung_ratio = float(meat.hung_ratio[number, 0])
    told_ratio = hung_ratio * np.exp(rng.normal(0.0, 0.06))
    mean_mm = float(sticks.diameter_mm[number].mean())
    measured = bool(rng.uniform() < 0.7)
    diameter_mm = (
        mean_mm + rng.normal(0.0, 0.15) if measured else mean_mm * np.exp(rng.normal(0.0, 0.06))
    )
    salt_ratio = float(meat.salt_ratio[number, 0]) * np.exp(rng.normal(0.0, 0.05))
    salt_pct = 100.0 * salt_ratio / (salt_ratio + told_ratio)
    return Told(
        water_fraction=round(told_ratio / (1.0 + told_ratio), 3),
        diameter_mm=round(diameter_mm, 1),
        diameter_measured=measured,
        water_phase_salt_pct=round(salt_pct, 2) if rng.uniform() < 0.5 else None,
    )


def _plan(rng: np.random.Generator, regime: Regime, *, stepped: bool) -> tuple[AirPlanned, ...]:
    temperature_c = round(rng.uniform(*regime.temperature_c), 1)
    humidity_pct = round(rng.uniform(*regime.humidity_pct), 0)
    plan = [AirPlanned(from_h=0.0, temperature_c=temperature_c, humidity_pct=humidity_pct)]
    if stepped:
        sign = rng.choice([-1.0, 1.0], 2)
        plan.append(
            AirPlanned(
                from_h=round(rng.uniform(*regime.step_at_h), 0),
                temperature_c=round(
                    temperature_c + float(sign[0]) * rng.uniform(*regime.step_temperature_c), 1
                ),
                humidity_pct=round(
                    humidity_pct + float(sign[1]) * rng.uniform(*regime.step_humidity_pct), 0
                ),
            )
        )
    return tuple(plan)


def _with_a_gap(rng: np.random.Generator, air: tuple[AirSeen, ...]) -> tuple[AirSeen, ...]:
    """Lose three to ten hours of air, in one batch of six."""
    if rng.uniform() > GAP_SHARE:
        return air
    from_h = rng.uniform(0.0, 0.5 * air[-1].at_h)
    to_h = from_h + rng.uniform(3.0, 10.0)
    return tuple(seen for seen in air if not from_h <= seen.at_h < to_h)


def _looks_h(rng: np.random.Generator, regime: Regime) -> tuple[float, ...]:
    looks_h, at_h = [], rng.uniform(*regime.first_look_h)
    while at_h < regime.arrives_h[1]:
        looks_h.append(round(at_h, 2))
        at_h += rng.uniform(*regime.look_every_h)
    return tuple(looks_h)


def _dried(
    sticks: Batches, rooms: Rooms, plans: list[tuple[AirPlanned, ...]], *, hours: float
) -> tuple[Floats, list[tuple[AirSeen, ...]]]:
    """Return weights (noted moment, batch, stick) in g and what each sensor said."""
    steps = round(hours * STEPS_PER_H)
    at_h = (np.arange(steps) + 0.5) / STEPS_PER_H
    wanted_c, wanted_pct = (np.empty((steps, sticks.count)) for _ in range(2))
    for number, plan in enumerate(plans):
        for planned in plan:
            wanted_c[at_h >= planned.from_h, number] = planned.temperature_c
            wanted_pct[at_h >= planned.from_h, number] = planned.humidity_pct
    everything = slice(0, steps)
    true_c, true_pct = rooms.true_air(everything, wanted_c, wanted_pct)
    hung = sticks.hang()
    noted = [1000.0 * hung.weight_kg]
    for step in range(steps):
        sticks.dry(hung, rooms, step=step, air=(true_c[step], true_pct[step]))
        if (step + 1) % SENT_EVERY_STEPS == 0:
            noted.append(1000.0 * hung.weight_kg)
    said_c, said_pct = rooms.sent(everything, true_c, true_pct)
    return np.array(noted), [
        seen_air(said_c[:, number], said_pct[:, number], from_h=0.0)
        for number in range(sticks.count)
    ]


def seen_air(said_c: Floats, said_pct: Floats, *, from_h: float) -> tuple[AirSeen, ...]:
    """Return half-hour means as readings at the middle of each."""
    return tuple(
        AirSeen(
            at_h=from_h + (index + 0.5) * NOTED_EVERY_H,
            temperature_c=float(temperature_c),
            humidity_pct=float(humidity_pct),
        )
        for index, (temperature_c, humidity_pct) in enumerate(zip(said_c, said_pct, strict=True))
    )
