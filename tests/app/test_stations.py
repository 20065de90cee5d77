"""The station as a use case: lengths on a green become markers, with physics from the ball."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pacewright.app.putting import launch_for_length, roll_putt
from pacewright.app.stations import build_station
from pacewright.core.equipment import Putter
from pacewright.core.errors import SettingsError
from pacewright.core.green import Green
from pacewright.core.measure import Measure
from pacewright.core.stroke import Stroke
from pacewright.core.units import FOOT_M
from pacewright.simulate.habits import Habits, strokes_of

GREEN = Green(10 * FOOT_M)

lengths = st.floats(0.5, 25.0)
greens = st.builds(Green, st.floats(6 * FOOT_M, 14 * FOOT_M), st.floats(-0.015, 0.03))


@settings(max_examples=40, deadline=None)
@given(length=lengths, longer=st.floats(1.01, 3.0), green=greens, beats=st.floats(60, 120))
def test_a_longer_putt_has_a_longer_back_marker(
    length: float, longer: float, green: Green, beats: float
) -> None:
    short, long = build_station([length, longer * length], green, beats_per_minute=beats).stations
    assert 0.0 < short.back_marker_m < long.back_marker_m < math.inf
    for one in (short, long):
        assert one.back_marker_band_m[0] < one.back_marker_m < one.back_marker_band_m[1]


@settings(max_examples=40, deadline=None)
@given(length=lengths, green=greens, share=st.floats(0.02, 0.3), beyond=st.floats(0.0, 0.5))
def test_the_ends_of_the_band_end_at_the_stated_error_of_distance(
    length: float, green: Green, share: float, beyond: float
) -> None:
    station = build_station([length], green, distance_tolerance_share=share, beyond_m=beyond)
    (one,) = station.stations
    for end, sign in zip(one.back_marker_band_m, (-1, 1), strict=True):
        speed = station.ball_speed_ratio * station.swing_constant * end / one.downswing_time_s
        assert roll_putt(speed, green).roll_out_m == pytest.approx(length + beyond + sign * share * length)


def test_thirty_feet_at_ninety_beats() -> None:
    # Launch from the reference's closed form: skid to 5/7 of the speed, then 1.83²/(2·S) (derived).
    (one,) = build_station([30 * FOOT_M], GREEN).stations
    deceleration = 1.83**2 / (2 * GREEN.speed_m)
    per_square = 12 / (49 * 0.4 * 9.81) + (5 / 7) ** 2 / (2 * deceleration)
    assert one.launch_speed_m_s == pytest.approx(math.sqrt(30 * FOOT_M / per_square), rel=5e-3)
    # 350 g and restitution 0.80 give 1.591 (derived); equal markers give head speed π·B/P.
    assert one.head_speed_m_s == pytest.approx(one.launch_speed_m_s / 1.591, rel=1e-3)
    assert one.back_marker_m == pytest.approx(one.head_speed_m_s * (60 / 90) / math.pi)


def test_a_heavier_head_needs_a_shorter_backswing() -> None:
    light, heavy = (build_station([3.0], GREEN, putter=Putter(mass, 0.8)).stations[0] for mass in (0.3, 0.5))
    assert heavy.back_marker_m < light.back_marker_m


def test_the_players_own_strokes_take_the_place_of_the_textbook() -> None:
    strokes = strokes_of(Habits(downswing_power=2.4), np.random.default_rng(0), [3.0] * 30)
    ball = Measure(1.50, 0.01)
    strokes = [Stroke("putt", {}, {**s.measures, "ball_speed_ratio": ball}, index=s.index) for s in strokes]
    textbook, own = build_station([3.0], GREEN), build_station([3.0], GREEN, strokes=strokes)
    assert textbook.swing_constant == pytest.approx(math.pi / 2)
    assert own.swing_constant == pytest.approx(1.7, abs=0.03)
    assert own.swing_constant_sd < textbook.swing_constant_sd
    assert own.ball_speed_ratio == pytest.approx(1.50, abs=0.01)
    assert own.constant_source == "this player's own, from 30 strokes"
    (one,) = own.stations
    assert one.head_speed_m_s == pytest.approx(launch_for_length(3.0, GREEN).launch_speed_m_s / 1.5, rel=0.01)
    assert one.back_marker_m == pytest.approx(one.head_speed_m_s * one.downswing_time_s / one.swing_constant)


@pytest.mark.parametrize("share", [0.0, 1.0, -0.1, math.nan])
def test_a_tolerance_that_makes_no_sense(share: float) -> None:
    with pytest.raises(SettingsError, match="distance error"):
        build_station([3.0], GREEN, distance_tolerance_share=share)


@pytest.mark.parametrize("length", [0.0, -1.0, math.inf, math.nan])
def test_a_length_that_makes_no_sense(length: float) -> None:
    with pytest.raises(SettingsError, match="length is above 0"):
        build_station([length], GREEN)
