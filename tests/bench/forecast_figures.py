"""Forecasts beside a straight line and an exponential, on batches from another model.

    python tests/bench/forecast_figures.py [--batches 80] [--seed 101] [--regime cool|room|both]
                                           [--jobs 2]

The batches are dried by the shell model of `hangroom.simulation` under made-up air (see
`drying_truth`), with much that the forecaster has no word for: sorption of another shape,
diffusion that falls, casings that close, sticks that touch, biased sensors, a humid start, fans,
compressors, doors. Seeds 5 and 6 are for tuning; every other seed is for reporting only.

n: weigh-ins so far. left: hours that were left, median. cov: how often the 80 % interval held the
true hour; below, above: how often it lay outside on either side. med, p90: error of the middle in
hours; rel: median error in % of the hours that were left; width: median width of the interval. An
answer "never" counts as an endless error. Line: through the last two weigh-ins. Exp: least squares
through all. better: how often the line was nearer than the forecast. The goals stand at the end,
each with what was found; those in hours were set for cool batches, and are easy in a warm room.
"""

import argparse
import os
import sys
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from itertools import product
from math import ceil, inf, isinf
from pathlib import Path
from statistics import median

# One thread for each job: more would fight for the same cores.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).parents[1]))

from bench.drying_truth.histories import History, histories
from bench.drying_truth.regimes import REGIMES
from bench.drying_truth.rivals import exponential_h, straight_line_h

from hangroom.forecast import forecast

MOST_LOOKS = 3
# A group that is all but there needs no forecast.
LEAST_LEFT_H = 1.0
# Plan with a step or without, tags, standard deviation of the scale in g.
CELLS = ((False, 3, 0.5), (False, 3, 0.1), (True, 3, 0.5), (True, 6, 0.1))
GOAL_COVER = (0.72, 0.92)
GOAL_P90_H = (48.0, 36.0, 36.0)
# Before anything was weighed: coverage at least, median error in % of the hours at most.
GOAL_UNWEIGHED = (0.75, 25.0)
GOAL_SHARE_OF_LINE, GOAL_SHARE_OF_RIVAL = 0.7, 0.5
GOAL_MEDIAN_H = {0.5: (12.0, 10.0, 8.0), 0.1: (9.0, 7.0, 6.0)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One forecast and what its rivals say; hours from now, endless where never."""

    looks: int
    step_ahead: bool
    left_h: float
    low_h: float
    middle_h: float
    high_h: float
    line_h: float
    exponential_h: float
    ms: float


def hours_or_never(at_h: float | None, now_h: float) -> float:
    return inf if at_h is None else at_h - now_h


def cases_of(task: tuple[History, int, float, int]) -> list[Case]:
    history, tags, scale_sd_g, seed = task
    cases = []
    for looks in range(MOST_LOOKS + 1):
        question = history.question(looks=looks, tags=tags, scale_sd_g=scale_sd_g, seed=seed)
        now_h = question.now_h
        if history.arrives_h - now_h < LEAST_LEFT_H:
            break
        answer = forecast(question)
        cases.append(
            Case(
                looks=looks,
                step_ahead=question.plan[-1].from_h > now_h,
                left_h=history.arrives_h - now_h,
                low_h=hours_or_never(answer.p10_h, now_h),
                middle_h=hours_or_never(answer.p50_h, now_h),
                high_h=hours_or_never(answer.p90_h, now_h),
                line_h=hours_or_never(straight_line_h(question), now_h),
                exponential_h=hours_or_never(exponential_h(question), now_h),
                ms=answer.ms,
            )
        )
    return cases


def quantile(values: Iterable[float], share: float) -> float:
    """Return the value that so many do not exceed; an endless one stays what it is."""
    ordered = sorted(values)
    return ordered[max(0, ceil(share * len(ordered)) - 1)]


def errors(cases: Sequence[Case], name: str) -> list[float]:
    return [abs(getattr(case, name) - case.left_h) for case in cases]


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """Figures of one cell after so many weigh-ins."""

    looks: int
    cases: int
    left_h: float
    cover: float
    below: float
    above: float
    median_h: float
    p90_h: float
    relative_pct: float
    width_h: float
    line_h: float
    line_p90_h: float
    line_relative_pct: float
    line_better: float
    exponential_h: float
    exponential_p90_h: float
    exponential_answers: int
    ms: float


def row(looks: int, cases: Sequence[Case]) -> Row:
    count = len(cases)
    below = sum(case.left_h < case.low_h for case in cases) / count
    above = sum(case.left_h > case.high_h for case in cases) / count
    mine, line, exponential = (
        errors(cases, name) for name in ("middle_h", "line_h", "exponential_h")
    )
    return Row(
        looks=looks,
        cases=count,
        left_h=quantile((case.left_h for case in cases), 0.5),
        cover=1.0 - below - above,
        below=below,
        above=above,
        median_h=quantile(mine, 0.5),
        p90_h=quantile(mine, 0.9),
        relative_pct=100.0
        * quantile((e / c.left_h for e, c in zip(mine, cases, strict=True)), 0.5),
        width_h=quantile((case.high_h - case.low_h for case in cases), 0.5),
        line_h=quantile(line, 0.5),
        line_p90_h=quantile(line, 0.9),
        line_relative_pct=100.0
        * quantile((e / c.left_h for e, c in zip(line, cases, strict=True)), 0.5),
        line_better=sum(b < a for a, b in zip(mine, line, strict=True)) / count,
        exponential_h=quantile(exponential, 0.5),
        exponential_p90_h=quantile(exponential, 0.9),
        exponential_answers=sum(not isinf(case.exponential_h) for case in cases),
        ms=median(case.ms for case in cases),
    )


def rows_of(cases: Sequence[Case]) -> list[Row]:
    return [
        row(looks, these)
        for looks in range(MOST_LOOKS + 1)
        if (these := [case for case in cases if case.looks == looks])
    ]


HEAD = (
    " n cases  left   cov below above |   med    p90  rel%  width |  line    p90  rel% better |"
    "   exp    p90 answers |  ms"
)


def say(value: float, width: int = 6) -> str:
    return f"{'-':>{width}}" if isinf(value) else f"{value:{width}.1f}"


def printed(row: Row) -> str:
    line = (
        f"{say(row.line_h)} {say(row.line_p90_h)} {say(row.line_relative_pct, 5)}"
        f" {row.line_better:6.2f}"
        if row.looks >= 1
        else " " * 26
    )
    exponential = (
        f"{say(row.exponential_h)} {say(row.exponential_p90_h)} {row.exponential_answers:7}"
        if row.looks > 1
        else " " * 21
    )
    return (
        f" {row.looks} {row.cases:5} {say(row.left_h, 5)} {row.cover:5.2f} {row.below:5.2f} {row.above:5.2f} |"
        f"{say(row.median_h)} {say(row.p90_h)} {row.relative_pct:5.1f} {say(row.width_h)} |"
        f"{line} |{exponential} |{row.ms:4.0f}"
    )


def goal(what: str, found: float, *, met: bool, wanted: str) -> str:
    return f"  {'met    ' if met else 'NOT MET'}  {what} {found:.3g}, goal {wanted}"


def goals(cell: str, rows: Sequence[Row], *, scale_sd_g: float) -> Iterator[str]:
    low, high = GOAL_COVER
    unweighed, (least, most) = rows[0], GOAL_UNWEIGHED
    name = f"{cell}: n 0"
    met = unweighed.cover >= least
    yield goal(f"{name} coverage", unweighed.cover, met=met, wanted=f"at least {least}")
    met = unweighed.relative_pct <= most
    yield goal(f"{name} median error %", unweighed.relative_pct, met=met, wanted=f"{most:g}")
    for row in rows[1:]:
        name = f"{cell}: n {row.looks}"
        met = low <= row.cover <= high
        yield goal(f"{name} coverage", row.cover, met=met, wanted=f"{low} to {high}")
        wanted_h = GOAL_MEDIAN_H[scale_sd_g][row.looks - 1]
        met = row.median_h <= wanted_h
        yield goal(f"{name} median error h", row.median_h, met=met, wanted=f"{wanted_h:g}")
        wanted_h = GOAL_P90_H[row.looks - 1]
        yield goal(
            f"{name} p90 error h", row.p90_h, met=row.p90_h <= wanted_h, wanted=f"{wanted_h:g}"
        )
        if row.looks > 1:
            share, wanted = row.median_h / row.line_h, GOAL_SHARE_OF_LINE
            met = share <= wanted
            yield goal(f"{name} error over that of the line", share, met=met, wanted=f"{wanted}")


def step_goals(cell: str, rows: Sequence[Row]) -> Iterator[str]:
    for row in rows[1:]:
        rivals_h = {"line": row.line_h}
        if row.looks > 1:
            rivals_h["exponential"] = row.exponential_h
        for rival, rival_h in rivals_h.items():
            share = row.median_h / rival_h
            met = share <= GOAL_SHARE_OF_RIVAL
            name = f"{cell}, ahead: n {row.looks} error over that of the {rival}"
            yield goal(name, share, met=met, wanted=f"{GOAL_SHARE_OF_RIVAL}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--batches", type=int, default=80)
    parser.add_argument("--seed", type=int, default=101)
    parser.add_argument("--regime", choices=[*REGIMES, "both"], default="both")
    parser.add_argument("--jobs", type=int, default=2)
    given = parser.parse_args()
    names = list(REGIMES) if given.regime == "both" else [given.regime]
    ends: list[str] = []
    with ProcessPoolExecutor(given.jobs) as pool:
        made: dict[tuple[str, bool], list[History]] = {}
        for name, (stepped, tags, scale_sd_g) in product(names, CELLS):
            title = (
                f"{name}, {'planned step' if stepped else 'steady plan'}, {tags} tags,"
                f" {scale_sd_g} g"
            )
            if sys.stderr.isatty():
                print(title, "...", file=sys.stderr)
            if (name, stepped) not in made:
                made[name, stepped] = histories(
                    regime=REGIMES[name], stepped=stepped, seed=given.seed, batches=given.batches
                )
            tasks = [(each, tags, scale_sd_g, given.seed) for each in made[name, stepped]]
            cases = [case for found in pool.map(cases_of, tasks, chunksize=4) for case in found]
            rows = rows_of(cases)
            print(f"\n{title}: {len(tasks)} batches, seed {given.seed}\n{HEAD}")
            for each in rows:
                print(printed(each), flush=True)
            ends += goals(title, rows, scale_sd_g=scale_sd_g)
            if stepped:
                ahead = rows_of([case for case in cases if case.step_ahead])
                print("   of these, asked while the step was still ahead")
                for each in ahead:
                    print(printed(each), flush=True)
                ends += step_goals(title, ahead)
    print("\nAgainst the goals")
    print("\n".join(ends))


if __name__ == "__main__":
    main()
