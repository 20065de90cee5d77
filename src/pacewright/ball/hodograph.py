"""A velocity that friction of constant size brings to rest on a slope, in closed form.

Both the slip of a skidding ball and the velocity of a rolling one obey du/dt = −A·û + G, with friction A
against the motion and a constant pull G down the slope. With dσ = dt/|u| and components along G (e) and
square to it (n),

    p = |u| + u_e decays like exp(−(A − G)σ),   m = |u| − u_e like exp(−(A + G)σ),   u_n like exp(−A·σ),

and time and displacement are integrals of sums of exponentials. The state is given by what is left of p,
q = exp(−(A − G)σ), from 1 at the start to 0 at rest; nothing is singular on the level or straight up and
down. Derived here; a hodograph solution. A > G is what makes the motion end.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pacewright.ball.plane import Vector
from pacewright.core.recording import FloatArray


@dataclass(frozen=True, slots=True)
class Motion:
    """A moment of a motion: time since its start, velocity, and displacement since its start."""

    time_s: FloatArray
    velocity_m_s: Vector
    displacement_m: Vector


@dataclass(frozen=True, slots=True)
class Decay:
    """The solution, one entry an initial velocity: p, m and u_n at the start, and the direction of G."""

    p_m_s: FloatArray
    m_m_s: FloatArray
    square_m_s: FloatArray
    friction_m_s2: FloatArray
    pull_m_s2: FloatArray
    downhill: Vector

    def at(self, left: FloatArray | float) -> Motion:
        """State when the share ``left`` (1 at the start to 0 at rest, broadcast) of p is left."""
        friction, pull = self.friction_m_s2, self.pull_m_s2
        net, sum_ = friction - pull, friction + pull
        q = np.asarray(left, dtype=np.float64)
        z = q ** (pull / net)
        p0, m0, n0 = self.p_m_s, self.m_m_s, self.square_m_s
        p_now, m_now, n_now = p0 * q, m0 * q * z * z, n0 * q * z
        time = (p0 - p_now) / (2.0 * net) + (m0 - m_now) / (2.0 * sum_)
        along = (p0**2 - p_now**2) / (8.0 * net) - (m0**2 - m_now**2) / (8.0 * sum_)
        square = (n0 * p0 - n_now * p_now) / (2.0 * (2.0 * friction - pull)) + (n0 * m0 - n_now * m_now) / (
            2.0 * (2.0 * friction + pull)
        )
        return Motion(time, self._turned(0.5 * (p_now - m_now), n_now), self._turned(along, square))

    def end(self) -> Motion:
        """State at rest."""
        return self.at(0.0)

    def _turned(self, along: FloatArray, square: FloatArray) -> Vector:
        """From components along and square to the pull to x and y."""
        x, y = self.downhill
        return along * x - square * y, along * y + square * x


def decay(velocity_m_s: Vector, friction_m_s2: FloatArray, pull_m_s2: Vector) -> Decay:
    """The motion that starts with that velocity; ``friction_m_s2`` must exceed the size of ``pull_m_s2``."""
    pull = np.hypot(*pull_m_s2)
    safe = np.where(pull > 0.0, pull, 1.0)
    x = np.where(pull > 0.0, pull_m_s2[0] / safe, 1.0)
    y = pull_m_s2[1] / safe
    along = velocity_m_s[0] * x + velocity_m_s[1] * y
    square = velocity_m_s[1] * x - velocity_m_s[0] * y
    # p·m = u_n²: the smaller of the two comes from the larger one, free of cancellation.
    larger = np.hypot(along, square) + np.abs(along)
    smaller = square**2 / np.where(larger > 0.0, larger, 1.0)
    downhill = along >= 0.0
    return Decay(
        p_m_s=np.where(downhill, larger, smaller),
        m_m_s=np.where(downhill, smaller, larger),
        square_m_s=square,
        friction_m_s2=np.asarray(friction_m_s2),
        pull_m_s2=pull,
        downhill=(x, y),
    )
