"""Skid: the ball slides over the turf until friction has brought it to pure roll.

Sliding friction μ acts against the slip u = v − r·ω of the ball's lowest point. A uniform sphere turns 5/2
times as readily as it slows, so that du/dt = −(7/2)·μ·g·cos φ·û + g_slope, and v follows from u and time:
v = v₀ + (2/7)(u − u₀) + (5/7)·g_slope·t. On the level with no spin the skid ends at 5/7 of the launch speed.
Textbook mechanics (derived); on turf μ is contested, hence a parameter. Rolling resistance during the skid is
left out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pacewright.ball.hodograph import Decay, Motion, decay
from pacewright.ball.plane import SPHERE, Plane, Vector
from pacewright.core.errors import SettingsError, SimulationError
from pacewright.core.recording import FloatArray

SLIDING_FRICTION = 0.4
"""Default μ between ball and turf; figures from 0.1 to 0.4 are in use (contested)."""


@dataclass(frozen=True, slots=True)
class Skid:
    """The skid of each ball: its slip, its velocity at launch, and the slope's pull."""

    slip: Decay
    launch_m_s: Vector
    slip_launch_m_s: Vector
    pull_m_s2: Vector

    def at(self, left: FloatArray | float) -> Motion:
        """State of the ball when the share ``left`` of its slip is left (see `Decay.at`)."""
        slip = self.slip.at(left)
        time = slip.time_s
        velocity, place = [], []
        for axis in (0, 1):
            pull = SPHERE * self.pull_m_s2[axis]
            kept = self.launch_m_s[axis] - (1.0 - SPHERE) * self.slip_launch_m_s[axis]
            velocity.append(kept + (1.0 - SPHERE) * slip.velocity_m_s[axis] + pull * time)
            place.append(kept * time + (1.0 - SPHERE) * slip.displacement_m[axis] + 0.5 * pull * time**2)
        return Motion(time, (velocity[0], velocity[1]), (place[0], place[1]))

    def end(self) -> Motion:
        """State of the ball as pure roll begins."""
        return self.at(0.0)


def skid(launch_m_s: Vector, roll_share: FloatArray | float, plane: Plane, sliding_friction: float) -> Skid:
    """The skid that follows a launch with that velocity and spin (``roll_share`` of pure roll).

    Raises SettingsError for a friction outside 0.01 to 2, and SimulationError when it is too small to end the
    skid on this slope.
    """
    check_friction(sliding_friction)
    friction = 3.5 * sliding_friction * plane.normal_m_s2
    if bool(np.any(friction <= np.hypot(*plane.pull_m_s2))):
        raise SimulationError(
            f"With a sliding friction of {sliding_friction:g} the ball slides on down this slope and never "
            "rolls; give more friction or a flatter slope."
        )
    slip = launch_m_s[0] * (1.0 - roll_share), launch_m_s[1] * (1.0 - roll_share)
    return Skid(decay(slip, friction, plane.pull_m_s2), launch_m_s, slip, plane.pull_m_s2)


def check_friction(sliding_friction: float) -> None:
    """Raise SettingsError unless μ lies within 0.01 to 2."""
    if not 0.01 <= sliding_friction <= 2.0:
        raise SettingsError(
            f"A sliding friction of {sliding_friction:g} is outside 0.01 to 2; turf is taken as 0.1 to 0.4."
        )
