"""Players with known habits do what their habits say, and agree with the stroke model."""

from __future__ import annotations

import numpy as np
import pytest

from pacewright.simulate.habits import Habits, strokes_of
from pacewright.simulate.stroke_model import StrokeModel


@pytest.mark.parametrize("index", [-0.5, 0.0, 0.6])
@pytest.mark.parametrize("power", [2.0, 2.4])
def test_speed_and_acceleration_are_those_of_the_stroke_model(index: float, power: float) -> None:
    habits = Habits(acceleration_index=index, downswing_power=power, length_spread=0, time_spread=0)
    (stroke,) = strokes_of(habits, np.random.default_rng(0), [3.0])
    speed = power * (power + 1) / (2 * power - index) * habits.backswing_length_m / habits.downswing_time_s
    model = StrokeModel(
        downswing_time_s=habits.downswing_time_s,
        backswing_length_m=habits.backswing_length_m,
        downswing_power=power,
        impact_acceleration_m_s2=index * speed / habits.downswing_time_s,
    )
    assert model.impact_speed_m_s == pytest.approx(speed)
    assert stroke.value("impact_speed_m_s") == pytest.approx(speed, abs=4 * stroke.sd("impact_speed_m_s"))
    assert stroke.value("impact_acceleration_index") == pytest.approx(index, abs=0.36)


def test_spreads_and_correlation() -> None:
    habits = Habits(length_spread=0.05, time_spread=0.05, correlation=0.8)
    strokes = strokes_of(habits, np.random.default_rng(1), [3.0] * 2000)
    length, time = (
        np.log([s.value(name) for s in strokes]) for name in ("backswing_length_m", "downswing_time_s")
    )
    assert (length.std(), time.std()) == pytest.approx((0.05, 0.05), rel=0.1)
    assert np.corrcoef(length, time)[0, 1] == pytest.approx(0.8, abs=0.05)


def test_lengths_asked_change_length_and_time() -> None:
    habits = Habits(length_exponent=0.5, time_exponent=0.1, length_spread=0, time_spread=0)
    strokes = strokes_of(habits, np.random.default_rng(2), [1.0, 9.0])
    short, long = (s.value("backswing_length_m") for s in strokes)
    assert long / short == pytest.approx(3.0, rel=0.05)
    short, long = (s.value("downswing_time_s") for s in strokes)
    assert long / short == pytest.approx(9**0.1, rel=0.05)
