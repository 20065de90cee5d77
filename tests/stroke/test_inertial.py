"""Strokes from a sensor in any mounting, with the putter picked up and carried before and after."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from pacewright.core.recording import FloatArray, Recording, Trace
from pacewright.readers import read
from pacewright.simulate.sampling import Sampling, Sensor, SimulatedRecording, record_inertial
from pacewright.simulate.stroke_model import StrokeModel, random_stroke
from pacewright.stroke.analyse import analyse
from pacewright.stroke.inertial import swing_motion

REAL = (
    Path(__file__).parents[2] / "src" / "pacewright" / "app" / "data" / "real" / "handheld" / "handheld.csv"
)
PUTT = StrokeModel()


def _handling(
    rng: np.random.Generator, rest_up: FloatArray, duration_s: float, rate_hz: float, *, arrives: bool
) -> tuple[FloatArray, FloatArray]:
    """Turning rates and accelerations (n, 3) of a putter carried to the address, or away from it.

    A turn of 60 to 120 degrees about any axis with a carrier's swaying back and forth, which dies away
    towards the address; the accelerometer reads gravity in the turned attitude and the sway.
    """
    time_s = np.arange(int(duration_s * rate_hz)) / rate_hz
    s = time_s / duration_s
    away = s**3 * (10 - 15 * s + 6 * s**2)
    away = 1 - away if arrives else away
    turn, sway = (v / np.linalg.norm(v) for v in rng.normal(size=(2, 3)))
    angle = rng.uniform(1.0, 2.1) * away
    to_and_fro = 0.25 * away * np.sin(2 * np.pi * rng.uniform(0.8, 2.0) * time_s)
    attitude = Rotation.from_rotvec(np.outer(angle, turn)) * Rotation.from_rotvec(np.outer(to_and_fro, sway))
    steps = (attitude[:-1].inv() * attitude[1:]).as_rotvec() * rate_hz
    gyro = np.vstack([steps, steps[-1:]])
    shake = away[:, None] * np.sin(2 * np.pi * np.outer(time_s, rng.uniform(1.0, 2.5, 3)))
    accel = attitude.inv().apply(rest_up + shake)
    return gyro, np.asarray(accel)


def _with_handling(simulated: SimulatedRecording, rng: np.random.Generator) -> tuple[Recording, float]:
    """The recording with handling before and after it, and by how much the strokes come later."""
    recording = simulated.recording
    gyro, accel = recording.traces["gyro"], recording.traces["accel"]
    rate = gyro.rate_hz
    rest_g, rest_a = gyro.values[:50].mean(axis=0), accel.values[:50].mean(axis=0)
    last_a = accel.values[-50:].mean(axis=0)
    before = _handling(rng, rest_a, rng.uniform(1.5, 3.0), rate, arrives=True)
    after = _handling(rng, last_a, rng.uniform(1.5, 3.0), rate, arrives=False)
    rates = np.vstack([before[0] + rest_g, gyro.values, after[0] + rest_g])
    accels = np.vstack([before[1], accel.values, after[1]])
    time_s = np.arange(len(rates)) / rate
    traces = {"gyro": Trace(time_s, rates, gyro.axes), "accel": Trace(time_s, accels, accel.axes)}
    return replace(recording, traces=traces), len(before[0]) / rate - float(gyro.time_s[0])


@pytest.mark.parametrize("seed", range(24))
def test_handling_neither_hides_nor_invents_strokes(seed: int) -> None:
    """Each seed has its own mounting, strokes and handling; one to three strokes in each recording."""
    rng = np.random.default_rng(seed)
    models = [random_stroke(rng, rehearsal=bool(rng.random() < 0.3)) for _ in range(1 + seed % 3)]
    simulated = record_inertial(models, rng, Sampling(rate_hz=(100.0, 400.0)[seed % 2]))
    recording, later_s = _with_handling(simulated, rng)
    contacts = [later_s + t + m.impact_time_s for m, t in zip(models, simulated.takeaway_s, strict=True)]
    found = [stroke.events["impact"].value for stroke in analyse(recording, with_curve=False)]
    assert found == pytest.approx(contacts, abs=0.05)


def test_speed_does_not_depend_on_the_mounting() -> None:
    speeds = []
    for seed in range(8):
        rng = np.random.default_rng(100 + seed)
        recording, _ = _with_handling(record_inertial([PUTT, PUTT], rng), rng)
        speeds += [s.measures["impact_speed_m_s"].value for s in analyse(recording, with_curve=False)]
    assert len(speeds) == 16
    assert speeds == pytest.approx([PUTT.impact_speed_m_s] * 16, rel=0.015)


def test_handling_alone_holds_no_stroke() -> None:
    for seed in range(12):
        rng = np.random.default_rng(200 + seed)
        up = 9.81 * Rotation.random(random_state=rng).apply([0.0, 0.0, 1.0])
        parts = [_handling(rng, up, rng.uniform(1.5, 3.0), 200.0, arrives=bool(k % 2)) for k in range(6)]
        rates, accels = (np.vstack([part[k] for part in parts]) for k in (0, 1))
        time_s = np.arange(len(rates)) / 200.0
        noise = rng.normal(0, 0.003, rates.shape)
        traces = {
            "gyro": Trace(time_s, rates + noise, ("x", "y", "z")),
            "accel": Trace(time_s, accels, ("x", "y", "z")),
        }
        recording = replace(record_inertial([PUTT], rng).recording, traces=traces)
        assert analyse(recording, with_curve=False) == []


def test_strokes_are_found_without_an_accelerometer() -> None:
    recording = record_inertial([PUTT, PUTT], np.random.default_rng(7)).recording
    alone = replace(recording, traces={"gyro": recording.traces["gyro"]})
    assert len(analyse(alone, with_curve=False)) == 2


def test_an_upright_axis_is_no_putting_stroke() -> None:
    """The same turning about the vertical (a club swung round flat, a body that turns)."""
    upright = Sensor(plane_tilt_rad=1.5)
    recording = record_inertial([PUTT, PUTT], np.random.default_rng(8), sensor=upright).recording
    assert analyse(recording, with_curve=False) == []


def test_turning_off_the_axis_makes_lengths_less_sure() -> None:
    """Turning about another axis, out of step, a fifth as fast: 4 % of the square, half of it in the SD."""
    recording = record_inertial([PUTT, PUTT], np.random.default_rng(9)).recording
    gyro = recording.traces["gyro"]
    clean = swing_motion(recording)
    assert clean is not None
    assert clean.scale_relative_sd == pytest.approx(0.0, abs=1e-3)
    axis = clean.axis.direction
    across = np.cross(axis, [0.0, 0.0, 1.0])
    across /= np.linalg.norm(across)
    rate = (gyro.values - clean.axis.bias) @ axis
    out_of_step = 0.2 * np.abs(rate) * np.sign(np.sin(2 * np.pi * 25.0 * gyro.time_s))
    loose = Trace(gyro.time_s, gyro.values + np.outer(out_of_step, across), gyro.axes)
    wobbly = swing_motion(replace(recording, traces={**recording.traces, "gyro": loose}))
    assert wobbly is not None
    assert wobbly.scale_relative_sd == pytest.approx(0.02, abs=0.006)


def test_a_real_recording_of_another_movement_has_no_strokes() -> None:
    """A sensor held in the hand (source and licence beside the file)."""
    assert analyse(read(REAL)) == []


@pytest.mark.parametrize("samples", [5, 20, 60])
def test_a_very_short_recording_has_no_strokes(samples: int) -> None:
    recording = record_inertial([PUTT], np.random.default_rng(1)).recording
    short = {
        name: Trace(t.time_s[:samples], t.values[:samples], t.axes) for name, t in recording.traces.items()
    }
    assert swing_motion(replace(recording, traces=short)) is None
