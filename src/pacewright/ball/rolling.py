"""Pure roll on a plane: dv/dt = −(5/7)·ρ·g·cos φ·v̂ + (5/7)·g_slope.

Source: Penner, Can. J. Phys. 80 (2002), second-hand. Straight up or down a slope this is his
−(5/7)·g·(ρ cos φ ± sin φ). ρ is constant here; `stepping` takes any law of speed, since greens differ.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

from pacewright.ball.hodograph import Decay, decay
from pacewright.ball.plane import SPHERE, Plane, Vector
from pacewright.core.green import GRAVITY_M_S2, RELEASE_SPEED_M_S, Green


class RollingResistance(Protocol):
    """Turf's resistance to a rolling ball: ρ as a function of ball speed."""

    def coefficient(self, speed_m_s: float) -> float:
        """ρ at that speed."""
        ...


@dataclass(frozen=True, slots=True)
class ConstantResistance:
    """ρ free of speed, as Penner takes it."""

    resistance: float

    def coefficient(self, speed_m_s: float) -> float:
        """ρ, whatever the speed."""
        return self.resistance


def constant_resistance(green: Green, release_speed_m_s: float = RELEASE_SPEED_M_S) -> ConstantResistance:
    """ρ that stops a ball released at that speed after the green's stated roll on the level."""
    return ConstantResistance(release_speed_m_s**2 / (2.0 * SPHERE * GRAVITY_M_S2 * green.speed_m))


def rolling(velocity_m_s: Vector, plane: Plane) -> Decay:
    """The roll to rest of balls that start with that velocity."""
    return decay(velocity_m_s, plane.rolling_friction_m_s2, plane.rolling_pull_m_s2)


def rolling_deceleration_m_s2(plane: Plane, direction_rad: float = 0.0) -> float:
    """Deceleration of a ball that rolls in that direction: 0.549 m/s² on the level at 10 ft."""
    pull_x, pull_y = plane.rolling_pull_m_s2
    along = pull_x * math.cos(direction_rad) + pull_y * math.sin(direction_rad)
    return float(plane.rolling_friction_m_s2 - along)
