"""What a column holds is told by its name, in the many ways in which devices write names."""

from __future__ import annotations

import math

import pytest

from pacewright.core.errors import SettingsError
from pacewright.readers.columns import TARGETS, mapped_target, meaning, target_name

DEG = math.pi / 180


@pytest.mark.parametrize(
    ("name", "target", "factor"),
    [
        ("time_s", "time", 1.0),
        ("Time (s)", "time", 1.0),
        ("t(s)", "time", 1.0),
        ("t_ms", "time", 1e-3),
        ("timestamp", "time", 1.0),
        ("seconds_elapsed", "time", 1.0),
        ("Timestamp [us]", "time", 1e-6),
        ("head_x_m", "head_x", 1.0),
        ("Head X (mm)", "head_x", 1e-3),
        ("clubhead.z [cm]", "head_z", 0.01),
        ("Putter Y / in", "head_y", 0.0254),
        ("ball_x_ft", "ball_x", 0.3048),
        ("head_angle_deg", "head_angle", DEG),
        ("Ball Position X (m)", "ball_x", 1.0),
        ("Gyroscope X (deg/s)", "gyro_x", DEG),
        ("gx_rad_s", "gyro_x", 1.0),
        ("GyroY_dps", "gyro_y", DEG),
        ("wz (rad/s)", "gyro_z", 1.0),
        ("Angular velocity y (°/s)", "gyro_y", DEG),
        ("gyro_z_deg_s", "gyro_z", DEG),
        ("Accelerometer Z (g)", "accel_z", 9.80665),
        ("accX [g]", "accel_x", 9.80665),
        ("ay_m_s2", "accel_y", 1.0),
        ("Acceleration x (m/s^2)", "accel_x", 1.0),
        ("acc.y (m/s²)", "accel_y", 1.0),
        ("accel_x_g", "accel_x", 9.80665),
        ("impact_ms", "impact", 1e-3),
        ("Backswing time (s)", "backswing_time", 1.0),
        ("asked length (ft)", "asked_length", 0.3048),
    ],
)
def test_a_name_is_understood(name: str, target: str, factor: float) -> None:
    found = meaning(name)
    assert found is not None
    assert found[0] == target
    assert found[1] == pytest.approx(factor, rel=1e-12)


@pytest.mark.parametrize(
    "name",
    [
        "x (cm)",
        "head_x",
        "Head X",
        "acc_x",
        "Magnetometer X (uT)",
        "Linear Acceleration x (m/s²)",
        "head_x_m_s",
        "Absolute (rad/s)",
        "temperature",
        "",
        "   ",
        "(m)",
        "_m",
        "qw",
        "battery_g",
        "label",
        "123",
        "max_x_m",
        "head_x_s",
        "time_m",
        "gyro_x_m",
        "Z",
    ],
)
def test_a_name_that_does_not_tell_enough_is_left_alone(name: str) -> None:
    assert meaning(name) is None


@pytest.mark.parametrize("target", [target for target, dimension in TARGETS.items() if dimension])
def test_our_own_names_are_understood_and_can_be_mapped(target: str) -> None:
    assert meaning(target_name(target)) == (target, 1.0)
    assert mapped_target(target_name(target).upper()) == (target, 1.0)
    assert mapped_target(target) == (target, None)


@pytest.mark.parametrize("ours", ["head_x_s", "position", "head_w_m", "", "time_m"])
def test_a_mapping_to_what_is_not_ours_is_refused(ours: str) -> None:
    with pytest.raises(SettingsError, match="is not a name of a column that can be mapped"):
        mapped_target(ours)
