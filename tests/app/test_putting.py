"""Use cases of the ball."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pacewright.app.putting import (
    ball_speed_ratio,
    launch_for_length,
    launch_speeds_for_lengths,
    measure_green,
    predicted_roll_out,
    putt_at_hole,
    roll_putt,
)
from pacewright.ball.impact import RESTITUTION_SD
from pacewright.core.equipment import Putter
from pacewright.core.errors import SettingsError
from pacewright.core.green import Green
from pacewright.core.measure import Measure
from pacewright.core.units import FOOT_M

GREEN = Green(10 * FOOT_M)


def test_a_launch_and_a_length_are_two_ways_to_the_same_putt() -> None:
    asked = launch_for_length(3.0, GREEN, beyond_m=0.4)
    assert asked.roll_out_m == pytest.approx(3.4)
    assert roll_putt(asked.launch_speed_m_s, GREEN) == asked
    assert launch_speeds_for_lengths([3.0], GREEN, beyond_m=0.4) == (asked.launch_speed_m_s,)


def test_on_a_cross_slope_the_aim_stays_level() -> None:
    """Launched along the line, a putt rests as far along it as it was asked, and beside it."""
    putt = launch_for_length(
        3.0, Green(GREEN.speed_m, cross_slope_rad=math.atan(0.02)), sliding_friction=None
    )
    assert putt.roll_out_m == pytest.approx(3.0)
    # Derived: 0.409 m across at 3.050 m along, and both scale alike.
    assert putt.across_m == pytest.approx(0.409 * 3.0 / 3.050, rel=0.01)


def test_a_putt_comes_to_the_hole() -> None:
    speed = launch_for_length(3.0, GREEN, beyond_m=0.4).launch_speed_m_s
    met = putt_at_hole(speed, 3.0, GREEN)
    assert met.holed
    assert met.speed_m_s == pytest.approx(math.sqrt(2 * GREEN.level_deceleration_m_s2 * 0.454), rel=1e-9)
    assert not putt_at_hole(speed, 3.0, GREEN, direction_rad=0.1).holed


def test_the_green_speed_of_two_rolls() -> None:
    assert measure_green([1.85], [9.81]).speed_ft == pytest.approx(10.2, abs=0.05)  # Woods 2021, read


def test_the_ball_where_it_was_seen_goes_before_the_head() -> None:
    ball, head = Measure(2.4, 0.02), Measure(1.2, 0.02)
    seen = predicted_roll_out(GREEN, Putter(), ball_speed=ball, head_speed=head)
    assert seen is not None
    assert seen.value == pytest.approx(roll_putt(2.4, GREEN).roll_out_m)
    assert seen.method == "roll"
    unseen = predicted_roll_out(GREEN, Putter(), ball_speed=Measure(math.nan, math.nan), head_speed=head)
    assert unseen is not None
    assert unseen.value == pytest.approx(roll_putt(1.2 * ball_speed_ratio(Putter()), GREEN).roll_out_m)
    assert predicted_roll_out(GREEN, Putter(), ball_speed=None, head_speed=None) is None


@given(st.floats(0.8, 4.0), st.floats(0.001, 0.02))
def test_the_uncertainty_of_the_roll_out_is_its_response_to_speed(speed: float, share: float) -> None:
    measured = Measure(speed, share * speed)
    told = predicted_roll_out(GREEN, Putter(), ball_speed=measured, head_speed=None)
    assert told is not None
    up, down = (roll_putt(speed + sign * measured.sd, GREEN).roll_out_m for sign in (1, -1))
    assert told.sd == pytest.approx((up - down) / 2, rel=1e-6)


def test_from_the_head_restitution_adds_to_the_uncertainty() -> None:
    told = predicted_roll_out(GREEN, Putter(), ball_speed=None, head_speed=Measure(1.5, 0.0))
    assert told is not None
    up, down = (
        predicted_roll_out(
            GREEN, Putter(restitution=0.80 + sign * RESTITUTION_SD), ball_speed=None,
            head_speed=Measure(1.5, 0.0),
        )
        for sign in (1, -1)
    )  # fmt: skip
    assert up is not None
    assert down is not None
    assert told.sd == pytest.approx((up.value - down.value) / 2, rel=1e-6)


def test_an_unknown_uncertainty_stays_unknown() -> None:
    told = predicted_roll_out(GREEN, Putter(), ball_speed=Measure(2.0, math.nan), head_speed=None)
    assert told is not None
    assert math.isnan(told.sd)


def test_a_speed_that_is_no_putts_is_refused() -> None:
    with pytest.raises(SettingsError, match="launch speed"):
        predicted_roll_out(GREEN, Putter(), ball_speed=Measure(-1.0, 0.1), head_speed=None)
