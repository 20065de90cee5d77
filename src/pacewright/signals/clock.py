"""Clocks: sampling times written in coarse ticks are put back on the even clock behind them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pacewright.core.recording import FloatArray

_LEAST_SAMPLES = 12
_MOST_DISTINCT_STEPS = 400
_COARSE_SHARE = 0.01
_ROUNDING_SLACK = 1.25
_COUNTING_PASSES = 8
_TICK_SAMPLES = 20_000


@dataclass(frozen=True, slots=True)
class RegularClock:
    """The even clock behind rounded times: ``time_s`` (n,) = start + step·count, ticks of ``tick_s``."""

    time_s: FloatArray
    step_s: float
    tick_s: float


@dataclass(frozen=True, slots=True)
class Gap:
    """A hole in time after sample ``index``: from ``start_s`` to ``end_s``."""

    index: int
    start_s: float
    end_s: float

    @property
    def length_s(self) -> float:
        """How long nothing was recorded."""
        return self.end_s - self.start_s


def tick_of(time_s: FloatArray) -> float | None:
    """The coarse tick of which all steps of ``time_s`` (n,) are whole multiples, in seconds.

    None when there is none that is coarse: at least a hundredth of the usual step. Steps may be zero.
    The first twenty thousand times tell.
    """
    steps = np.diff(time_s[:_TICK_SAMPLES])
    usual = float(steps.mean())
    if not usual > 0.0:
        return None
    # Steps closer than the resolution of the floating-point times cannot be told apart.
    resolution = max(float(np.spacing(np.abs(time_s).max())) * 4.0, usual * 1e-6)
    kinds, member = np.unique(np.round(steps / resolution).astype(np.int64), return_inverse=True)
    if kinds.size > _MOST_DISTINCT_STEPS:
        return None
    distinct = np.bincount(member, steps) / np.bincount(member)
    distinct = distinct[distinct > resolution]
    if distinct.size == 0:
        return None
    tick = float(distinct[0])
    for step in distinct[1:]:
        tick = _common_measure(tick, float(step), tolerance=resolution)
        if tick < _COARSE_SHARE * usual:
            return None
    return tick


def regular_clock(time_s: FloatArray) -> RegularClock | None:
    """The even clock that, written in coarse ticks, gives ``time_s`` (n,), which must not decrease.

    A line is fitted to the times over the count of samples; it is the clock when every time lies
    within rounding of it. Lost samples are counted where a step is long, again with each finer slope.
    None when the times are even already, are not in coarse ticks, or do not fit a line (a clock that
    truly jitters).
    """
    if time_s.size < _LEAST_SAMPLES:
        return None
    tick = tick_of(time_s)
    if tick is None:
        return None
    steps = np.diff(time_s)
    # Steps between neighbours differ by one tick; their mean is finer than any one of them.
    slope = float(steps[steps < steps.min() + 1.5 * tick].mean())
    count = np.zeros_like(time_s)
    for _ in range(_COUNTING_PASSES):
        if not slope > 0.0:
            return None
        before, count = count, np.concatenate([[0.0], np.cumsum(_whole_steps(steps, slope, tick))])
        if np.array_equal(before, count):
            break
        slope, start = _line(count, time_s)
    fitted = start + slope * count
    off = time_s - fitted
    is_rounding = float(off.max() - off.min()) <= tick * _ROUNDING_SLACK
    is_even_already = float(np.abs(off).max()) < 1e-3 * slope
    if not is_rounding or is_even_already:
        return None
    return RegularClock(fitted, slope, tick)


def gaps(time_s: FloatArray, *, longer_than_steps: float = 2.5) -> list[Gap]:
    """Holes in increasing times (n,): steps longer than so many usual (median) steps."""
    if time_s.size < 3:
        return []
    steps = np.diff(time_s)
    long = np.flatnonzero(steps > longer_than_steps * float(np.median(steps)))
    return [Gap(int(k), float(time_s[k]), float(time_s[k + 1])) for k in long]


def _common_measure(one: float, other: float, tolerance: float) -> float:
    """Greatest common measure of two lengths, up to ``tolerance`` (Euclid)."""
    while other > tolerance:
        one, other = other, abs(one - round(one / other) * other)
    return one


def _whole_steps(steps: FloatArray, usual: float, tick: float) -> FloatArray:
    """Samples from each time to the next: one, or more where the step is longer than rounding makes it."""
    counted = np.ones_like(steps)
    long = steps >= usual + tick * 1.001
    counted[long] = np.maximum(np.round(steps[long] / usual), 1.0)
    return counted


def _line(count: FloatArray, time_s: FloatArray) -> tuple[float, float]:
    """Slope and start of the least-squares line of time over sample number."""
    centred = count - count.mean()
    slope = float(centred @ (time_s - time_s.mean()) / (centred @ centred))
    return slope, float(time_s.mean() - slope * count.mean())
