"""The head's speed from an inertial sensor in any mounting.

The putter turns as one body, so the sensor's turning rate about the swing axis is the head's, and head
speed is that times the arc radius. The axis comes from the data: the direction about which the sensor
turns in the stretches that turn about one direction. The gyroscope's bias is what it reads at the still
address; the vertical is what the accelerometer reads there, and tells whether the axis can be that of a
putting stroke (nearer level than upright).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pacewright.core.measure import Measure
from pacewright.core.recording import FloatArray, Recording
from pacewright.stroke.find import RoughStroke, find_strokes
from pacewright.stroke.motion import HeadMotion

DEFAULT_ARC_RADIUS = Measure(1.35, 0.15, "inertial")
"""From the swing axis (about the base of the neck) to the head, in metres: common practice, no source."""

_BLOCK_S = 0.25
_TURNING_RAD_S = 0.15
_ONE_AXIS_SHARE = 0.95
_SAME_AXIS_COS = 0.94
_STEEPEST_AXIS_RAD = 1.05


@dataclass(frozen=True, slots=True)
class SwingAxis:
    """Unit ``direction`` (3,) in the sensor's frame, forward swing positive; gyro ``bias`` (3,) in rad/s."""

    direction: FloatArray
    bias: FloatArray


def swing_motion(recording: Recording) -> HeadMotion | None:
    """Head speed along the arc and its integral; None when nothing turns about one axis like a stroke."""
    gyro = recording.traces["gyro"]
    if gyro.time_s.size < 20:
        return None
    bias = _still_mean(gyro.time_s, gyro.values)
    direction = _swing_direction(gyro.time_s, gyro.values - bias)
    if direction is None or not _is_level_enough(recording, direction):
        return None
    radius = recording.arc_radius_m or DEFAULT_ARC_RADIUS
    candidates = [_motion(recording, SwingAxis(sign * direction, bias), radius) for sign in (1.0, -1.0)]
    return max(candidates, key=_forward_speed)


def turns_about_axis(recording: Recording, motion: HeadMotion, rough: RoughStroke) -> bool:
    """Whether the sensor turned about the swing axis and little about others during the stroke."""
    gyro = recording.traces["gyro"]
    window = motion.between(rough.top_s[0], rough.end_s)
    assert motion.arc_radius_m is not None
    about_axis = motion.observed[window] / motion.arc_radius_m
    total = gyro.values[window] - _still_mean(gyro.time_s, gyro.values)
    return float((about_axis**2).sum()) >= 0.85 * float((total**2).sum())


def _motion(recording: Recording, axis: SwingAxis, radius: Measure) -> HeadMotion:
    gyro = recording.traces["gyro"]
    speed = (gyro.values - axis.bias) @ axis.direction * radius.value
    steps = np.diff(gyro.time_s) * (speed[1:] + speed[:-1]) / 2
    place = np.concatenate([[0.0], np.cumsum(steps)])
    relative_sd = float(np.hypot(radius.sd / radius.value, recording.scale_relative_sd))
    return HeadMotion(gyro.time_s, speed, place, 1, None, relative_sd, radius.value)


def _forward_speed(motion: HeadMotion) -> float:
    """How much faster the swings found go forward than back, summed: tells forward from back."""
    lead = 0.0
    for rough in find_strokes(motion):
        forward = motion.observed[motion.between(rough.top_s[1], rough.end_s)]
        backward = motion.observed[motion.between(rough.onset_s, rough.top_s[0])]
        if forward.size and backward.size:
            lead += float(forward.max() + backward.min())
    return lead


def _blocks(time_s: FloatArray, values: FloatArray) -> FloatArray:
    """Values (b, k, 3) in blocks of a quarter of a second."""
    size = max(int(_BLOCK_S / float(np.median(np.diff(time_s)))), 3)
    count = values.shape[0] // size
    return values[: count * size].reshape(count, size, 3)


def _still_mean(time_s: FloatArray, values: FloatArray) -> FloatArray:
    """Mean over the quietest tenth of the recording (at least half a second)."""
    blocks = _blocks(time_s, values)
    scatter = blocks.var(axis=1).sum(axis=1)
    quiet = np.argsort(scatter)[: max(scatter.size // 10, 2)]
    return np.asarray(np.median(blocks[quiet].mean(axis=1), axis=0))


def _swing_direction(time_s: FloatArray, rate: FloatArray) -> FloatArray | None:
    """The direction that most of the one-axis turning shares, (3,); None when there is none."""
    blocks = _blocks(time_s, rate)
    moments = np.einsum("bki,bkj->bij", blocks, blocks) / blocks.shape[1]
    strength, axes = np.linalg.eigh(moments)
    total = strength.sum(axis=1)
    one_axis = (strength[:, 2] > _ONE_AXIS_SHARE * total) & (total > _TURNING_RAD_S**2)
    if not one_axis.any():
        return None
    weight, axes = np.sqrt(total[one_axis]), axes[one_axis, :, 2]
    # The block axis with the most company leads; those near it are averaged.
    agree = np.abs(axes @ axes.T) > _SAME_AXIS_COS
    leader = int((agree * weight).sum(axis=1).argmax())
    near = agree[leader]
    mean = np.einsum("b,bi,bj->ij", weight[near] ** 2, axes[near], axes[near])
    return np.asarray(np.linalg.eigh(mean)[1][:, 2])


def _is_level_enough(recording: Recording, direction: FloatArray) -> bool:
    accel = recording.traces.get("accel")
    if accel is None or accel.time_s.size < 20:
        return True
    up = _still_mean(accel.time_s, accel.values)
    steepness = np.arcsin(np.clip(abs(up @ direction) / max(float(np.linalg.norm(up)), 1e-9), 0, 1))
    return bool(steepness <= _STEEPEST_AXIS_RAD)
