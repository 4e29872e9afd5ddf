"""The mean over a compressor's cycle, against a plain mean of what was seen."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hangroom.control.cycle_mean import CYCLE_S, LONGEST_GAP_S, CycleMean, looked


def after(
    looks_pct: list[float], every_s: float, *, from_s: float = 500.0, mean: CycleMean | None = None
) -> CycleMean:
    """Return the mean after evenly spaced looks, the first of them at `from_s`."""
    for number, seen_pct in enumerate(looks_pct):
        mean = looked(mean, seen_pct=seen_pct, uptime_s=from_s + number * every_s)
    assert mean is not None
    return mean


@given(
    every_s=st.sampled_from([5.0, 10.0, 15.0, 20.0, 30.0, 60.0]),
    seed=st.integers(0, 2**32 - 1),
    minutes=st.integers(20, 30),
    further=st.integers(1, 12),
)
def test_it_is_the_plain_mean_of_the_last_20_whole_minutes(
    every_s: float, seed: int, minutes: int, further: int
) -> None:
    a_minute = round(60.0 / every_s)
    further = min(further, a_minute)  # looks in the minute under way
    looks_pct = np.random.default_rng(seed).uniform(0.0, 100.0, minutes * a_minute + further)
    whole_pct = looks_pct[(minutes - 20) * a_minute : minutes * a_minute]
    found = after(looks_pct.tolist(), every_s).humidity_pct
    assert found == pytest.approx(np.mean(whole_pct), abs=1e-9)


@given(
    gaps_s=st.lists(st.floats(0.5, 40.0), min_size=200, max_size=200),
    seed=st.integers(0, 2**32 - 1),
)
def test_each_minute_counts_the_same_however_often_it_was_looked_at(
    gaps_s: list[float], seed: int
) -> None:
    at_s = np.concatenate(([0.0], np.cumsum(gaps_s)))
    looks_pct = np.random.default_rng(seed).uniform(0.0, 100.0, at_s.size)
    # A minute begins with the first look at least 60 s after the last one began.
    starts = [0]
    while (next_look := int(np.searchsorted(at_s, at_s[starts[-1]] + 60.0))) < at_s.size:
        starts.append(next_look)
    minutes_pct = [float(np.mean(looks_pct[begins:ends])) for begins, ends in pairwise(starts)]
    wanted_pct = float(np.mean(minutes_pct[-20:])) if len(minutes_pct) >= 20 else None
    mean: CycleMean | None = None
    for uptime_s, seen_pct in zip(at_s, looks_pct, strict=True):
        mean = looked(mean, seen_pct=float(seen_pct), uptime_s=float(uptime_s))
    assert mean is not None
    if wanted_pct is None:
        assert mean.humidity_pct is None
    else:
        assert mean.humidity_pct == pytest.approx(wanted_pct, abs=1e-9)


def test_there_is_none_until_there_has_been_a_whole_cycle() -> None:
    looks = round(CYCLE_S / 2.0)
    short = after([75.0] * looks, 2.0)
    assert short.humidity_pct is None
    # The look that begins the next minute ends the last of the cycle, and counts for neither.
    whole = looked(short, seen_pct=90.0, uptime_s=500.0 + CYCLE_S)
    assert whole.humidity_pct == 75.0


@pytest.mark.parametrize("into_s", [0.0, 30.0, 60.0, 90.0, 600.0, 1198.0])
def test_it_tells_how_long_it_still_takes(into_s: float) -> None:
    looks = round(into_s / 2.0) + 1
    assert after([75.0] * looks, 2.0).left_s(500.0 + into_s) == CYCLE_S - into_s


def test_a_gap_of_more_than_five_minutes_starts_anew_and_a_shorter_one_does_not() -> None:
    assert LONGEST_GAP_S == 300.0
    whole = after([75.0] * 601, 2.0)
    last_s = whole.looked_uptime_s
    kept = looked(whole, seen_pct=60.0, uptime_s=last_s + LONGEST_GAP_S)
    assert kept.humidity_pct == 75.0
    anew = looked(whole, seen_pct=60.0, uptime_s=last_s + LONGEST_GAP_S + 1.0)
    assert anew.humidity_pct is None
    assert anew.left_s(last_s + LONGEST_GAP_S + 1.0) == CYCLE_S
    # Nothing of before is in what comes of it.
    later = after([60.0] * 601, 2.0, from_s=last_s + LONGEST_GAP_S + 3.0, mean=anew)
    assert later.humidity_pct == 60.0
