"""The hole: the way a ball comes to it, and which balls it takes."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from pacewright.ball.hole import FreeFallCapture, HolmesCapture, arrival, at_hole, is_holed
from pacewright.ball.path import path_of
from pacewright.ball.solve import launch_speed
from pacewright.core.equipment import BALL_RADIUS_M, HOLE_RADIUS_M
from pacewright.core.errors import SettingsError
from pacewright.core.green import Green
from pacewright.core.launch import Launch
from tests.ball.greens import LEVEL, frictions, greens, launches

MODELS = [HolmesCapture(), FreeFallCapture()]


@given(st.floats(0.5, 10.0), st.floats(0.1, 2.0), st.floats(-0.9, 0.9))
def test_a_straight_roll_comes_to_the_rim_as_geometry_says(
    length: float, beyond: float, share: float
) -> None:
    """Level and rolling: a chord of the hole, and v² = v₀² − 2·a·s at the rim."""
    offset = share * HOLE_RADIUS_M
    direction = math.asin(offset / length)
    speed = launch_speed(length, LEVEL, beyond_m=beyond, sliding_friction=None)
    path = path_of(Launch(speed, direction), LEVEL, sliding_friction=None)
    arrived = arrival(path, (length, 0.0))
    rolled = length * math.cos(direction) - math.sqrt(HOLE_RADIUS_M**2 - offset**2)
    at_rim = math.sqrt(speed**2 - 2 * LEVEL.level_deceleration_m_s2 * rolled)
    assert float(arrived.offset_m) == pytest.approx(abs(offset), abs=1e-9)
    assert float(arrived.speed_m_s) == pytest.approx(at_rim, rel=1e-9)
    assert float(arrived.time_s) == pytest.approx((speed - at_rim) / LEVEL.level_deceleration_m_s2, rel=1e-8)


@given(launches(), greens(), frictions(), st.floats(0.3, 6.0), st.floats(-0.5, 0.5))
def test_the_closest_approach_is_the_closest(
    launch: Launch, green: Green, friction: float | None, x: float, y: float
) -> None:
    """Against a fine walk along the way, bent ways included."""
    path = path_of(launch, green, sliding_friction=friction)
    arrived = arrival(path, (x, y))
    walk = path.at(np.concatenate([np.linspace(0.0, 1.0, 500), 2.0 - np.linspace(1.0, 0.0, 20_000) ** 3]))
    place = np.array(walk.displacement_m)
    distance = np.hypot(place[0] - x, place[1] - y)
    step = float(np.max(np.hypot(*np.diff(place))))
    closest = float(distance.min())
    assume(abs(closest - HOLE_RADIUS_M) > step)
    assert bool(arrived.reaches) == (closest < HOLE_RADIUS_M)
    if arrived.reaches:
        assert closest - step <= float(arrived.offset_m) <= closest + 1e-9
        first = int(np.argmax(distance < HOLE_RADIUS_M))
        times = walk.time_s[first - 1], walk.time_s[first]
        assert times[0] - 1e-9 <= float(arrived.time_s) <= times[1] + 1e-9


def test_a_ball_that_dies_over_the_hole_is_holed_and_one_that_dies_short_is_not() -> None:
    for length, holed in ((3.0, True), (3.0 + 0.9 * HOLE_RADIUS_M, True), (3.0 - 1.1 * HOLE_RADIUS_M, False)):
        speed = launch_speed(length, LEVEL)
        assert at_hole(path_of(Launch(speed), LEVEL), 3.0).holed is holed


def test_a_ball_that_misses_has_no_speed_at_the_rim() -> None:
    missed = at_hole(path_of(Launch(3.0, 0.1), LEVEL), 3.0)
    assert not missed.holed
    assert math.isnan(missed.speed_m_s)
    assert math.isnan(missed.offset_m)


@pytest.mark.parametrize("model", MODELS)
def test_the_hole_takes_up_to_the_fastest_speed_and_no_more(model: HolmesCapture | FreeFallCapture) -> None:
    fastest = float(model.fastest_m_s(np.array(0.0), np.array(0.0)))
    rolled = 3.0 - HOLE_RADIUS_M
    for factor, holed in ((0.999, True), (1.001, False)):
        speed = math.sqrt((factor * fastest) ** 2 + 2 * LEVEL.level_deceleration_m_s2 * rolled)
        path = path_of(Launch(speed), LEVEL, sliding_friction=None)
        assert at_hole(path, 3.0, model).holed is holed


@pytest.mark.parametrize("model", MODELS)
def test_off_the_centre_and_downhill_the_hole_takes_less(model: HolmesCapture | FreeFallCapture) -> None:
    offsets = np.linspace(0.0, 0.99 * HOLE_RADIUS_M, 20)
    assert np.all(np.diff(model.fastest_m_s(offsets, np.zeros(20))) < 0.0)
    rises = np.radians(np.linspace(-5.0, 5.0, 20))
    assert np.all(np.diff(model.fastest_m_s(np.zeros(20), rises)) > 0.0)


def test_free_fall_alone_takes_less_than_all_mechanisms() -> None:
    offsets = np.linspace(0.0, HOLE_RADIUS_M - BALL_RADIUS_M, 20)
    level = np.zeros(20)
    free = FreeFallCapture().fastest_m_s(offsets, level)
    assert np.all(free < HolmesCapture().fastest_m_s(offsets, level))


def test_on_a_slope_the_rise_is_that_of_the_travel() -> None:
    green = Green(LEVEL.speed_m, slope_rad=math.radians(3.0))
    up = arrival(path_of(Launch(3.0), green), (1.5, 0.0))
    assert float(up.rise_rad) == pytest.approx(math.radians(3.0))
    side = Green(LEVEL.speed_m, cross_slope_rad=math.radians(3.0))
    assert float(arrival(path_of(Launch(3.0, math.pi / 2), side), (0.0, 1.5)).rise_rad) == pytest.approx(
        math.radians(-3.0)
    )


def test_verdicts_of_many_balls_are_those_of_each() -> None:
    arrived = [arrival(path_of(Launch(v), LEVEL), (3.0, 0.0)) for v in (2.0, 2.4, 3.0, 3.5)]
    assert [bool(is_holed(one, HolmesCapture())) for one in arrived] == [False, True, True, False]


def test_a_hole_under_the_ball_is_refused() -> None:
    with pytest.raises(SettingsError, match="under the ball"):
        at_hole(path_of(Launch(1.0), LEVEL), 0.05)
