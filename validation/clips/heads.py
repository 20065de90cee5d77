"""Shapes and coats of putter heads: footprints as distances, heights, and what is painted on top.

Head frame: origin in the middle of the face at the sole, x towards the target (the face is x = 0, the body
lies behind it), y along the face towards the player for a right-handed head, z up.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from pacewright.core.recording import FloatArray

HALF_EXTENT_M = 0.08
CELLS = 321
"""Cells of a map, so that one step is half a millimetre."""

Distance = Callable[[FloatArray, FloatArray], FloatArray]


@dataclass(frozen=True)
class Part:
    """An upright prism: signed distance of its footprint, from ``low_m`` to ``high_m``."""

    distance: Distance
    low_m: float
    high_m: float


@dataclass(frozen=True)
class Coat:
    """Colours in linear light: body, alignment line or None, sticker or None; gloss 0 (dull) to 1
    (mirror)."""

    body: tuple[float, float, float] = (0.12, 0.12, 0.13)
    line: tuple[float, float, float] | None = (0.8, 0.8, 0.8)
    sticker: tuple[float, float, float] | None = None
    gloss: float = 0.15


def box(x0: float, x1: float, y0: float, y1: float, corner: float = 0.004) -> Distance:
    """A rectangle with rounded corners."""

    def distance(x: FloatArray, y: FloatArray) -> FloatArray:
        dx = np.abs(x - (x0 + x1) / 2) - (x1 - x0) / 2 + corner
        dy = np.abs(y - (y0 + y1) / 2) - (y1 - y0) / 2 + corner
        return np.hypot(np.maximum(dx, 0), np.maximum(dy, 0)) + np.minimum(np.maximum(dx, dy), 0) - corner

    return distance


def half_round(depth: float, half_width: float, from_x: float = -0.006) -> Distance:
    """A half ellipse behind the face (distance to first order)."""

    def distance(x: FloatArray, y: FloatArray) -> FloatArray:
        u, w = (x - from_x) / depth, y / half_width
        k1 = np.hypot(u, w)
        k2 = np.hypot(u / depth, w / half_width)
        ellipse = k1 * (k1 - 1.0) / np.maximum(k2, 1e-6)
        return np.maximum(np.where(k1 < 0.05, -min(depth, half_width), ellipse), x - from_x)

    return distance


def disc(x0: float, y0: float, radius: float) -> Distance:
    """A disc."""
    return lambda x, y: np.hypot(x - x0, y - y0) - radius


def union(*shapes: Distance) -> Distance:
    """All shapes together."""
    return lambda x, y: np.minimum.reduce([shape(x, y) for shape in shapes])


HEADS: dict[str, tuple[Part, ...]] = {
    "blade": (
        Part(box(-0.011, 0.0, -0.058, 0.058, 0.003), 0.0, 0.025),
        Part(box(-0.034, 0.0, -0.046, 0.046, 0.010), 0.0, 0.009),
    ),
    "blade with bumpers": (
        Part(box(-0.010, 0.0, -0.059, 0.059, 0.003), 0.0, 0.024),
        Part(union(box(-0.032, 0.0, -0.058, -0.032, 0.006), box(-0.032, 0.0, 0.032, 0.058, 0.006)),
        0.0, 0.018), Part(box(-0.030, 0.0, -0.040, 0.040, 0.006), 0.0, 0.008),
    ),
    "mallet": (
        Part(union(box(-0.016, 0.0, -0.053, 0.053, 0.004), half_round(0.070, 0.053)), 0.0, 0.024),
    ),
    "winged": (
        Part(box(-0.022, 0.0, -0.052, 0.052, 0.004), 0.0, 0.025),
        Part(
            union(
                box(-0.088, -0.010, 0.026, 0.050, 0.006),
                box(-0.088, -0.010, -0.050, -0.026, 0.006),
                box(-0.060, -0.010, -0.012, 0.012, 0.004),
            ),
            0.0,
            0.020,
        ),
    ),
    "rounded": (
        Part(union(box(-0.012, 0.0, -0.050, 0.050, 0.005), disc(-0.030, 0.0, 0.040)), 0.0, 0.022),
        Part(disc(-0.034, 0.0, 0.012), 0.022, 0.0235),
    ),
}  # fmt: skip


def cells() -> tuple[FloatArray, FloatArray]:
    """x (rows) and y (columns) of the cells of a map."""
    line = np.linspace(-HALF_EXTENT_M, HALF_EXTENT_M, CELLS)
    x, y = np.meshgrid(line, line, indexing="ij")
    # The face lies a quarter from the edge, so that deep heads fit into the map.
    return x - HALF_EXTENT_M / 2, y


def maps(shape: str, coat: Coat, rng: np.random.Generator) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Distances (parts, CELLS, CELLS), heights (parts, 2) and colours (CELLS, CELLS, 3) of a head."""
    x, y = cells()
    parts = HEADS[shape]
    distances = np.stack([part.distance(x, y) for part in parts]).astype(np.float32)
    heights = np.array([[part.low_m, part.high_m] for part in parts], dtype=np.float32)
    colour = np.empty((CELLS, CELLS, 3), dtype=np.float32)
    colour[:] = coat.body
    # Brushed metal or slightly worn paint: streaks along the face.
    streaks = rng.normal(0, 0.03, (CELLS, 1)) + rng.normal(0, 0.015, (CELLS, CELLS))
    colour *= (1.0 + streaks[..., None]).astype(np.float32)
    if coat.line is not None:
        deepest = x[(distances.min(axis=0) < 0) & (np.abs(y) < 0.003)].min()
        inside = (np.abs(y) < 0.0012) & (x < -0.002) & (x > deepest + 0.003)
        colour[inside] = coat.line
    if coat.sticker is not None:
        colour[np.hypot(x + 0.008 if shape.startswith("blade") else x + 0.02, y + 0.02) < 0.006] = (
            coat.sticker
        )
    return distances, heights, colour
