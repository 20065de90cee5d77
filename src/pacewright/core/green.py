"""A green and its speed."""

from __future__ import annotations

import math
from dataclasses import dataclass

from pacewright.core.errors import SettingsError
from pacewright.core.measure import Remark
from pacewright.core.units import FOOT_M

GRAVITY_M_S2 = 9.81
RELEASE_SPEED_M_S = 1.83
"""Speed at which the ball leaves the ramp that measures green speed (Holmes 1986, by way of Penner 2002)."""


@dataclass(frozen=True, slots=True)
class Green:
    """A green: ``speed_m`` is the level roll of the standard ramp (stimp), in metres.

    ``slope_rad`` is the rise along the target line (uphill positive), ``cross_slope_rad`` the fall
    towards positive y (a ball breaks towards positive y when it is positive).
    """

    speed_m: float
    slope_rad: float = 0.0
    cross_slope_rad: float = 0.0
    name: str = ""

    def __post_init__(self) -> None:
        if not (math.isfinite(self.speed_m) and 0.3 <= self.speed_m <= 10.0):
            raise SettingsError(
                f"A green speed of {self.speed_m / FOOT_M:.3g} ft ({self.speed_m:.3g} m) is outside "
                "1 to 33 ft; "
                "give the roll of the ramp with its unit, such as 10ft or 3.05m."
            )
        if not (abs(self.slope_rad) < 0.5 and abs(self.cross_slope_rad) < 0.5):
            raise SettingsError("A slope must be under 50 % (27°); give it as 2% or 1.1deg.")

    @property
    def speed_ft(self) -> float:
        """Green speed in feet."""
        return self.speed_m / FOOT_M

    @property
    def level_deceleration_m_s2(self) -> float:
        """Deceleration of a rolling ball on the level, from the release speed of the ramp."""
        return RELEASE_SPEED_M_S**2 / (2.0 * self.speed_m)


@dataclass(frozen=True, slots=True)
class GreenSpeed:
    """A measured green speed: the level roll of the ramp and its standard uncertainty (nan where unknown).

    ``slope_rad`` is the rise that the two directions tell of, along the way called up.
    """

    speed_m: float
    sd_m: float
    slope_rad: float
    warnings: tuple[Remark, ...] = ()

    @property
    def speed_ft(self) -> float:
        """Green speed in feet."""
        return self.speed_m / FOOT_M
