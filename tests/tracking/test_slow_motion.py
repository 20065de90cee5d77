"""The capture rate from the ball's slowing (textbook sliding and rolling) and the time of the downswing."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pacewright.core.errors import ReadError
from pacewright.core.recording import FloatArray
from pacewright.tracking.slow_motion import capture_rate_hz, inferred_rate_hz

G_M_S2 = 9.81


def travel(time_s: FloatArray, speed_m_s: float, sliding: float, rolling_m_s2: float) -> FloatArray:
    """Way of a ball that slides until 5/7 of its speed is left and then rolls."""
    until = 2 / 7 * speed_m_s / (sliding * G_M_S2)
    slid = np.minimum(time_s, until)
    rolled = np.maximum(time_s - until, 0.0)
    there = speed_m_s * slid - 0.5 * sliding * G_M_S2 * slid**2
    return np.asarray(there + 5 / 7 * speed_m_s * rolled - 0.5 * rolling_m_s2 * rolled**2)


@settings(max_examples=40)
@given(
    st.sampled_from([30.0, 240.0]),
    st.floats(0.25, 0.38),
    st.floats(1.0, 3.0),
    st.floats(0.2, 0.45),
    st.floats(0.4, 0.9),
)
def test_rate_of_usual_putts(
    filmed_hz: float, downswing_s: float, speed_m_s: float, sliding: float, rolling_m_s2: float
) -> None:
    time_s = np.arange(0.0, 0.35, 1 / filmed_hz)
    slower = filmed_hz / 30.0
    rate_hz, _ = inferred_rate_hz(
        30.0, downswing_s * slower, time_s * slower, travel(time_s, speed_m_s, sliding, rolling_m_s2)
    )
    assert rate_hz == pytest.approx(filmed_hz)


def test_a_question_where_it_cannot_be_told() -> None:
    time_s = np.arange(0.0, 0.35, 1 / 100)
    with pytest.raises(ReadError, match="At how many was it filmed"):
        capture_rate_hz("clip.mp4", 30.0, 1.0, time_s * 3.3, travel(time_s, 1.5, 0.3, 0.6))
