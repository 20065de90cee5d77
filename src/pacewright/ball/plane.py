"""A green as a tilted plane: what gravity and friction do to a ball on it.

Lengths are measured on the surface, as a tape measures them: x along the target line, y square to it. Slopes
are those of core.green.Green. Every figure may be an array, one entry a green.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pacewright.core.errors import SettingsError, SimulationError
from pacewright.core.green import GRAVITY_M_S2, RELEASE_SPEED_M_S, Green
from pacewright.core.recording import FloatArray
from pacewright.core.units import FOOT_M

Vector = tuple[FloatArray, FloatArray]
"""x and y components, arrays of one shape."""

SPHERE = 5.0 / 7.0
"""Share of a force that moves a rolling uniform sphere; the rest turns it."""


@dataclass(frozen=True, slots=True)
class Plane:
    """Gravity into the surface (``normal_m_s2``) and along it (``pull_m_s2``); rolling ρ (``resistance``)."""

    normal_m_s2: FloatArray
    pull_m_s2: Vector
    resistance: FloatArray

    @property
    def rolling_friction_m_s2(self) -> FloatArray:
        """Deceleration of a rolling ball by the turf alone: (5/7)·ρ·g·cos φ (Penner 2002)."""
        return SPHERE * self.resistance * self.normal_m_s2

    @property
    def rolling_pull_m_s2(self) -> Vector:
        """Acceleration of a rolling ball by the slope alone: (5/7)·g·sin φ downhill."""
        return SPHERE * self.pull_m_s2[0], SPHERE * self.pull_m_s2[1]

    @property
    def steepness(self) -> FloatArray:
        """tan φ of the steepest way down."""
        return np.asarray(np.hypot(*self.pull_m_s2) / self.normal_m_s2)


def plane_of(green: Green | Sequence[Green], release_speed_m_s: float = RELEASE_SPEED_M_S) -> Plane:
    """The plane of one green (figures of shape ()) or of many (shape (n,)).

    ``release_speed_m_s`` turns green speed into rolling resistance. Raises SimulationError when a green is
    so steep that a ball never stops on it (tan φ ≥ ρ, Penner 2002).
    """
    if not 1.0 <= release_speed_m_s <= 3.0:
        raise SettingsError(f"A release speed of {release_speed_m_s:g} m/s is outside 1 to 3 m/s; use 1.83.")
    greens = [green] if isinstance(green, Green) else list(green)
    if not greens:
        raise SettingsError("There is no green to roll on; give at least one.")
    figures = np.array([(g.speed_m, g.slope_rad, g.cross_slope_rad) for g in greens], dtype=np.float64)
    speed, slope, cross = figures[0] if isinstance(green, Green) else figures.T
    rise, fall = np.tan(slope), np.tan(cross)
    normal = GRAVITY_M_S2 / np.sqrt(1.0 + rise**2 + fall**2)
    pull = -GRAVITY_M_S2 * np.sin(slope), normal * fall * np.cos(slope)
    resistance = release_speed_m_s**2 / (2.0 * SPHERE * GRAVITY_M_S2 * speed)
    plane = Plane(np.asarray(normal), (np.asarray(pull[0]), np.asarray(pull[1])), np.asarray(resistance))
    _check_stops(plane, greens)
    return plane


def steepest_that_stops(green: Green, release_speed_m_s: float = RELEASE_SPEED_M_S) -> float:
    """tan φ of the slope from which on a rolling ball never stops: it equals ρ."""
    return release_speed_m_s**2 / (2.0 * SPHERE * GRAVITY_M_S2 * green.speed_m)


def _check_stops(plane: Plane, greens: Sequence[Green]) -> None:
    too_steep = np.flatnonzero(np.atleast_1d(plane.steepness >= plane.resistance))
    if too_steep.size == 0:
        return
    first = int(too_steep[0])
    tilt, limit = np.atleast_1d(plane.steepness)[first], np.atleast_1d(plane.resistance)[first]
    which = f" (green {first + 1} of {len(greens)})" if len(greens) > 1 else ""
    raise SimulationError(
        f"The ball never stops on this green{which}: it falls {slope_text(tilt)} at its steepest, and at "
        f"{greens[first].speed_m / FOOT_M:.3g} ft a ball stops below {slope_text(limit)} only. "
        "Give a flatter slope or a slower green."
    )


def slope_text(tangent: float) -> str:
    """A slope for people, from its tangent: ``7.84 % (4.48°)``."""
    return f"{100.0 * tangent:.2f} % ({np.degrees(np.arctan(tangent)):.2f}°)"
