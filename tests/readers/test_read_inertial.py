"""Inertial sensors: names and units as devices write them, mirrored mounting, faults of the sensor."""

from __future__ import annotations

import io

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pacewright.core.errors import ReadError
from pacewright.core.recording import FloatArray
from pacewright.readers import ReadOptions, read

RATE_HZ = 400.0
TIME = np.arange(1200) / RATE_HZ
G = 9.80665


def gyro_rad_s() -> FloatArray:
    rng = np.random.default_rng(5)
    swing = 1.5 * np.sin(2 * np.pi * 0.8 * TIME)
    return np.outer(swing, [0.6, 0.8, 0.0]) + rng.normal(0, 0.002, (TIME.size, 3))


def accel_m_s2() -> FloatArray:
    rng = np.random.default_rng(6)
    return np.array([1.0, 2.0, np.sqrt(G**2 - 5.0)]) + rng.normal(0, 0.02, (TIME.size, 3))


def csv_of(gyro: FloatArray, accel: FloatArray | None, names: list[str]) -> io.StringIO:
    rows = np.column_stack([TIME, gyro] if accel is None else [TIME, gyro, accel])
    lines = [",".join(names), *(",".join(f"{value:.8g}" for value in row) for row in rows)]
    return io.StringIO("\n".join(lines))


OURS = ["time_s", *(f"gyro_{a}_rad_s" for a in "xyz"), *(f"accel_{a}_m_s2" for a in "xyz")]


@pytest.mark.parametrize(
    ("names", "gyro_unit", "accel_unit"),
    [
        (OURS, 1.0, 1.0),
        (["time_s", *(f"gyro_{a}_deg_s" for a in "xyz"), *(f"accel_{a}_g" for a in "xyz")], np.pi / 180, G),
        (
            [
                "Time (s)",
                *(f"Gyroscope {a} (deg/s)" for a in "XYZ"),
                *(f"Accelerometer {a} (g)" for a in "XYZ"),
            ],
            np.pi / 180,
            G,
        ),
        (["t_s", *(f"g{a}_rad_s" for a in "xyz"), *(f"a{a}_m_s2" for a in "xyz")], 1.0, 1.0),
    ],
)
def test_names_and_units_of_devices(names: list[str], gyro_unit: float, accel_unit: float) -> None:
    recording = read(csv_of(gyro_rad_s() / gyro_unit, accel_m_s2() / accel_unit, names))
    assert recording.kind == "inertial"
    assert recording.remarks == ()
    np.testing.assert_allclose(recording.traces["gyro"].values, gyro_rad_s(), atol=1e-6)
    np.testing.assert_allclose(recording.traces["accel"].values, accel_m_s2(), atol=1e-6)


def test_the_arc_radius_is_kept_with_its_uncertainty() -> None:
    options = ReadOptions(arc_radius_m=1.4, arc_radius_sd_m=0.02)
    radius = read(csv_of(gyro_rad_s(), accel_m_s2(), OURS), options).arc_radius_m
    assert radius is not None
    assert (radius.value, radius.sd) == (1.4, 0.02)
    assert read(csv_of(gyro_rad_s(), accel_m_s2(), OURS)).arc_radius_m is None


def test_without_an_accelerometer_the_turning_rate_is_enough() -> None:
    recording = read(csv_of(gyro_rad_s(), None, OURS[:4]))
    assert list(recording.traces) == ["gyro"]


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 1000))
def test_the_mirrored_sensor_obeys_the_same_mechanics(seed: int) -> None:
    """A body turned about a fixed axis: dg/dt = −ω × g for the weight in the sensor's frame, mirrored or not.

    Weight is a vector and the turning rate a pseudovector; signs that do not belong together break this.
    """
    from scipy.spatial.transform import Rotation

    rng = np.random.default_rng(seed)
    axis = rng.normal(size=3)
    axis /= np.linalg.norm(axis)
    angle = 0.4 * np.sin(2 * np.pi * 0.8 * TIME)
    rate = np.gradient(angle, TIME)
    weight = Rotation.from_rotvec(-np.outer(angle, axis)).apply(G * np.array([0.0, 0.6, 0.8]))
    recording = read(csv_of(np.outer(rate, axis), weight, OURS), ReadOptions(left_handed=True))
    omega, g = recording.traces["gyro"].values, recording.traces["accel"].values
    change = np.gradient(g, TIME, axis=0)[5:-5]
    np.testing.assert_allclose(change, -np.cross(omega, g)[5:-5], atol=0.02)
    assert recording.mirrored
    assert [remark.code for remark in recording.remarks] == ["left-handed-mirrored"]


def test_a_clipped_sensor_is_told_with_axis_and_count() -> None:
    gyro = gyro_rad_s()
    limited = np.clip(gyro, -10, 0.7)
    count = int((limited[:, 0] == 0.7).sum())
    recording = read(csv_of(limited, accel_m_s2(), OURS))
    (remark,) = recording.remarks
    assert remark.code == "clipped"
    # Single samples that touch the limit before noise takes them back do not count.
    told = int(remark.text.split(" samples")[0].split()[-1])
    assert 0.95 * count <= told <= count
    assert "x " in remark.text
    assert "at 0.7 rad/s" in remark.text


@pytest.mark.parametrize("step", [0.001, 0.01, 0.05])
def test_a_coarse_sensor_is_not_called_clipped(step: float) -> None:
    still = np.round(np.random.default_rng(1).normal(0, 0.4 * step, (TIME.size, 3)) / step) * step
    smooth = np.round(np.outer(np.sin(2 * np.pi * 0.8 * TIME), [1.0, 0.5, 0.2]) / step) * step
    for gyro in (still, smooth, smooth + still):
        codes = [remark.code for remark in read(csv_of(gyro, accel_m_s2(), OURS)).remarks]
        assert "clipped" not in codes


def test_acceleration_without_gravity_is_left_out() -> None:
    recording = read(csv_of(gyro_rad_s(), accel_m_s2() - [1.0, 2.0, np.sqrt(G**2 - 5.0)], OURS))
    assert list(recording.traces) == ["gyro"]
    assert [remark.code for remark in recording.remarks] == ["no-gravity"]


@pytest.mark.parametrize(
    ("gyro_factor", "accel_factor", "why"),
    [
        (1.0, 1 / G, r"feels 1 m/s² rather than 9.81; the figures look like g"),
        (180 / np.pi, 1.0, r"look like deg/s. Say so: --columns gyro_x_deg_s"),
    ],
)
def test_figures_in_another_unit_than_the_name_says(
    gyro_factor: float, accel_factor: float, why: str
) -> None:
    with pytest.raises(ReadError, match=why):
        read(csv_of(gyro_rad_s() * gyro_factor, accel_m_s2() * accel_factor, OURS))


def test_rad_s_that_are_called_deg_s_and_a_sensor_that_lies_still() -> None:
    names = ["time_s", *(f"gyro_{a}_deg_s" for a in "xyz")]
    with pytest.raises(ReadError, match="its figures look like rad/s"):
        read(csv_of(gyro_rad_s(), None, names))
    still = np.random.default_rng(2).normal(0.3, 0.2, (TIME.size, 3))
    assert read(csv_of(still, None, names)).remarks == ()


def test_g_that_is_really_metres_a_second_squared() -> None:
    names = [*OURS[:4], *(f"accel_{a}_g" for a in "xyz")]
    with pytest.raises(ReadError, match="the figures look like m/s²"):
        read(csv_of(gyro_rad_s(), accel_m_s2(), names))


def test_a_missing_axis_is_named() -> None:
    with pytest.raises(ReadError, match=r"line 1: no column is gyro_z.*--columns gyro_z_rad_s=NAME"):
        read(csv_of(gyro_rad_s(), accel_m_s2(), [*OURS[:3], "third", *OURS[4:]]))


@pytest.mark.parametrize("rate_hz", [50.0, 99.2, 1000.0, 2000.0])
def test_rates_from_50_to_2000_hz(rate_hz: float) -> None:
    file = csv_of(gyro_rad_s(), accel_m_s2(), OURS)
    assert read(file, ReadOptions(rate_hz=rate_hz)).rate_hz == pytest.approx(rate_hz)
