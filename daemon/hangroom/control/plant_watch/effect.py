"""What the runs of a humidifier or an exhaust fan do to the water in the air, learned and judged.

A run is looked at from just before it began until it has spread, and held against what runs in this
room have done before, gram for second. So a small dose is not taken for a failed one, and neither
the size of the room, nor its leaks, nor the appliance need be known. What a room does by itself is
much the same each time, as a controller starts its runs at much the same humidity; only where it
moves fast is its slope before the run drawn on under it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import copysign, inf
from statistics import fmean

from hangroom.control.plant_watch.trace import Sample, Trace, between, one_pct_g_per_m3

# A longer run is looked at after so much of it, and if it does nothing, after as much again; not
# at its end.
LONGEST_LOOK_S = 130.0
# A run that goes on so soon after it ended is the same one.
SAME_RUN_S = 40.0
# Before any run has worked there is nothing to hold one against; then it should do so much, %RH.
UNLEARNED_PCT = 1.7
# How far back the air before a run is taken from, and how many samples make a level and a slope.
BEFORE_S = 45.0
LEAST_FOR_A_LEVEL = 2
LEAST_FOR_A_TREND = 4

# What the room would do by itself: its slope before the run, as far as it exceeds this, which may
# be the sensor's noise; drawn on for no longer than the second, as the air nears what pulls at it.
LEAST_TREND_PCT_PER_S = 0.03
TREND_LASTS_S = 90.0

# %RH. A run that should do less than the first tells nothing; one that does as much as the second
# never failed, whatever was to be expected, and as much as the third it worked.
TELLING_PCT = 0.8
SOMETHING_PCT = 0.7
ENOUGH_PCT = 2.5
# Shares of what was to be expected: below the first a run failed, from the second on it worked.
FAILED_RATIO = 0.3
WORKED_RATIO = 0.5
# So many failed runs one after the other make a finding; not where hours lie between them, and
# each may have met another opened door.
FAILURES = 3
FAILURES_WITHIN_S = 7200.0
# How much one run teaches: more where it did less than was thought. What a room does by itself, as
# when it comes up to its setpoint after a start, must not be expected of the appliance for long.
LEARNING_UP_RATIO, LEARNING_DOWN_RATIO = 0.2, 0.4


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One run under way or just over.

    `before_g_per_m3`, `trend_g_per_m3_per_s`: vapour just before, and where it went. `goes_on`: the
    air had no time to come back from the run before, so that a run as good as any may show little.
    `stretch_uptime_s`: since when it has run without a pause; `ran_s`: how long before that.
    `ended_uptime_s`: None while it runs. `looks`: how often it was looked at while it ran.
    """

    began_uptime_s: float
    before_g_per_m3: float
    trend_g_per_m3_per_s: float
    goes_on: bool
    stretch_uptime_s: float
    ran_s: float = 0.0
    ended_uptime_s: float | None = None
    looks: int = 0

    def on_s(self, uptime_s: float) -> float:
        """How long it has run by now."""
        running_s = uptime_s - self.stretch_uptime_s if self.ended_uptime_s is None else 0.0
        return self.ran_s + running_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """What is known of a relay's runs.

    `gain_g_per_m3_per_s`: what a second of running moves, in its own direction; None before a run
    has worked. `difference_g_per_m3`: how much drier it was outside when that was learned, None
    where that was not known. `failures`: runs that failed one after the other, of `failed_s`
    together, the last at `failed_uptime_s`. `moved_pct`, `expected_pct`: of the newest run that
    told anything, in %RH at the room's temperature.
    """

    gain_g_per_m3_per_s: float | None = None
    difference_g_per_m3: float | None = None
    worked_uptime_s: float = -inf
    failures: int = 0
    failed_s: float = 0.0
    failed_uptime_s: float = -inf
    moved_pct: float | None = None
    expected_pct: float | None = None


def begun(trace: Trace, *, goes_on: bool, uptime_s: float) -> Run | None:
    """Return a run that begins now, or None where the air before it is not known."""
    samples = between(trace, uptime_s - BEFORE_S, uptime_s)
    before_g_per_m3 = _level_g_per_m3(samples)
    if before_g_per_m3 is None:
        return None
    return Run(
        began_uptime_s=uptime_s,
        before_g_per_m3=before_g_per_m3,
        trend_g_per_m3_per_s=_trend_g_per_m3_per_s(samples),
        goes_on=goes_on,
        stretch_uptime_s=uptime_s,
    )


def _level_g_per_m3(samples: Sequence[Sample]) -> float | None:
    if len(samples) < LEAST_FOR_A_LEVEL:
        return None
    return fmean([sample.vapour_g_per_m3 for sample in samples])


def _trend_g_per_m3_per_s(samples: Sequence[Sample]) -> float:
    """Return the slope by least squares, less what may be noise; 0 of too few samples."""
    if len(samples) < LEAST_FOR_A_TREND:
        return 0.0
    middle_s = fmean([s.uptime_s for s in samples])
    away_s = [s.uptime_s - middle_s for s in samples]
    moments = sum(x * s.vapour_g_per_m3 for x, s in zip(away_s, samples, strict=True))
    slope = moments / sum(x * x for x in away_s)
    noise = LEAST_TREND_PCT_PER_S * one_pct_g_per_m3(samples[-1].temperature_c)
    return copysign(max(0.0, abs(slope) - noise), slope)


def after_switching(run: Run, *, closed: bool, uptime_s: float) -> Run:
    """Return the run after its relay was switched: ended, or gone on with."""
    if closed:
        return replace(run, stretch_uptime_s=uptime_s, ended_uptime_s=None)
    return replace(run, ran_s=run.on_s(uptime_s), ended_uptime_s=uptime_s)


def is_due(run: Run, *, closed: bool, spread_by_s: float, uptime_s: float) -> bool:
    """Whether a run can be looked at: it has spread, or runs for long, or the next one begins."""
    if run.ended_uptime_s is None:
        return run.on_s(uptime_s) >= LONGEST_LOOK_S * (run.looks + 1)
    since_s = uptime_s - run.ended_uptime_s
    return since_s >= spread_by_s or (closed and since_s >= SAME_RUN_S)


def rise_g_per_m3(
    run: Run, trace: Trace, *, spread_s: tuple[float, float], uptime_s: float
) -> float | None:
    """Return how much more water is in the air after a run than before, g/m3; None: unknown.

    `spread_s`: from and to how long after its end it shows.
    """
    ended_s = run.ended_uptime_s
    if ended_s is None:
        samples = between(trace, uptime_s - BEFORE_S, uptime_s)
    else:
        samples = between(trace, ended_s + spread_s[0], ended_s + spread_s[1])
    after_g_per_m3 = _level_g_per_m3(samples)
    if after_g_per_m3 is None:
        return None
    passed_s = min(TREND_LASTS_S, fmean([s.uptime_s for s in samples]) - run.began_uptime_s)
    return after_g_per_m3 - run.before_g_per_m3 - run.trend_g_per_m3_per_s * passed_s


def after_a_run(
    effect: Effect,
    *,
    moved_pct: float,
    expected_pct: float,
    on_s: float,
    one_pct_g_per_m3: float,
    uptime_s: float,
    difference_g_per_m3: float | None = None,
) -> Effect:
    """Return what is known after one more run: it worked, failed, did something or told nothing.

    Any but a failed one teaches what a second of running does. `on_s`: how long it ran.
    """
    telling = expected_pct >= TELLING_PCT
    worked = moved_pct >= ENOUGH_PCT or (telling and moved_pct >= WORKED_RATIO * expected_pct)
    if not telling and moved_pct < SOMETHING_PCT:
        return effect
    told = replace(effect, moved_pct=moved_pct, expected_pct=expected_pct)
    if moved_pct < min(SOMETHING_PCT, FAILED_RATIO * expected_pct):
        apart = uptime_s - effect.failed_uptime_s > FAILURES_WITHIN_S
        alone = effect.failures < FAILURES and apart
        return replace(
            told,
            failures=1 if alone else effect.failures + 1,
            failed_s=on_s if alone else effect.failed_s + on_s,
            failed_uptime_s=uptime_s,
        )
    per_s = moved_pct * one_pct_g_per_m3 / on_s
    gain = effect.gain_g_per_m3_per_s
    if gain is None:
        gain = per_s
    else:
        learning_ratio = LEARNING_UP_RATIO if per_s > gain else LEARNING_DOWN_RATIO
        gain += learning_ratio * (per_s - gain)
    return replace(
        told,
        gain_g_per_m3_per_s=gain,
        difference_g_per_m3=difference_g_per_m3,
        worked_uptime_s=uptime_s if worked else effect.worked_uptime_s,
        failures=0 if worked else effect.failures,
        failed_s=0.0 if worked else effect.failed_s,
    )
