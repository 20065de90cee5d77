"""Ball, putter and hole. Values: Rules of Golf and Equipment Rules (USGA and R&A)."""

from __future__ import annotations

from dataclasses import dataclass

BALL_DIAMETER_M = 0.04267
BALL_RADIUS_M = BALL_DIAMETER_M / 2.0
BALL_MASS_KG = 0.04593
HOLE_RADIUS_M = 0.054


@dataclass(frozen=True, slots=True)
class Putter:
    """The head that meets the ball: mass and coefficient of restitution (stated defaults, not truths)."""

    head_mass_kg: float = 0.350
    restitution: float = 0.80
    name: str = ""
