"""Green speed in two units, and the deceleration that follows from the ramp's release speed."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pacewright.core.errors import SettingsError
from pacewright.core.green import RELEASE_SPEED_M_S, Green
from pacewright.core.units import FOOT_M


@given(st.floats(0.3, 10.0))
def test_a_ball_released_by_the_ramp_stops_at_the_green_speed(speed_m: float) -> None:
    """v² = 2·a·s turned round, with the release speed of Holmes (1986), by way of Penner (2002)."""
    deceleration = Green(speed_m).level_deceleration_m_s2
    stop_time_s = RELEASE_SPEED_M_S / deceleration
    assert RELEASE_SPEED_M_S * stop_time_s / 2 == pytest.approx(speed_m, rel=1e-12)


@given(st.floats(1.0, 32.0))
def test_feet_and_metres_agree(feet: float) -> None:
    assert Green(feet * FOOT_M).speed_ft == pytest.approx(feet, rel=1e-12)


@pytest.mark.parametrize("speed_m", [0.0, -3.0, 0.29, 10.1, math.nan, math.inf])
def test_a_speed_that_no_green_has_is_refused_with_advice(speed_m: float) -> None:
    with pytest.raises(SettingsError, match="such as 10ft"):
        Green(speed_m)


@pytest.mark.parametrize("slopes", [(0.5, 0.0), (0.0, -0.5), (math.nan, 0.0), (0.0, math.nan)])
def test_a_slope_that_no_ball_stays_on_is_refused(slopes: tuple[float, float]) -> None:
    with pytest.raises(SettingsError, match="slope must be under"):
        Green(3.0, *slopes)
