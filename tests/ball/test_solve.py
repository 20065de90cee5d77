"""From a length to the launch speed that covers it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pacewright.ball.path import roll_out
from pacewright.ball.solve import launch_speed, launch_speeds
from pacewright.core.errors import SettingsError, SimulationError
from pacewright.core.green import Green
from pacewright.core.launch import Launch
from pacewright.core.units import FOOT_M
from tests.ball.greens import LEVEL, frictions, greens


@given(st.floats(0.3, 15.0), st.floats(0.0, 1.0), greens(0.6), frictions())
def test_the_putt_rests_where_it_was_asked_to(
    length: float, beyond: float, green: Green, friction: float | None
) -> None:
    speed = launch_speed(length, green, beyond_m=beyond, sliding_friction=friction)
    rest = roll_out(Launch(speed), green, sliding_friction=friction)
    assert rest.roll_out_m == pytest.approx(length + beyond, rel=1e-9)


@given(st.floats(0.3, 15.0), st.floats(0.002, 0.05))
def test_uphill_needs_more_than_level_and_downhill_less(length: float, tilt: float) -> None:
    up, level, down = (
        launch_speed(length, Green(LEVEL.speed_m, slope_rad=slope)) for slope in (tilt, 0.0, -tilt)
    )
    assert up > level > down


@given(st.floats(0.3, 15.0), st.floats(1.05, 2.0), frictions())
def test_longer_needs_more_and_a_quicker_green_less(
    length: float, factor: float, friction: float | None
) -> None:
    here = launch_speed(length, LEVEL, sliding_friction=friction)
    assert launch_speed(length * factor, LEVEL, sliding_friction=friction) > here
    assert launch_speed(length, Green(LEVEL.speed_m * factor), sliding_friction=friction) < here


def test_many_lengths_at_once() -> None:
    lengths = [0.9, 3.0, 9.1]
    assert launch_speeds(lengths, LEVEL) == pytest.approx([launch_speed(length, LEVEL) for length in lengths])
    assert launch_speeds(np.array([]), LEVEL).size == 0


@pytest.mark.parametrize("length", [0.0, -1.0, math.nan, math.inf, 101.0])
def test_what_is_no_length_is_refused(length: float) -> None:
    with pytest.raises(SettingsError, match="A putt of"):
        launch_speed(length, LEVEL)


@pytest.mark.parametrize("beyond", [-0.1, math.nan, 21.0])
def test_what_is_no_distance_beyond_is_refused(beyond: float) -> None:
    with pytest.raises(SettingsError, match="beyond the hole"):
        launch_speed(3.0, LEVEL, beyond_m=beyond)


def test_what_no_putt_reaches_is_told() -> None:
    with pytest.raises(SimulationError, match="would need"):
        launch_speed(100.0, Green(0.4, slope_rad=0.4))
    with pytest.raises(SimulationError, match="backspin"):
        launch_speed(1.0, Green(14 * FOOT_M), roll_share=-3.0, sliding_friction=2.0)
