"""Strength of evidence against exact tails, and means and lines against their textbook forms."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from pacewright.coaching.samples import (
    at_lengths_of,
    by_asked_length,
    line_of,
    mean_of,
    measured,
    needed_strength,
    spread_strength,
    strength,
    usable,
)
from pacewright.core.measure import Measure, Remark
from pacewright.core.stroke import Stroke


def _putt(asked: float | None = None, *codes: str, **values: float) -> Stroke:
    measures = {name: Measure(value, 0.01) for name, value in values.items()}
    return Stroke("putt", {}, measures, tuple(Remark(code, "") for code in codes), asked_length_m=asked)


@pytest.mark.parametrize("freedom", [2, 3, 5, 9, 30, 200])
@pytest.mark.parametrize("t", [0.5, 2.0, 4.0, -3.0])
def test_strength_is_the_normal_z_of_students_t(t: float, freedom: int) -> None:
    exact = stats.norm.isf(stats.t.sf(t, freedom))
    assert strength(t, 1.0, freedom) == pytest.approx(exact, rel=0.03)


@pytest.mark.parametrize("freedom", [4, 9, 30, 200])
def test_strength_of_a_spread_is_the_normal_z_of_chi_square(freedom: int) -> None:
    for chance in (0.2, 0.01, 0.001):
        ratio = stats.chi2.isf(chance, freedom) / freedom
        assert spread_strength(ratio, freedom) == pytest.approx(stats.norm.isf(chance), abs=0.04)


def test_more_tests_need_more_strength() -> None:
    assert needed_strength() == pytest.approx(2.326, abs=1e-3)
    assert needed_strength(4) == pytest.approx(stats.norm.isf(0.0025), abs=1e-3)


def test_a_mean_without_noise_has_the_standard_error() -> None:
    mean = mean_of(np.array([1.0, 2.0, 3.0, 6.0]), np.zeros(4))
    assert mean.value == 3.0
    assert mean.sd == pytest.approx(stats.sem([1.0, 2.0, 3.0, 6.0]))


def test_noise_that_strokes_do_not_show_is_common_to_them_and_is_not_averaged_out() -> None:
    values = np.array([1.0, 1.01, 0.99, 1.0] * 25)
    mean = mean_of(values, np.full(100, 0.1))
    assert 0.099 < mean.sd < 0.101


def test_a_line_is_that_of_scipy() -> None:
    rng = np.random.default_rng(2)
    x, y = rng.normal(size=12), rng.normal(size=12)
    exact = stats.linregress(x, y)
    line = line_of(x, y)
    assert (line.slope, line.slope_sd) == pytest.approx((exact.slope, exact.stderr))


def test_rehearsals_and_poor_strokes_are_not_judged() -> None:
    rehearsal = Stroke("rehearsal", {}, {})
    good, poor = _putt(None, "no-still-address"), _putt(None, "gap")
    assert usable([rehearsal, good, poor]) == ([good], [poor])


def test_a_figure_below_zero_where_none_can_be_is_no_figure() -> None:
    able = measured([_putt(downswing_time_s=-0.1), _putt(downswing_time_s=0.3)], "downswing_time_s")
    assert [s.value("downswing_time_s") for s in able] == [0.3]
    assert len(measured([_putt(impact_acceleration_index=-0.1)], "impact_acceleration_index")) == 1


def test_groups_by_length_asked() -> None:
    putts = [_putt(3.0), _putt(1.0), _putt(3.004), _putt(3.0), _putt(None)]
    assert {length: len(group) for length, group in by_asked_length(putts).items()} == {3.0: 3}
    assert len(at_lengths_of(putts, [_putt(1.0)])) == 1
    assert len(at_lengths_of(putts, [_putt(None)])) == 5
