"""A figure and its uncertainty."""

from __future__ import annotations

import dataclasses
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pacewright.core.measure import Measure

values = st.floats(-1e6, 1e6, allow_nan=False)
sds = st.floats(0, 1e3, allow_nan=False)


@given(values, sds, st.floats(0, 10))
def test_the_interval_stands_evenly_about_the_value(value: float, sd: float, factor: float) -> None:
    low, high = Measure(value, sd).interval(factor)
    assert low <= value <= high
    assert high - low == pytest.approx(2 * factor * sd, rel=1e-9, abs=1e-9)


def test_the_default_interval_is_the_normal_95_percent() -> None:
    assert Measure(2.0, 0.1).interval() == pytest.approx((1.804, 2.196))


def test_an_unknown_uncertainty_gives_an_unknown_interval_and_a_known_value() -> None:
    measure = Measure(2.0, math.nan)
    assert measure.is_known
    assert all(math.isnan(end) for end in measure.interval())


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_what_is_not_a_finite_number_is_not_known(value: float) -> None:
    assert not Measure(value, 0.1).is_known


def test_a_measure_does_not_change() -> None:
    with pytest.raises(dataclasses.FrozenInstanceError):
        Measure(1.0, 0.1).value = 2.0  # type: ignore[misc]
