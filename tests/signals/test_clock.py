"""The clock behind rounded times is found when there is one, and nothing is touched when there is none."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pacewright.core.recording import FloatArray
from pacewright.signals.clock import gaps, regular_clock, tick_of


def counted(count: int, lost_share: float, seed: int) -> FloatArray:
    """Numbers of the samples that were kept."""
    number = np.arange(count)
    return number[np.random.default_rng(seed).random(count) >= lost_share].astype(float)


@settings(max_examples=80, deadline=None)
@given(
    rate_hz=st.sampled_from([59.94, 100.5, 119.88, 240.0, 239.76, 333.0]),
    tick_s=st.sampled_from([1e-3, 1 / 600, 1e-4]),
    rounding=st.sampled_from([np.round, np.floor, np.ceil]),
    lost_share=st.sampled_from([0.0, 0.02, 0.2]),
    start_s=st.floats(0, 1000),
    seed=st.integers(0, 50),
)
def test_the_clock_behind_rounded_times_is_found(
    rate_hz: float, tick_s: float, rounding: type[np.ufunc], lost_share: float, start_s: float, seed: int
) -> None:
    if tick_s * rate_hz < 0.012 or tick_s * rate_hz > 0.45:
        return
    true = start_s + counted(1500, lost_share, seed) / rate_hz
    clock = regular_clock(np.asarray(rounding(true / tick_s)) * tick_s)
    if clock is None:
        # Only where the rounding itself is nearly even, so that there is nothing to mend.
        ticks = 1 / (rate_hz * tick_s)
        assert abs(ticks - round(ticks)) < 0.05
        return
    assert clock.tick_s == pytest.approx(tick_s, rel=1e-6)
    assert 1 / clock.step_s == pytest.approx(rate_hz, rel=2e-4)
    # All that is left is a shift of at most a tick, and the error of the fit.
    shift = clock.time_s - true
    assert np.abs(shift).max() <= 1.05 * tick_s
    assert np.std(shift) < 0.08 * tick_s


def test_a_clock_coarser_than_its_samples_is_spread_out() -> None:
    true = np.arange(2000) / 400
    clock = regular_clock(np.floor(true / 0.01) * 0.01)
    assert clock is not None
    assert np.std(clock.time_s - true) < 0.02 * 0.01


@pytest.mark.parametrize("rate_hz", [60.0, 240.0, 1000.0])
def test_an_even_clock_is_left_alone(rate_hz: float) -> None:
    assert regular_clock(np.arange(1000) / rate_hz) is None
    assert regular_clock(np.round(np.arange(1000) / rate_hz, 7)) is None


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 1000), jitter_share=st.floats(0.02, 0.3))
def test_a_clock_that_truly_jitters_is_left_alone(seed: int, jitter_share: float) -> None:
    rng = np.random.default_rng(seed)
    time_s = np.sort((np.arange(600) + rng.normal(0, jitter_share, 600)) / 240)
    assert regular_clock(time_s) is None


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 1000))
def test_a_jittering_clock_in_milliseconds_is_left_alone_when_it_jitters_by_more_than_that(seed: int) -> None:
    rng = np.random.default_rng(seed)
    time_s = np.sort(np.round((np.arange(600) + rng.normal(0, 0.4, 600)) / 240, 3))
    assert regular_clock(time_s) is None


def test_too_few_times_tell_nothing() -> None:
    assert regular_clock(np.round(np.arange(8) / 240, 3)) is None
    assert tick_of(np.zeros(5)) is None


def test_ticks_are_found_in_time_of_day() -> None:
    # A day in seconds leaves less resolution in the figures.
    assert tick_of(86_000.0 + np.round(np.arange(500) / 240, 3)) == pytest.approx(1e-3, rel=1e-4)


def test_gaps_are_found_where_samples_are_lost() -> None:
    time_s = np.delete(np.arange(500) / 240, np.r_[100:101, 200:240, 300:303])
    found = gaps(time_s)
    assert [round(gap.start_s * 240) for gap in found] == [199, 299]
    assert [gap.length_s * 240 for gap in found] == pytest.approx([41, 4])
    assert gaps(time_s[:2]) == []
