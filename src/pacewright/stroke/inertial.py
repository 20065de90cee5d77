"""The head's speed from an inertial sensor in any mounting.

The putter turns as one body, so the sensor's turning rate about the swing axis is the head's, and head
speed is that times the arc radius. The axis comes from the data: of the directions that stretches of
turning share, the one about which the most and best putting strokes are seen. A stroke starts from a still
address and its axis is nearer level than upright; all strokes of a recording start from about the same
attitude of the putter, which the accelerometer shows. Picking the putter up or carrying it does not.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from pacewright.core.measure import Measure
from pacewright.core.recording import FloatArray, Recording, Trace
from pacewright.stroke.find import GRID_RATE_HZ, RoughStroke, find_strokes
from pacewright.stroke.motion import HeadMotion

DEFAULT_ARC_RADIUS = Measure(1.35, 0.15, "inertial")
"""From the swing axis (about the base of the neck) to the head, in metres: common practice, no source."""

_FEWEST_SAMPLES = 20
_SHORTEST_S = 1.0
_BLOCK_S = 0.25
_TURNING_RAD_S = 0.15
_ONE_AXIS_SHARE = 0.95
_SAME_AXIS_COS = 0.94
_MOST_AXES = 8
_MOST_LEADERS = 400
_REFINEMENTS = 2
# All limits on strokes are ours, without a source.
_STROKE_SHARE = 0.85
_STROKE_SHARE_AT_FIRST = 0.75
_ROW_SHARE = 0.9
_AROUND_S = 0.35
_STEEPEST_AXIS_RAD = 1.05
_ADDRESS_S = (0.1, 0.4)
_STILL_RAD_S = 0.06
_SAME_ATTITUDE_RAD = 0.35
_NEAR_S = 2.0
_LONGEST_TO_PEAK_S = 0.6
_LOSS_S = 0.012
_LOSS_SHARE = 0.08


@dataclass(frozen=True, slots=True)
class SwingAxis:
    """Unit ``direction`` (3,) in the sensor's frame, forward swing positive; gyro ``bias`` (3,) in rad/s.

    ``off_axis_share`` is the share of the squared turning rate, top to contact, that is about other axes.
    """

    direction: FloatArray
    bias: FloatArray
    off_axis_share: float = 0.0


@dataclass(frozen=True, slots=True)
class SensorMotion(HeadMotion):
    """Head motion from a sensor, with what tells its strokes from handling.

    ``address_up`` (3,) is the vertical in the sensor's frame at the addresses, None without accelerometer.
    """

    axis: SwingAxis = field(default_factory=lambda: SwingAxis(np.zeros(3), np.zeros(3)))
    address_up: FloatArray | None = None


@dataclass(frozen=True, slots=True)
class _Candidate:
    """A stroke about one axis: how much it looks like one, and the vertical (3,) at its address."""

    rough: RoughStroke
    quality: float
    is_still: bool
    up: FloatArray | None


@dataclass(frozen=True, slots=True)
class _Reading:
    """The recording seen through one axis: the strokes that start from one attitude, and that attitude."""

    axis: SwingAxis
    strokes: list[_Candidate]
    up: FloatArray | None

    @property
    def score(self) -> float:
        return sum(stroke.quality for stroke in self.strokes)


def swing_motion(recording: Recording) -> SensorMotion | None:
    """Head speed along the arc and its integral; None when nothing turns about one axis like a stroke."""
    gyro = recording.traces["gyro"]
    if gyro.time_s.size < _FEWEST_SAMPLES:
        return None
    thin, accel = _thinned(gyro), _accelerometer(recording)
    if thin.time_s.size < max(_FEWEST_SAMPLES, _SHORTEST_S * thin.rate_hz):
        return None
    radius = recording.arc_radius_m or DEFAULT_ARC_RADIUS
    bias = _still_mean(thin)
    best = _Reading(SwingAxis(np.zeros(3), bias), [], None)
    for direction in _shared_directions(thin, bias):
        for sign in (1.0, -1.0):
            axis = SwingAxis(sign * direction, bias)
            seen = _strokes_about(thin, accel, axis, radius, _STROKE_SHARE_AT_FIRST)
            best = max(best, seen, key=lambda reading: reading.score)
    for _ in range(_REFINEMENTS):
        if best.strokes:
            best = _strokes_about(thin, accel, _sharpened(thin, best, radius), radius, _STROKE_SHARE)
    if not best.strokes:
        return None
    scale_sd = float(np.hypot(recording.scale_relative_sd, best.axis.off_axis_share / 2))
    return _motion(gyro, best.axis, radius, best.up, scale_sd)


def turns_about_axis(recording: Recording, motion: HeadMotion, rough: RoughStroke) -> bool:
    """Whether the sensor turned about the swing axis, little about others, and from the usual address."""
    assert isinstance(motion, SensorMotion)
    accel = _accelerometer(recording)
    candidate = _judged(recording.traces["gyro"], accel, motion, rough, _STROKE_SHARE)
    return candidate is not None and _same_attitude(candidate, motion.address_up)


def _accelerometer(recording: Recording) -> Trace | None:
    accel = recording.traces.get("accel")
    return accel if accel is not None and accel.time_s.size >= _FEWEST_SAMPLES else None


def _motion(
    gyro: Trace, axis: SwingAxis, radius: Measure, up: FloatArray | None = None, scale_sd: float = 0.0
) -> SensorMotion:
    speed = (gyro.values - axis.bias) @ axis.direction * radius.value
    steps = np.diff(gyro.time_s) * (speed[1:] + speed[:-1]) / 2
    place = np.concatenate([[0.0], np.cumsum(steps)])
    relative_sd = float(np.hypot(radius.sd / radius.value, scale_sd))
    return SensorMotion(
        gyro.time_s, speed, place, 1, None, relative_sd, radius.value, axis=axis, address_up=up
    )  # fmt: skip


def _thinned(gyro: Trace) -> Trace:
    """Means of neighbouring samples at the rate at which strokes are looked for."""
    size = int(gyro.rate_hz / GRID_RATE_HZ)
    if size < 2:
        return gyro
    count = gyro.time_s.size // size
    time_s = gyro.time_s[: count * size].reshape(count, size).mean(axis=1)
    values = gyro.values[: count * size].reshape(count, size, 3).mean(axis=1)
    return Trace(time_s, values, gyro.axes)


def _blocks(trace: Trace) -> FloatArray:
    """Values (b, k, 3) in blocks of a quarter of a second."""
    size = max(int(_BLOCK_S * trace.rate_hz), 3)
    count = trace.time_s.size // size
    return trace.values[: count * size].reshape(count, size, 3)


def _still_mean(trace: Trace) -> FloatArray:
    """Mean over the quietest tenth of the trace (at least half a second)."""
    blocks = _blocks(trace)
    scatter = blocks.var(axis=1).sum(axis=1)
    quiet = np.argsort(scatter)[: max(scatter.size // 10, 2)]
    return np.asarray(np.median(blocks[quiet].mean(axis=1), axis=0))


def _shared_directions(gyro: Trace, bias: FloatArray) -> Iterator[FloatArray]:
    """Directions (3,) that stretches of one-axis turning share, the one with the most turning first."""
    blocks = _blocks(gyro) - bias
    moments = np.einsum("bki,bkj->bij", blocks, blocks) / blocks.shape[1]
    strength, axes = np.linalg.eigh(moments)
    total = strength.sum(axis=1)
    one_axis = (strength[:, 2] > _ONE_AXIS_SHARE * total) & (total > _TURNING_RAD_S**2)
    weight, axes = np.sqrt(total[one_axis]), axes[one_axis, :, 2]
    for _ in range(_MOST_AXES):
        if not weight.size:
            return
        # The block axis with the most company leads; those near it are averaged, and leave the field.
        leaders = np.linspace(0, weight.size - 1, min(weight.size, _MOST_LEADERS)).astype(np.intp)
        company = (np.abs(axes[leaders] @ axes.T) > _SAME_AXIS_COS) @ weight
        near = np.abs(axes @ axes[leaders[int(company.argmax())]]) > _SAME_AXIS_COS
        yield _principal(np.einsum("b,bi,bj->ij", weight[near] ** 2, axes[near], axes[near]))[0]
        weight, axes = weight[~near], axes[~near]


def _principal(moment: FloatArray) -> tuple[FloatArray, float]:
    """The main direction (3,) of second moments (3, 3), and the share that is not about it."""
    strength, axes = np.linalg.eigh(moment)
    return np.asarray(axes[:, 2]), float(1.0 - strength[2] / strength.sum())


def _strokes_about(
    gyro: Trace, accel: Trace | None, axis: SwingAxis, radius: Measure, share: float
) -> _Reading:
    """The strokes about ``axis`` that start from one attitude: of all attitudes, that of the best strokes."""
    motion = _motion(gyro, axis, radius)
    judged = (_judged(gyro, accel, motion, rough, share) for rough in find_strokes(motion))
    found = [candidate for candidate in judged if candidate is not None]
    best = _Reading(axis, found if accel is None else [], None)
    for leader in found:
        if leader.up is not None and leader.is_still:
            alike = [candidate for candidate in found if _same_attitude(candidate, leader.up)]
            best = max(best, _Reading(axis, alike, _mean_up(alike)), key=lambda reading: reading.score)
    return best


def _mean_up(strokes: list[_Candidate]) -> FloatArray:
    total = sum((s.quality * s.up for s in strokes if s.up is not None), np.zeros(3))
    return np.asarray(total / np.linalg.norm(total))


def _same_attitude(stroke: _Candidate, up: FloatArray | None) -> bool:
    return stroke.up is None or up is None or bool(stroke.up @ up >= np.cos(_SAME_ATTITUDE_RAD))


def _judged(
    gyro: Trace, accel: Trace | None, motion: SensorMotion, rough: RoughStroke, share: float
) -> _Candidate | None:
    """How much ``rough`` looks like a putting stroke; None when it turns about other axes or a steep one."""
    axis, address = motion.axis, _address_window(rough)
    if min(np.ptp(np.searchsorted(motion.time_s, part)) for part in _halves(rough)) < 1:
        return None
    before = gyro.values[motion.between(*address)] - axis.bias
    is_still = bool(before.size) and float(np.sqrt((before**2).sum(axis=1).mean())) <= _STILL_RAD_S
    # A swing without a still address is one of a row of swings: it turns about the axis before and after too.
    around = (
        (rough.top_s[0], rough.end_s) if is_still else (rough.onset_s - _AROUND_S, rough.end_s + _AROUND_S)
    )
    rate = gyro.values[motion.between(*around)] - axis.bias
    about_axis = float(((rate @ axis.direction) ** 2).sum())
    if about_axis < (share if is_still else max(share, _ROW_SHARE)) * float((rate**2).sum()):
        return None
    up = _up(accel, address if is_still else (rough.onset_s, rough.end_s)) if accel is not None else None
    if up is not None and np.arcsin(np.clip(abs(up @ axis.direction), 0, 1)) > _STEEPEST_AXIS_RAD:
        return None
    return _Candidate(rough, _quality(motion, rough, is_still=is_still), is_still, up)


def _halves(rough: RoughStroke) -> tuple[tuple[float, float], tuple[float, float]]:
    """Start and end of the swing back and of the swing forward."""
    return (rough.onset_s, rough.top_s[0]), (rough.top_s[1], rough.end_s)


def _address_window(rough: RoughStroke) -> tuple[float, float]:
    shortest, longest = _ADDRESS_S
    return rough.onset_s - float(np.clip(rough.still_s, shortest, longest)), rough.onset_s


def _up(accel: Trace, window: tuple[float, float]) -> FloatArray | None:
    """What the accelerometer reads in ``window``, as a direction (3,)."""
    first, last = np.searchsorted(accel.time_s, window)
    if last <= first:
        return None
    mean = accel.values[first:last].mean(axis=0)
    return np.asarray(mean / max(float(np.linalg.norm(mean)), 1e-9))


def _quality(motion: SensorMotion, rough: RoughStroke, *, is_still: bool) -> float:
    """Up to 2: more for a still address, forward faster than back and soon, past the ball, speed lost."""
    back, forward = (motion.observed[motion.between(*half)] for half in _halves(rough))
    quality = float(np.clip(forward.max() / max(-float(back.min()), 1e-3) - 0.5, 0.2, 1.0))
    quality *= 1.0 if is_still else 0.2
    quality *= 1.0 if rough.passes_start else 0.5
    quality *= 1.0 if forward.argmax() <= _LONGEST_TO_PEAK_S * motion.rate_hz else 0.3
    lag = max(round(_LOSS_S * motion.rate_hz), 1)
    loss = float((forward[:-lag] - forward[lag:]).max()) if forward.size > lag else 0.0
    return quality * (2.0 if loss > _LOSS_SHARE * forward.max() else 1.0)


def _sharpened(gyro: Trace, reading: _Reading, radius: Measure) -> SwingAxis:
    """The axis from the strokes' downswings alone, and the bias from the quietest stretches near them."""
    motion = _motion(gyro, reading.axis, radius)
    moment, near = np.zeros((3, 3)), np.zeros(gyro.time_s.size, bool)
    for stroke in [s for s in reading.strokes if s.is_still] or reading.strokes:
        swing = motion.between(stroke.rough.top_s[1], _past_start_s(motion, stroke.rough))
        rate = gyro.values[swing] - reading.axis.bias
        moment += stroke.quality * (rate.T @ rate)
        near[motion.between(stroke.rough.onset_s - _NEAR_S, stroke.rough.end_s + _NEAR_S)] = True
    direction, off_axis = _principal(moment)
    direction = direction * (1.0 if direction @ reading.axis.direction > 0 else -1.0)
    return SwingAxis(direction, _still_mean(Trace(gyro.time_s[near], gyro.values[near], gyro.axes)), off_axis)


def _past_start_s(motion: SensorMotion, rough: RoughStroke) -> float:
    """When the forward swing is back at where the backswing began: about contact."""
    swing = motion.between(rough.top_s[1], rough.end_s)
    past = np.flatnonzero(motion.position_m[swing] >= motion.position_at(rough.onset_s))
    return float(motion.time_s[swing][past[0]]) if past.size else rough.end_s
