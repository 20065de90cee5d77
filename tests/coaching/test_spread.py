"""Intervals and limits for one look, against published and derived values."""

from __future__ import annotations

import math

import numpy as np
import pytest

from pacewright.coaching.outcomes import sd_interval
from pacewright.coaching.spread import (
    one_look_power,
    sd_ratio_limit,
    smallest_detectable_change,
)


@pytest.mark.parametrize(
    ("putts", "low", "high"), [(10, 0.69, 1.83), (20, 0.76, 1.46), (30, 0.80, 1.34), (50, 0.84, 1.25)]
)
def test_interval_of_a_standard_deviation(putts: int, low: float, high: float) -> None:
    """95 % factors: derived (chi-squared), stroke-science reference."""
    assert sd_interval(1.0, putts - 1.0, 0.95) == pytest.approx((low, high), abs=0.005)


@pytest.mark.parametrize(("putts", "limit"), [(10, 2.01), (20, 1.59), (30, 1.45), (50, 1.33)])
def test_ratio_of_two_standard_deviations_that_shows_a_change(putts: int, limit: float) -> None:
    """95 % limits: derived (F), stroke-science reference."""
    assert sd_ratio_limit(putts, putts) == pytest.approx(limit, abs=0.005)


def test_smallest_detectable_change() -> None:
    """1.96·√2·typical error: Weir 2005 (from memory)."""
    assert smallest_detectable_change(1.0) == pytest.approx(2.772, abs=0.001)


def test_limits_need_two_putts() -> None:
    with pytest.raises(ValueError, match="two putts"):
        sd_ratio_limit(1, 30)


def test_power_of_one_look_agrees_with_drawn_sessions() -> None:
    rng = np.random.default_rng(5)
    before, after = rng.normal(size=(20000, 30)), 0.7 * rng.normal(size=(20000, 30))
    ratio = before.std(axis=1, ddof=1) / after.std(axis=1, ddof=1)
    seen = float(np.mean(ratio > sd_ratio_limit(30, 30)))
    assert one_look_power(0.7, 30, 30) == pytest.approx(seen, abs=0.01)


def test_power_without_a_change_is_the_level() -> None:
    assert one_look_power(1.0, 17, 40) == pytest.approx(0.025)
    assert math.isclose(one_look_power(1.0, 30, 30, 0.90), 0.05)
