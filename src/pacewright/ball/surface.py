"""Surfaces to roll on: a green as a height z over the map (x, y), all in metres."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from pacewright.core.green import Green

_STEP_M = 1e-4
"""Step of the difference quotients: far below the size of any feature of a green."""


class Surface(Protocol):
    """A surface: its height, and the slope of the height along x and y."""

    def height_m(self, x_m: float, y_m: float) -> float:
        """Height over the map."""
        ...

    def gradient(self, x_m: float, y_m: float) -> tuple[float, float]:
        """Rise over run along x and along y."""
        ...


@dataclass(frozen=True, slots=True)
class TiltedPlane:
    """The plane of a `Green`, for stepping; `path` has its closed form."""

    rise: float
    fall: float

    @classmethod
    def of(cls, green: Green) -> TiltedPlane:
        """The plane with the slopes of that green."""
        return cls(math.tan(green.slope_rad), math.tan(green.cross_slope_rad))

    def height_m(self, x_m: float, y_m: float) -> float:
        """See `Surface`."""
        return self.rise * x_m - self.fall * y_m

    def gradient(self, x_m: float, y_m: float) -> tuple[float, float]:
        """See `Surface`."""
        return self.rise, -self.fall


@dataclass(frozen=True, slots=True)
class HeightField:
    """Any smooth height function; its gradient by central differences, unless ``slope`` gives it."""

    height: Callable[[float, float], float]
    slope: Callable[[float, float], tuple[float, float]] | None = None

    def height_m(self, x_m: float, y_m: float) -> float:
        """See `Surface`."""
        return self.height(x_m, y_m)

    def gradient(self, x_m: float, y_m: float) -> tuple[float, float]:
        """See `Surface`."""
        if self.slope is not None:
            return self.slope(x_m, y_m)
        f, h = self.height, _STEP_M
        return (
            (f(x_m + h, y_m) - f(x_m - h, y_m)) / (2.0 * h),
            (f(x_m, y_m + h) - f(x_m, y_m - h)) / (2.0 * h),
        )


@dataclass(frozen=True, slots=True)
class Contact:
    """The surface under a ball: unit normal, and how much a motion over it bends the surface upward."""

    surface: Surface
    x_m: float
    y_m: float
    slope_x: float
    slope_y: float

    @classmethod
    def at(cls, surface: Surface, x_m: float, y_m: float) -> Contact:
        """The surface at that place of the map."""
        return cls(surface, x_m, y_m, *surface.gradient(x_m, y_m))

    @property
    def normal(self) -> tuple[float, float, float]:
        """Unit normal, upward."""
        size = math.sqrt(1.0 + self.slope_x**2 + self.slope_y**2)
        return -self.slope_x / size, -self.slope_y / size, 1.0 / size

    def size(self, v_x: float, v_y: float) -> float:
        """Length of the tangent vector over the map vector (v_x, v_y)."""
        v_z = self.slope_x * v_x + self.slope_y * v_y
        return math.sqrt(v_x * v_x + v_y * v_y + v_z * v_z)

    def bend(self, v_x: float, v_y: float, w_x: float, w_y: float) -> float:
        """Normal acceleration of a tangent vector w carried along at v: vᵀ·H·w / √(1 + |∇h|²)."""
        size = math.hypot(v_x, v_y)
        if size == 0.0:
            return 0.0
        step_x, step_y = _STEP_M * v_x / size, _STEP_M * v_y / size
        ahead = self.surface.gradient(self.x_m + step_x, self.y_m + step_y)
        behind = self.surface.gradient(self.x_m - step_x, self.y_m - step_y)
        per_metre = size / (2.0 * _STEP_M)
        change_x, change_y = (ahead[0] - behind[0]) * per_metre, (ahead[1] - behind[1]) * per_metre
        return (change_x * w_x + change_y * w_y) * self.normal[2]
