"""Skid and roll on a plane: laws that hold on any green."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from pacewright.ball.path import path_of, roll_out, velocity_of
from pacewright.ball.plane import plane_of
from pacewright.core.errors import SettingsError, SimulationError
from pacewright.core.green import Green
from pacewright.core.launch import Launch
from pacewright.core.units import FOOT_M
from tests.ball.greens import LEVEL, energies, frictions, greens, launches


@given(launches(), greens(), frictions())
def test_energy_never_rises(launch: Launch, green: Green, friction: float | None) -> None:
    path = path_of(launch, green, sliding_friction=friction)
    energy = energies(path, np.linspace(0.0, 2.0, 81))
    assert np.all(np.diff(energy) <= 1e-12 * max(energy[0], 1.0))


@given(launches(), frictions())
def test_speed_never_rises_on_the_level_without_overspin(launch: Launch, friction: float | None) -> None:
    launch = Launch(launch.speed_m_s, launch.direction_rad, min(launch.roll_share, 1.0))
    if launch.roll_share < -1.0:
        return
    path = path_of(launch, LEVEL, sliding_friction=friction)
    along = path.at(np.linspace(0.0, 2.0, 50)).velocity_m_s
    forward = along[0] * math.cos(launch.direction_rad) + along[1] * math.sin(launch.direction_rad)
    assert np.all(np.diff(forward) <= 1e-12)


@given(launches(), greens(), frictions())
def test_left_and_right_are_mirror_images(launch: Launch, green: Green, friction: float | None) -> None:
    other = Green(green.speed_m, green.slope_rad, -green.cross_slope_rad)
    turned = Launch(launch.speed_m_s, -launch.direction_rad, launch.roll_share)
    one = roll_out(launch, green, sliding_friction=friction)
    two = roll_out(turned, other, sliding_friction=friction)
    assert two.roll_out_m == pytest.approx(one.roll_out_m, rel=1e-9, abs=1e-9)
    assert two.across_m == pytest.approx(-one.across_m, rel=1e-9, abs=1e-9)
    assert two.time_s == pytest.approx(one.time_s, rel=1e-9)


@given(launches(), greens(), frictions(), st.floats(1.1, 3.0))
def test_lengths_grow_with_the_square_of_speed_and_times_with_speed(
    launch: Launch, green: Green, friction: float | None, factor: float
) -> None:
    faster = Launch(launch.speed_m_s * factor, launch.direction_rad, launch.roll_share)
    one = roll_out(launch, green, sliding_friction=friction)
    two = roll_out(faster, green, sliding_friction=friction)
    assert two.roll_out_m == pytest.approx(one.roll_out_m * factor**2, rel=1e-9, abs=1e-12)
    assert two.across_m == pytest.approx(one.across_m * factor**2, rel=1e-9, abs=1e-12)
    assert two.skid_length_m == pytest.approx(one.skid_length_m * factor**2, rel=1e-9, abs=1e-12)
    assert two.time_s == pytest.approx(one.time_s * factor, rel=1e-9)


@given(launches(), greens(), frictions(), st.floats(0.01, 1.98))
def test_velocity_is_the_slope_of_place(
    launch: Launch, green: Green, friction: float | None, progress: float
) -> None:
    path = path_of(launch, green, sliding_friction=friction)
    before, here, after = (path.at(progress + step) for step in (-1e-5, 0.0, 1e-5))
    passed = float(after.time_s - before.time_s)
    if passed < 1e-7:
        return
    for axis in (0, 1):
        moved = float(after.displacement_m[axis] - before.displacement_m[axis])
        assert moved / passed == pytest.approx(float(here.velocity_m_s[axis]), abs=2e-3 * launch.speed_m_s)


@given(st.floats(0.5, 4.0), st.floats(0.002, 0.06))
def test_uphill_stops_short_of_level_and_downhill_runs_past(speed: float, tilt: float) -> None:
    up, level, down = (
        roll_out(Launch(speed), Green(LEVEL.speed_m, slope_rad=slope)).roll_out_m
        for slope in (tilt, 0.0, -tilt)
    )
    assert up < level < down


@given(st.floats(0.5, 4.0), st.floats(0.001, 0.05))
def test_a_ball_breaks_to_the_falling_side(speed: float, tilt: float) -> None:
    assert roll_out(Launch(speed), Green(LEVEL.speed_m, cross_slope_rad=tilt)).across_m > 0.0


def test_rest_is_at_rest_and_the_parts_join() -> None:
    green = Green(LEVEL.speed_m, slope_rad=-0.03, cross_slope_rad=0.02)
    path = path_of(Launch(2.0, 0.1, -0.5), green)
    rest = path.rest()
    assert [float(v) for v in rest.velocity_m_s] == pytest.approx([0.0, 0.0], abs=1e-15)
    assert path.skid is not None
    before, after = path.at(1.0 - 1e-12), path.at(1.0)
    assert float(before.time_s) == pytest.approx(float(after.time_s), rel=1e-9)
    for axis in (0, 1):
        assert float(before.velocity_m_s[axis]) == pytest.approx(float(after.velocity_m_s[axis]), abs=1e-9)
        assert float(before.displacement_m[axis]) == pytest.approx(
            float(after.displacement_m[axis]), abs=1e-9
        )


def test_rolling_from_the_start_has_no_skid() -> None:
    for putt in (roll_out(Launch(2.0), LEVEL, sliding_friction=None), roll_out(Launch(2.0, 0.0, 1.0), LEVEL)):
        assert (putt.skid_length_m, putt.skid_time_s) == (0.0, 0.0)
        assert putt.roll_out_m == pytest.approx(2.0**2 / (2 * LEVEL.level_deceleration_m_s2))


def test_backspin_shortens_and_overspin_lengthens() -> None:
    lengths = [roll_out(Launch(2.0, 0.0, share), LEVEL).roll_out_m for share in (-1.0, 0.0, 0.5, 1.0, 1.5)]
    assert lengths == sorted(lengths)


def test_a_rougher_skid_costs_length() -> None:
    lengths = [roll_out(Launch(2.0), LEVEL, sliding_friction=mu).roll_out_m for mu in (0.6, 0.4, 0.2, 0.1)]
    assert lengths == sorted(lengths)


@pytest.mark.parametrize(
    ("launch", "slope", "cross"), [(Launch(2.5, 0.3, -0.4), 0.035, -0.044), (Launch(1.5, -0.2), -0.05, 0.02)]
)
def test_against_the_equations_of_motion_in_time(launch: Launch, slope: float, cross: float) -> None:
    """Newton's equations as they stand, ball velocity and spin apart, without any of the path's algebra."""
    green, mu, g = Green(10 * FOOT_M, slope, cross), 0.2, 9.81
    normal = np.array([-math.tan(slope), math.tan(cross), 1.0])
    normal /= np.linalg.norm(normal)
    x = np.array([math.cos(slope), 0.0, math.sin(slope)])
    pull = np.array([-g * x[2], -g * np.cross(normal, x)[2]])
    load, resistance = g * normal[2], 1.83**2 * 7 / (10 * g * green.speed_m)

    def skid(_: float, s: np.ndarray) -> np.ndarray:
        slip = s[2:4] - s[4:6]
        rub = mu * load * slip / np.hypot(*slip)
        return np.concatenate([s[2:4], pull - rub, 2.5 * rub])

    def roll(_: float, s: np.ndarray) -> np.ndarray:
        drag = resistance * load * s[2:4] / np.hypot(*s[2:4])
        return np.concatenate([s[2:4], 5 / 7 * (pull - drag)])

    path = path_of(launch, green, sliding_friction=mu)
    velocity = np.array(velocity_of(launch))
    start = np.concatenate([[0.0, 0.0], velocity, launch.roll_share * velocity])
    options = {"rtol": 1e-10, "atol": 1e-11}
    skid_time = float(path.skid_end.time_s)
    slid = solve_ivp(skid, (0.0, skid_time - 1e-7), start, **options).y[:, -1]
    assert slid[2:4] == pytest.approx(slid[4:6], abs=1e-5)
    rolled = solve_ivp(roll, (skid_time, float(path.rest().time_s) - 1e-6), slid[:4], **options).y[:, -1]
    assert rolled[:2] == pytest.approx([float(d) for d in path.rest().displacement_m], abs=1e-6)
    assert rolled[2:] == pytest.approx([0.0, 0.0], abs=1e-5)


@pytest.mark.parametrize("slope", [4.5, -4.5, -20.0])
def test_a_ball_that_never_stops_is_told_with_slope_and_limit(slope: float) -> None:
    green = Green(10 * FOOT_M, slope_rad=math.radians(slope))
    with pytest.raises(SimulationError, match=rf"never stops.*{abs(slope):.2f}°.*7\.84 % \(4\.48°\)"):
        roll_out(Launch(1.0), green)


def test_both_slopes_count_towards_the_limit() -> None:
    tilt = math.atan(0.0784 / math.sqrt(2))
    roll_out(Launch(1.0), Green(10 * FOOT_M, 0.999 * tilt, 0.999 * tilt))
    with pytest.raises(SimulationError, match="never stops"):
        roll_out(Launch(1.0), Green(10 * FOOT_M, 1.001 * tilt, 1.001 * tilt))


def test_a_skid_without_end_is_told() -> None:
    green = Green(2 * FOOT_M, slope_rad=math.radians(-20.0))
    with pytest.raises(SimulationError, match=r"sliding friction of 0\.05"):
        roll_out(Launch(1.0), green, sliding_friction=0.05)


@pytest.mark.parametrize(
    "launch",
    [Launch(0.0), Launch(-1.0), Launch(math.nan), Launch(math.inf), Launch(21.0), Launch(1.0, math.nan),
     Launch(1.0, 4.0), Launch(1.0, 0.0, math.nan), Launch(1.0, 0.0, 5.0)],
)  # fmt: skip
def test_what_is_no_putt_is_refused(launch: Launch) -> None:
    with pytest.raises(SettingsError):
        roll_out(launch, LEVEL)


@pytest.mark.parametrize("friction", [0.0, -0.4, math.nan, 3.0])
def test_what_is_no_friction_is_refused(friction: float) -> None:
    with pytest.raises(SettingsError, match="sliding friction"):
        roll_out(Launch(1.0), LEVEL, sliding_friction=friction)


def test_the_release_speed_is_a_parameter() -> None:
    """With the 6.4 ft/s of a USGA schools worksheet (read) the same green speed means more resistance."""
    standard = roll_out(Launch(2.0), LEVEL, sliding_friction=None)
    worksheet = roll_out(Launch(2.0), LEVEL, sliding_friction=None, release_speed_m_s=6.4 * FOOT_M)
    ratio = worksheet.deceleration_m_s2 / standard.deceleration_m_s2
    assert ratio == pytest.approx((6.4 * FOOT_M / 1.83) ** 2)
    with pytest.raises(SettingsError, match="release speed"):
        plane_of(LEVEL, math.nan)
    with pytest.raises(SettingsError, match="no green"):
        plane_of([])
