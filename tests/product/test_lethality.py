"""Integrated lethality against a published worked example."""

import math

import pytest

from hangroom.errors import InputError
from hangroom.product.lethality import equivalent_holds_s
from hangroom.product.temperatures import Point, celsius

# A published process-lethality example: E. coli O157:H7, beef with 2 % fat; z 10 degF, reference
# 150 degF, D 0.172 min; a reading every half minute.
READINGS_F = [40, 64, 82, 97, 113, 128, 138, 142, 145, 148, 145, 140, 137, 136, 135, 134]
RUNNING_MIN = [0, 0, 0, 0, 0, 0.002, 0.019, 0.074, 0.193, 0.430, 0.667, 0.771, 0.808, 0.831, 0.849, 0.863]  # fmt: skip
POINTS = [Point(30.0 * i, celsius(now_f)) for i, now_f in enumerate(READINGS_F)]


def test_the_running_sum_agrees_with_the_published_example() -> None:
    found_s = equivalent_holds_s(POINTS, reference_c=celsius(150), z_k=10 / 1.8)
    assert [second / 60 for second in found_s] == pytest.approx(RUNNING_MIN, abs=0.001)
    # Over D this is the log reduction so far.
    assert found_s[-1] / 60 / 0.172 == pytest.approx(0.863 / 0.172, abs=0.01)


def test_a_sum_of_left_or_right_edges_would_not_agree() -> None:
    # Guards the method: at 3.5 min the edges give 0.035 and 0.114 min.
    rates = [10 ** ((now_f - 150) / 10) for now_f in READINGS_F[:8]]
    found_min = equivalent_holds_s(POINTS, reference_c=celsius(150), z_k=10 / 1.8)[7] / 60
    assert 0.5 * sum(rates[:-1]) == pytest.approx(0.035, abs=0.001)
    assert 0.5 * sum(rates[1:]) == pytest.approx(0.114, abs=0.001)
    assert found_min == pytest.approx(0.074, abs=0.001)


def test_holding_the_reference_temperature_counts_every_second_once() -> None:
    held = [Point(0.0, 65.0), Point(7.0, 65.0), Point(100.0, 65.0)]
    assert equivalent_holds_s(held, reference_c=65.0, z_k=5.0) == pytest.approx([0, 7, 100])
    assert equivalent_holds_s([], reference_c=65.0, z_k=5.0) == []


def test_a_series_out_of_order_or_a_z_of_nothing_is_refused() -> None:
    with pytest.raises(InputError, match="Reading 2"):
        equivalent_holds_s([Point(5.0, 60.0), Point(5.0, 61.0)], reference_c=65.0, z_k=5.0)
    with pytest.raises(InputError, match="Reading 1 is not a number"):
        equivalent_holds_s([Point(5.0, math.nan)], reference_c=65.0, z_k=5.0)
    with pytest.raises(InputError, match="z in kelvin"):
        equivalent_holds_s(POINTS, reference_c=65.0, z_k=0.0)
