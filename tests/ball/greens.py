"""Greens and launches for the tests of the ball, and what physics says of any way over a plane."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import strategies as st

from pacewright.ball.hodograph import Motion
from pacewright.ball.path import PlanePath
from pacewright.core.green import Green
from pacewright.core.launch import Launch
from pacewright.core.recording import FloatArray
from pacewright.core.units import FOOT_M

LEVEL = Green(10 * FOOT_M)


@st.composite
def greens(draw: st.DrawFn, share_of_limit: float = 0.95) -> Green:
    """A green of 6 to 14 ft, sloped in any direction by at most that share of what still stops a ball."""
    speed_m = draw(st.floats(6.0, 14.0)) * FOOT_M
    resistance = 1.83**2 * 7 / (10 * 9.81 * speed_m)
    steep, way = resistance * share_of_limit * draw(st.floats(0.0, 1.0)), draw(st.floats(-math.pi, math.pi))
    return Green(speed_m, math.atan(steep * math.cos(way)), math.atan(steep * math.sin(way)))


def launches() -> st.SearchStrategy[Launch]:
    """Putts of any direction near the line, with backspin to overspin."""
    return st.builds(Launch, st.floats(0.2, 6.0), st.floats(-1.5, 1.5), st.floats(-1.0, 1.5))


def frictions() -> st.SearchStrategy[float | None]:
    """Sliding friction of turf, or rolling from the start."""
    return st.none() | st.floats(0.1, 0.6)


def energies(path: PlanePath, progress: FloatArray) -> FloatArray:
    """Energy by mass of a ball at these points of its way: moving, turning, and height along the surface."""
    motion: Motion = path.at(progress)
    velocity = np.array(motion.velocity_m_s)
    slip = np.zeros_like(velocity)
    if path.skid is not None:
        slip = np.array(path.skid.slip.at(np.clip(1.0 - progress, 0.0, 1.0)).velocity_m_s)
    height = -np.array(path.plane.pull_m_s2) @ np.array(motion.displacement_m)
    squares = 0.5 * velocity**2 + 0.2 * (velocity - slip) ** 2
    return np.asarray(squares.sum(axis=0) + height)
