"""A million decisions under random faults, watched by a witness who knows nothing of the rules.

    python tests/bench/random_faults.py [--steps 1000000] [--seed 1]

Every history is a room of its own: random limits, relays, sensors; air that wanders and leaps;
readings that stop, repeat, lie, come late or from the future; setpoints, stages and overrides that
change; restarts with the memory kept, at once or hours later. What the witness finds wrong is
printed with the seed of its history. Goal: nothing.
"""

import argparse
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from math import nan
from random import Random
from time import monotonic

from hangroom.control.memory import RoomState, starting_state
from hangroom.control.room import decide
from hangroom.control.snapshot import restored, snapshot, stamped
from hangroom.simulation.witness import Witness
from hangroom.terms import (
    LONGEST_OVERRIDE_S,
    AirReading,
    HumidityTarget,
    Override,
    RelayKind,
    RelayRules,
    RoomPlan,
    Stage,
    TemperatureTarget,
)

START = datetime(2026, 11, 1, tzinfo=UTC)
STEPS_OF_A_HISTORY = 4000
# What failing sensors of this kind are known to report.
BAD_VALUES = ((0.0, 0.0), (12.0, 99.9), (25.5, 25.5), (-3276.6, 60.0), (nan, 60.0), (12.0, nan))


def rules(chance: Random) -> RelayRules:
    return RelayRules(
        min_on_s=chance.choice([0.0, 2.0, 30.0, 180.0]),
        min_off_s=chance.choice([0.0, 10.0, 60.0, 300.0]),
        max_run_s=chance.choice([None, 200.0, 1200.0]),
        max_starts_per_h=chance.choice([None, 6, 20]),
        max_on_s_per_h=chance.choice([None, 900.0, 2880.0]),
        lockout_s=chance.choice([300.0, 1200.0]),
    )


def room(chance: Random) -> RoomPlan:
    relays = {kind: rules(chance) for kind in RelayKind if chance.random() < 0.8}
    return RoomPlan(
        name="closet",
        stage=chance.choice(list(Stage)),
        humidity=HumidityTarget(
            setpoint_pct=chance.choice([62.0, 75.0, 85.0]),
            band_pct=chance.choice([1.0, 2.0, 3.0]),
            low_limit_pct=50.0,
            high_limit_pct=92.0,
        ),
        temperature=TemperatureTarget(
            setpoint_c=chance.choice([4.0, 13.0]), band_c=1.0, low_limit_c=-2.0, high_limit_c=30.0
        ),
        relays=relays or {RelayKind.HUMIDIFIER: rules(chance)},
        settle_s=chance.choice([0.0, 30.0, 120.0]),
    )


def wanders(
    value: float, *, low: float, high: float, step: float, wild_ratio: float, chance: Random
) -> float:
    """Return the next of a walk between two bounds, all in one unit, that leaps now and then."""
    if chance.random() < 0.002 * wild_ratio:
        return chance.uniform(low, high)
    return min(high, max(low, value + chance.gauss(0.0, step)))


def measured(
    before: AirReading | None,
    air: tuple[float, float],
    uptime_s: float,
    wild_ratio: float,
    chance: Random,
) -> AirReading | None:
    """Return a sensor's newest reading after a tick: a new one, the old one, or nonsense."""
    dice = chance.random()
    if dice < 0.6:
        return before
    late_s = chance.choice([0.0, 0.25, 1.0])
    bad_from = 1.0 - 0.005 * wild_ratio
    if dice > bad_from:
        late_s = chance.choice([25.0, -60.0, 0.0])
    taken_s = uptime_s - late_s
    temperature_c, humidity_pct = chance.choice(BAD_VALUES) if dice > bad_from else air
    return AirReading(
        taken_at=START + timedelta(seconds=taken_s),
        taken_uptime_s=taken_s,
        temperature_c=round(temperature_c, 1),
        humidity_pct=round(humidity_pct, 1),
    )


def changed(plan: RoomPlan, uptime_s: float, chance: Random) -> RoomPlan:
    """Return the plan after what a person may ask for at this tick."""
    dice = chance.random()
    if dice < 0.001:
        return replace(plan, stage=chance.choice(list(Stage)))
    if dice < 0.002 and plan.humidity:
        setpoint_pct = chance.choice([62.0, 75.0, 85.0])
        return replace(plan, humidity=replace(plan.humidity, setpoint_pct=setpoint_pct))
    if dice < 0.005:
        relay = chance.choice(list(plan.relays))
        override = Override(
            closed=chance.random() < 0.7,
            ends_uptime_s=uptime_s + chance.uniform(0.0, LONGEST_OVERRIDE_S[relay]),
            by="seed",
            why="to see",
        )
        return replace(plan, overrides={**plan.overrides, relay: override})
    if dice < 0.0055:
        return replace(plan, lockouts_lifted_uptime_s=uptime_s)
    return plan


def started_again(state: RoomState, plan: RoomPlan, uptime_s: float, off_s: float) -> RoomState:
    kept = stamped(snapshot(state, uptime_s=uptime_s), boot_id="boot", now=START, uptime_s=uptime_s)
    again, fault = restored(kept, plan, gap_s=off_s, uptime_s=uptime_s + off_s)
    assert fault is None, fault
    return again


def history(seed: int, steps: int) -> Iterator[tuple[int, str]]:
    """Live one room and yield what the witness finds wrong, with the step it was found at."""
    chance = Random(seed)
    plan = room(chance)
    uptime_s = chance.choice([0.0, 86_400.0])
    state = starting_state(plan, uptime_s=uptime_s)
    witness = Witness(plan)
    # Some rooms are calm, so that a rule is not always excused by a fault; some are wild.
    wild_ratio = chance.choice([0.0, 0.1, 1.0, 5.0])
    air = (13.0, 75.0)
    newest: dict[str, AirReading | None] = dict.fromkeys("abc"[: chance.randint(1, 3)])
    for step in range(steps):
        gap = chance.random() < 0.01 * wild_ratio
        uptime_s += chance.choice([4.0, 31.0, 130.0, 900.0]) if gap else 2.0
        if chance.random() < 0.0005:
            witness.look(
                dict.fromkeys(plan.relays, False),
                list(newest.values()),
                uptime_s=uptime_s,
                running=False,
            )
            off_s = chance.choice([5.0, 60.0, 7200.0])
            state = started_again(state, plan, uptime_s, off_s)
            uptime_s += off_s
            newest = dict.fromkeys(newest)
        plan = changed(plan, uptime_s, chance)
        air = (
            wanders(air[0], low=-8.0, high=45.0, step=0.1, wild_ratio=wild_ratio, chance=chance),
            wanders(air[1], low=30.0, high=99.0, step=1.0, wild_ratio=wild_ratio, chance=chance),
        )
        newest = {
            name: measured(before, air, uptime_s, wild_ratio, chance)
            for name, before in newest.items()
        }
        decision = decide(state, plan, newest, uptime_s=uptime_s)
        state = decision.state
        closed = {command.relay: command.closed for command in decision.commands}
        # A stage that a person begins may cut a run short; the witness knows of no stages.
        forbidden = {
            f"{command.relay} off before its shortest run was over"
            for command in decision.commands
            if command.because.code == "stage-forbids"
        }
        for wrong in witness.look(closed, list(newest.values()), uptime_s=uptime_s):
            if wrong not in forbidden:
                yield step, wrong


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--steps", type=int, default=1_000_000)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    found: Counter[str] = Counter()
    began_s = monotonic()
    histories = -(-given.steps // STEPS_OF_A_HISTORY)
    for number in range(histories):
        seed = given.seed + number
        for step, wrong in history(seed, STEPS_OF_A_HISTORY):
            if not found[wrong]:
                print(f"seed {seed}, step {step}: {wrong}")
            found[wrong] += 1
        if sys.stderr.isatty():
            print(f"\r{100 * (number + 1) // histories:3d} %", end="", file=sys.stderr, flush=True)
    done = histories * STEPS_OF_A_HISTORY
    print(f"{done} random steps in {histories} rooms, {monotonic() - began_s:.0f} s")
    for wrong, times in found.most_common():
        print(f"  {times:6d}  {wrong}")
    print(f"unsafe states: {sum(found.values())}, goal 0")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
