"""Find the strokes in a recording: a swing back from near rest and a faster swing forward, past the ball.

This is the rough look; the events are fitted afterwards (`rest`, `contact`). A waggle, a forward
press, the walk back to address and a head set down are not strokes. The limits are common practice
(no source), wide enough for a tap-in and for a 30-m lag putt.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from pacewright.core.recording import FloatArray
from pacewright.stroke.motion import HeadMotion

GRID_RATE_HZ = 100.0
MOVING_M_S = 0.04
STILL_M_S = 0.02
LONGEST_PAUSE_S = 0.8
FORWARD_PEAK_M_S = (0.20, 6.0)
FORWARD_TIME_S = (0.10, 3.0)
BACKWARD_LENGTH_M = (0.025, 0.9)
BACKWARD_TIME_S = (0.15, 3.0)
FORWARD_TRAVEL_M = 0.07
SHORTEST_RUN_M = 0.004
SLOWEST_FORWARD_TO_BACK = 0.8
PAST_START_M = 0.02
SWING_WITHOUT_ADDRESS_M = 0.12
STILL_ENOUGH_S = 0.12
LONGEST_PRESS_M = 0.035


@dataclass(frozen=True, slots=True)
class RoughStroke:
    """Times in seconds on the recording's clock, as far as a rough look tells.

    ``onset_s`` is where the backswing is seen to move, ``still_s`` how long the head was still before
    that; ``previous_s`` the start of any movement just before. ``top_s`` (first, last) bound the slow
    part at the top. ``end_s`` is the end of forward movement and ``hold_s`` how long the head then rests.
    """

    onset_s: float
    still_s: float
    top_s: tuple[float, float]
    end_s: float
    hold_s: float
    passes_start: bool

    @property
    def backswing_time_s(self) -> float:
        """Rough, and on the short side."""
        return self.top_s[0] - self.onset_s


@dataclass(frozen=True, slots=True)
class _Coarse:
    """Position and velocity on an even grid, with the velocity noise of that grid."""

    time_s: FloatArray
    position_m: FloatArray
    velocity_m_s: FloatArray
    moving_m_s: float
    still_m_s: float


def find_strokes(motion: HeadMotion) -> list[RoughStroke]:
    """Every stroke in ``motion``, in order of time."""
    coarse = _coarse(motion)
    runs = _runs(coarse)
    found: list[RoughStroke] = []
    for k, run in enumerate(runs):
        if run.sign < 0 or not _is_forward_swing(coarse, run):
            continue
        back = _backswing_before(coarse, runs[:k], run)
        if back is None:
            continue
        rough = _rough(coarse, back, run)
        if not found or rough.onset_s >= found[-1].top_s[1]:
            found.append(rough)
    return found


def _coarse(motion: HeadMotion) -> _Coarse:
    rate = min(GRID_RATE_HZ, motion.rate_hz)
    start, end = float(motion.time_s[0]), float(motion.time_s[-1])
    count = max(int((end - start) * rate) + 1, 1)
    time_s = start + (np.arange(count) + 0.5) / rate
    bins = np.minimum(((motion.time_s - start) * rate).astype(np.intp), count - 1)
    samples = np.bincount(bins, minlength=count)
    filled = samples > 0
    mean = np.bincount(bins, motion.position_m, count)[filled] / samples[filled]
    mean_time = np.bincount(bins, motion.time_s, count)[filled] / samples[filled]
    position = np.interp(time_s, mean_time, mean)
    kernel = np.array([2.0, 1.0, 0.0, -1.0, -2.0]) * rate / 10.0
    velocity = np.convolve(np.pad(position, 2, mode="edge"), kernel, mode="valid")
    noise = _velocity_noise(velocity)
    moving, still = (float(np.clip(3.5 * noise, floor, 0.12)) for floor in (MOVING_M_S, STILL_M_S))
    return _Coarse(np.asarray(time_s, float), position, velocity, moving, still)


def _velocity_noise(velocity: FloatArray) -> float:
    """Scatter of velocity in the quietest fifth of the recording."""
    block = 20
    if velocity.size < 3 * block:
        return 0.0
    blocks = velocity[: velocity.size // block * block].reshape(-1, block)
    return float(np.quantile(blocks.std(axis=1), 0.2))


@dataclass(frozen=True, slots=True)
class _Run:
    """Grid samples first … last−1 that move one way without standing still."""

    first: int
    last: int
    sign: int


def _runs(coarse: _Coarse) -> list[_Run]:
    velocity = coarse.velocity_m_s
    state = np.where(np.abs(velocity) < coarse.moving_m_s, 0, np.sign(velocity)).astype(int)
    edges = np.flatnonzero(np.diff(state)) + 1
    bounds = np.concatenate([[0], edges, [state.size]])
    runs = [_Run(int(a), int(b), int(state[a])) for a, b in pairwise(bounds) if state[a] != 0]
    return [run for run in runs if abs(_travel(coarse, run.first, run.last)) >= SHORTEST_RUN_M]


def _travel(coarse: _Coarse, first: int, last: int) -> float:
    return float(coarse.position_m[last - 1] - coarse.position_m[first])


def _peak(coarse: _Coarse, run: _Run) -> float:
    return float(np.abs(coarse.velocity_m_s[run.first : run.last]).max())


def _is_forward_swing(coarse: _Coarse, run: _Run) -> bool:
    step = float(coarse.time_s[1] - coarse.time_s[0])
    time_s = (run.last - run.first) * step
    return (
        FORWARD_PEAK_M_S[0] <= _peak(coarse, run) <= FORWARD_PEAK_M_S[1]
        and FORWARD_TIME_S[0] <= time_s <= FORWARD_TIME_S[1]
        and _travel(coarse, run.first, run.last) >= FORWARD_TRAVEL_M
    )


def _backswing_before(coarse: _Coarse, earlier: list[_Run], forward: _Run) -> _Run | None:
    """The backward run (or runs, with short halts between them) that leads to ``forward``."""
    step = float(coarse.time_s[1] - coarse.time_s[0])
    if not earlier or earlier[-1].sign > 0:
        return None
    back = earlier[-1]
    if (forward.first - back.last) * step > LONGEST_PAUSE_S:
        return None
    for run in reversed(earlier[:-1]):
        if run.sign > 0 or (back.first - run.last) * step > STILL_ENOUGH_S / 2:
            break
        back = _Run(run.first, back.last, -1)
    back = _after_press(coarse, back)
    length = -_travel(coarse, back.first, back.last)
    time_s = (back.last - back.first) * step
    if not BACKWARD_LENGTH_M[0] <= length <= BACKWARD_LENGTH_M[1]:
        return None
    if not BACKWARD_TIME_S[0] <= time_s <= BACKWARD_TIME_S[1]:
        return None
    if _peak(coarse, forward) < SLOWEST_FORWARD_TO_BACK * _peak(coarse, back):
        return None
    past = coarse.position_m[forward.last - 1] - coarse.position_m[back.first]
    swings_freely = length >= SWING_WITHOUT_ADDRESS_M and past > -0.4 * length
    return back if past >= PAST_START_M or swings_freely else None


def _after_press(coarse: _Coarse, back: _Run) -> _Run:
    """Cut off the return of a forward press: a little way back, a slow moment, then the backswing."""
    speed = -coarse.velocity_m_s[back.first : back.last]
    before = np.maximum.accumulate(speed)
    travelled = coarse.position_m[back.first] - coarse.position_m[back.first : back.last]
    dip = (speed < 0.75 * before) & (speed < before - coarse.still_m_s)
    slow = dip & (speed < 0.25 * speed.max()) & (travelled <= LONGEST_PRESS_M)
    slow[int(speed.argmax()) :] = False
    if not slow.any():
        return back
    candidates = np.flatnonzero(slow)
    return _Run(back.first + int(candidates[speed[candidates].argmin()]), back.last, -1)


def _rough(coarse: _Coarse, back: _Run, forward: _Run) -> RoughStroke:
    time_s = coarse.time_s
    step = float(time_s[1] - time_s[0])
    fast = np.abs(coarse.velocity_m_s) >= coarse.still_m_s
    slow_until = _first_slow(coarse, back.first)
    before = np.flatnonzero(fast[:slow_until])
    still = slow_until - (int(before[-1]) + 1 if before.size else 0)
    after = np.flatnonzero(fast[forward.last + 3 :])
    hold = int(after[0]) + 3 if after.size else time_s.size - forward.last
    passes = coarse.position_m[forward.last - 1] >= coarse.position_m[back.first] + PAST_START_M
    return RoughStroke(
        onset_s=float(time_s[slow_until]),
        still_s=still * step,
        top_s=(float(time_s[back.last - 1]), float(time_s[min(forward.first, time_s.size - 1)])),
        end_s=float(time_s[forward.last - 1]),
        hold_s=hold * step,
        passes_start=bool(passes),
    )


def _first_slow(coarse: _Coarse, first: int) -> int:
    """Back from the start of a run to where the head was still, or slowest since another motion."""
    velocity = coarse.velocity_m_s
    slowest = first
    while first > 0 and velocity[first] < -coarse.still_m_s:
        first -= 1
        if velocity[first] > velocity[slowest]:
            slowest = first
        elif velocity[first] < velocity[slowest] - coarse.still_m_s:
            break
    return slowest
