"""Recordings of simulated strokes: a camera's or motion capture's positions, a sensor's turning rates."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from pacewright.core.measure import Measure
from pacewright.core.recording import FloatArray, Provenance, Recording, Trace
from pacewright.simulate.stroke_model import StrokeModel

GRAVITY_M_S2 = 9.81


@dataclass(frozen=True, slots=True)
class Sampling:
    """How strokes are recorded: rate, noise (SD), timestamp jitter (share of a step, SD), dropped share.

    A waggle (back and forth by ``waggle_length_m`` either way) comes before the still address, if wanted.
    """

    rate_hz: float = 240.0
    noise_m: float = 0.00015
    jitter_share: float = 0.0
    dropped_share: float = 0.0
    still_before_s: float = 1.0
    still_after_s: float = 0.5
    return_time_s: float = 1.6
    waggle_length_m: float = 0.0
    waggle_cycles: int = 2
    waggle_cycle_s: float = 0.55

    @property
    def waggle_time_s(self) -> float:
        """How long the waggle lasts, zero without one."""
        return self.waggle_cycles * self.waggle_cycle_s if self.waggle_length_m else 0.0


@dataclass(frozen=True, slots=True)
class SimulatedRecording:
    """A recording, the strokes in it, and the true times of their takeaways on its clock."""

    recording: Recording
    models: tuple[StrokeModel, ...]
    takeaway_s: tuple[float, ...] = field(default=())


def record_trajectory(
    models: Sequence[StrokeModel], rng: np.random.Generator, sampling: Sampling | None = None
) -> SimulatedRecording:
    """Positions of the head through ``models``, one after the other, returning to address between them."""
    sampling = sampling or Sampling()
    takeaway_s, end_s = _timetable(models, sampling)
    time_s = _clock(end_s, rng, sampling)
    x = _along_the_line(models, takeaway_s, time_s, sampling, derivative=0)
    stroke = np.clip(np.searchsorted(takeaway_s, time_s + sampling.still_before_s) - 1, 0, None)
    y = x * np.tan(np.array([model.path_angle_rad for model in models]))[stroke]
    noise = rng.normal(0.0, sampling.noise_m, (time_s.size, 2))
    head = Trace(time_s, np.column_stack([x, y]) + noise, ("x", "y"))
    recording = Recording("trajectory", {"head": head}, _provenance())
    return SimulatedRecording(recording, tuple(models), takeaway_s)


@dataclass(frozen=True, slots=True)
class Sensor:
    """An inertial sensor on the putter: how it is mounted, and its faults (SD of noise, bias, full scale)."""

    arc_radius_m: float = 1.35
    sensor_radius_m: float = 1.05
    plane_tilt_rad: float = 0.35
    gyro_noise_rad_s: float = 0.003
    accel_noise_m_s2: float = 0.05
    gyro_bias_rad_s: float = 0.01
    gyro_limit_rad_s: float = np.inf
    radius_is_given: bool = True


def record_inertial(
    models: Sequence[StrokeModel],
    rng: np.random.Generator,
    sampling: Sampling | None = None,
    sensor: Sensor | None = None,
) -> SimulatedRecording:
    """Turning rate and acceleration of a sensor at a random mounting, x = R·sin θ along the target line."""
    from scipy.spatial.transform import Rotation

    sampling, sensor = sampling or Sampling(rate_hz=400.0), sensor or Sensor()
    takeaway_s, end_s = _timetable(models, sampling)
    time_s = _clock(end_s, rng, sampling)
    angle, rate = _swing_angle(models, takeaway_s, time_s, sampling, sensor)
    turn = np.interp(time_s + 5e-4, time_s, rate) - np.interp(time_s - 5e-4, time_s, rate)
    accel_in_plane = turn / 1e-3
    mounting = Rotation.random(random_state=rng)
    # Club frame: z along the shaft upwards, y along the swing axis, x forward at address.
    gyro = np.column_stack([0 * rate, -rate, 0 * rate])
    down = np.column_stack([
        -np.sin(angle) * np.cos(sensor.plane_tilt_rad),
        np.full_like(angle, np.sin(sensor.plane_tilt_rad)),
        np.cos(angle) * np.cos(sensor.plane_tilt_rad),
    ])  # fmt: skip
    radius = sensor.sensor_radius_m
    accel = GRAVITY_M_S2 * down + np.column_stack([radius * accel_in_plane, 0 * rate, radius * rate**2])
    bias = rng.normal(0.0, sensor.gyro_bias_rad_s, 3)
    gyro_out = mounting.apply(gyro) + bias + rng.normal(0, sensor.gyro_noise_rad_s, (time_s.size, 3))
    gyro_out = np.clip(gyro_out, -sensor.gyro_limit_rad_s, sensor.gyro_limit_rad_s)
    accel_out = mounting.apply(accel) + rng.normal(0, sensor.accel_noise_m_s2, (time_s.size, 3))
    traces = {
        "gyro": Trace(time_s, gyro_out, ("x", "y", "z")),
        "accel": Trace(time_s, accel_out, ("x", "y", "z")),
    }
    radius_known = Measure(sensor.arc_radius_m, 0.0, "given") if sensor.radius_is_given else None
    recording = Recording("inertial", traces, _provenance(), arc_radius_m=radius_known)
    return SimulatedRecording(recording, tuple(models), takeaway_s)


def _swing_angle(
    models: Sequence[StrokeModel], takeaway_s: tuple[float, ...], time_s: FloatArray, sampling: Sampling,
    sensor: Sensor,
) -> tuple[FloatArray, FloatArray]:  # fmt: skip
    x = _along_the_line(models, takeaway_s, time_s, sampling, derivative=0)
    velocity = _along_the_line(models, takeaway_s, time_s, sampling, derivative=1)
    angle = np.arcsin(np.clip(x / sensor.arc_radius_m, -0.95, 0.95))
    return angle, velocity / (sensor.arc_radius_m * np.cos(angle))


def _timetable(models: Sequence[StrokeModel], sampling: Sampling) -> tuple[tuple[float, ...], float]:
    takeaway, clock = [], 0.0
    for model in models:
        start = (
            clock + sampling.waggle_time_s + sampling.still_before_s + model.press_time_s + model.press_lead_s
        )
        takeaway.append(start)
        clock = start + model.finish_time_s + sampling.still_after_s + sampling.return_time_s
    return tuple(takeaway), clock - sampling.return_time_s


def _clock(end_s: float, rng: np.random.Generator, sampling: Sampling) -> FloatArray:
    step = 1.0 / sampling.rate_hz
    time_s = np.arange(rng.uniform(0, step), end_s, step)
    time_s = time_s + np.clip(rng.normal(0, sampling.jitter_share, time_s.size), -0.4, 0.4) * step
    return time_s[rng.random(time_s.size) >= sampling.dropped_share]


def _along_the_line(
    models: Sequence[StrokeModel], takeaway_s: tuple[float, ...], time_s: FloatArray, sampling: Sampling,
    *, derivative: int,
) -> FloatArray:  # fmt: skip
    out = np.empty_like(time_s)
    for k, (model, start) in enumerate(zip(models, takeaway_s, strict=True)):
        arrives_s = start - model.press_time_s - model.press_lead_s
        arrives_s -= sampling.still_before_s + sampling.waggle_time_s
        mine = time_s >= (arrives_s if k else -np.inf)
        local = time_s[mine] - start
        out[mine] = model.velocity_m_s(local) if derivative else model.position_m(local)
        if sampling.waggle_length_m:
            out[mine] += _waggle(time_s[mine] - arrives_s, sampling, derivative)
        if k + 1 < len(models):
            begin = start + model.finish_time_s + sampling.still_after_s
            u = (time_s - begin) / sampling.return_time_s
            back = (u >= 0) & (u < 1)
            span = models[k + 1].address_offset_m - model.follow_through_length_m
            out[back] = _return(u[back], span, sampling.return_time_s, derivative) + (
                0.0 if derivative else model.follow_through_length_m
            )
    return out


def _waggle(tau: FloatArray, sampling: Sampling, derivative: int) -> FloatArray:
    """Back and forth, away from the target first, growing from rest and dying away again."""
    duration = sampling.waggle_time_s
    s = np.clip(tau / duration, 0.0, 1.0)
    omega = 2 * np.pi / sampling.waggle_cycle_s
    window, slope = np.sin(np.pi * s) ** 2, np.pi / duration * np.sin(2 * np.pi * s)
    swing = -sampling.waggle_length_m * np.sin(omega * s * duration)
    if derivative == 0:
        return np.asarray(window * swing)
    rate = -sampling.waggle_length_m * omega * np.cos(omega * s * duration)
    return np.asarray(np.where((s > 0) & (s < 1), slope * swing + window * rate, 0.0))


def _return(u: FloatArray, span: float, duration_s: float, derivative: int) -> FloatArray:
    """A smooth, slow move back to address (minimum jerk)."""
    if derivative:
        return span * 30 * u**2 * (1 - u) ** 2 / duration_s
    return span * u**3 * (10 - 15 * u + 6 * u**2)


def _provenance() -> Provenance:
    return Provenance("simulated", "", "simulate")
