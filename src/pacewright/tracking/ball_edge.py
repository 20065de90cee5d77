"""The ball's place to a fraction of a pixel, from its edge, however it is lit and smeared.

Along each ray from where the centre is thought to be, the edge is where brightness falls most over a
width that the exposure's smear asks for (across the smear it is sharp, along it wide). Light, shade and
the ball's own shadow change how far brightness falls on a ray, not where. The centre is the one whose
circle of known radius most edges lie on; rays that meet the head, a mark or the border of a shadow do
not, and are left out.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pacewright.core.recording import FloatArray
from pacewright.tracking.clip import Plane
from pacewright.tracking.keep import Kept, clipped

_RAYS = 48
_STEP_PX = 0.5
_SHARPEST_PX = 1.5
_SHUTTER_SHARES = (0.0, 0.15, 0.3, 0.45, 0.6, 0.8, 1.0)
_TRIED = 8
_ROUNDS = 4
_WIDE, _NARROW = 0.45, 0.25
_LOOKED_AT_TWICE = 48
"""Frames after the ball has left whose places the launch speed is taken from."""
_LEAST_SCATTER_PX = 0.25
LEAST_AGREEMENT = 0.35
"""Share of the rays whose edges must lie on the circle."""


class BallEdge:
    """A ball of known radius, at rest in frame ``lies_in``, found again in other frames."""

    def __init__(self, kept: Kept, rest: FloatArray, radius: float, lies_in: int) -> None:
        self._kept, self.rest, self.radius, self._lies_in = kept, rest, radius, lies_in
        angles = np.linspace(0.0, 2 * np.pi, _RAYS, endpoint=False)
        self._rays = np.column_stack([np.cos(angles), np.sin(angles)])
        self.shutter_share = 0.0
        self._look: Plane | None = None

    def look(self, factor: float) -> Plane:
        """What the ball looks like where it lies, its square alone, made smaller by ``factor``."""
        import cv2

        if self._look is None:
            x, y = np.round(self.rest - self.radius).astype(int)
            size = round(2 * self.radius) + 1
            box = clipped((x, y, x + size, y + size), self._kept.shape)
            self._look = self._kept.cut(self._lies_in, box)
        return np.asarray(cv2.resize(self._look, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA))

    def find(self, k: int, place: FloatArray) -> tuple[FloatArray, float]:
        """The centre near ``place`` (2,) in the k-th frame, to a pixel where it is smeared, and the share
        of rays that agree with it (0 where there is nothing).
        """
        return self._within(k, place, np.zeros(2), _WIDE)

    def _within(
        self, k: int, place: FloatArray, smear: FloatArray, spread: float
    ) -> tuple[FloatArray, float]:
        found = self._once(k, place, smear, spread)
        if found is None or np.hypot(*(found[0] - place)) > 0.6 * self.radius:
            return place, 0.0
        return found

    def refined(
        self, ks: NDArray[np.int64], places: FloatArray, direction: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """The places (n, 2) again with the smear of their speed, and the agreement of each (n,)."""
        step = _steps(ks, places) @ direction
        self.shutter_share = self._shutter(ks, places, direction, step)
        fine, agreement = places.copy(), np.zeros(ks.size)
        for j, k in enumerate(ks):
            smear = self.shutter_share * max(float(step[j]), 0.0) * direction
            fine[j], agreement[j] = self._within(int(k), places[j], smear, _NARROW)
            if k - ks[0] < _LOOKED_AT_TWICE:
                fine[j], agreement[j] = self._within(int(k), fine[j], smear, _NARROW)
        return fine, agreement

    def _shutter(
        self, ks: NDArray[np.int64], places: FloatArray, direction: FloatArray, step: FloatArray
    ) -> float:
        """The share of the time between pictures for which the shutter is open, by how wide the edge is
        smeared.
        """
        tried = np.linspace(min(3, ks.size - 1), ks.size - 1, min(_TRIED, ks.size)).astype(int)
        mean_step = float(np.median(step[tried]))
        if mean_step < 3.0:
            return 0.0
        widths = [self._front_width(int(ks[j]), places[j], direction) for j in tried]
        sharp = self._front_width(int(ks[0]) - 4, self.rest, direction)
        excess = np.sqrt(max(float(np.nanmedian(widths)) ** 2 - np.nan_to_num(sharp) ** 2, 0.0))
        # The spread of an even smear of length L is L/√12.
        share = excess * np.sqrt(12.0) / mean_step
        return float(np.clip(share, 0.0, 1.0)) if np.isfinite(share) else 0.0

    def _front_width(self, k: int, place: FloatArray, direction: FloatArray) -> float:
        """Spread (pixels) of the fall of brightness at the edge in front of the ball."""
        profile = self._profiles(k, place, 0.9)
        if profile is None:
            return float("nan")
        light, reach = profile
        ahead = self._rays @ direction > 0.94
        fall = np.maximum(-np.gradient(np.median(light[ahead], axis=0)), 0.0)
        near = np.abs(reach - self.radius) < 0.8 * self.radius
        weight = np.where(near & (fall > 0.1 * fall.max()), fall, 0.0)
        middle = float((weight * reach).sum() / max(weight.sum(), 1e-9))
        return float(np.sqrt((weight * (reach - middle) ** 2).sum() / max(weight.sum(), 1e-9)))

    def _once(
        self, k: int, centre: FloatArray, smear: FloatArray, spread: float
    ) -> tuple[FloatArray, float] | None:
        widest = float(np.hypot(*smear))
        profile = self._profiles(k, centre, spread + widest / self.radius)
        if profile is None:
            return None
        light, reach = profile
        half = np.maximum(np.abs(self._rays @ smear), 2 * _SHARPEST_PX) / 2 / _STEP_PX
        edge, steep = _falls(light, reach, np.maximum(np.round(half).astype(int), 2))
        usable = steep > 0.25 * np.quantile(steep, 0.8)
        off = edge - self.radius
        return _centre(centre, self._rays, off, usable, self.radius)

    def _profiles(self, k: int, centre: FloatArray, spread: float) -> tuple[FloatArray, FloatArray] | None:
        """Brightness (rays, reach) along the rays around the radius, and the reach (pixels)."""
        import cv2

        reach = np.arange(max(self.radius * (1 - spread), 1.0), self.radius * (1 + spread) + 3, _STEP_PX)
        far = int(reach[-1]) + 3
        x, y = int(centre[0]), int(centre[1])
        box = clipped((x - far, y - far, x + far + 1, y + far + 1), self._kept.shape)
        if box[2] - box[0] < 2 * self.radius or box[3] - box[1] < 2 * self.radius:
            return None
        places = centre - np.array(box[:2]) + reach[None, :, None] * self._rays[:, None, :]
        x_map, y_map = (np.ascontiguousarray(places[..., axis].astype(np.float32)) for axis in (0, 1))
        picture = self._kept.cut(k, box)
        light = cv2.remap(picture, x_map, y_map, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        return light.astype(np.float64), reach


def _falls(light: FloatArray, reach: FloatArray, half: NDArray[np.int64]) -> tuple[FloatArray, FloatArray]:
    """Where brightness falls most along each ray, over ``half`` (rays,) samples to each side; and by how
    much.
    """
    total = np.concatenate([np.zeros((len(light), 1)), np.cumsum(light, axis=1)], axis=1)
    edge, steep = np.empty(len(light)), np.empty(len(light))
    for width in np.unique(half):
        rows = half == width
        sums = total[rows]
        n = light.shape[1]
        if n < 2 * width + 3:
            edge[rows], steep[rows] = np.nan, 0.0
            continue
        inner = sums[:, width : n - width + 1] - sums[:, : n - 2 * width + 1]
        outer = sums[:, 2 * width :] - sums[:, width : n - width + 1]
        drop = (inner - outer) / width
        at = drop.argmax(axis=1)
        steep[rows] = drop.max(axis=1)
        at = np.clip(at, 1, drop.shape[1] - 2)
        before, here, after = (np.take_along_axis(drop, (at + d)[:, None], 1)[:, 0] for d in (-1, 0, 1))
        bend = before - 2 * here + after
        between = np.where(np.abs(bend) > 1e-9, 0.5 * (before - after) / np.where(bend == 0, 1.0, bend), 0.0)
        edge[rows] = reach[0] + (at + width - 0.5 + np.clip(between, -1, 1)) * _STEP_PX
    return edge, steep


def _centre(
    centre: FloatArray, rays: FloatArray, off: FloatArray, usable: NDArray[np.bool_], radius: float
) -> tuple[FloatArray, float] | None:
    """The centre moved so that most edges lie on the circle, and their share of all rays."""
    usable = usable & np.isfinite(off)
    if usable.sum() < len(rays) // 4:
        return None
    off = np.where(usable, off, 0.0)
    move: FloatArray = np.zeros(2)
    scatter = 0.15 * radius
    for _ in range(_ROUNDS):
        left = off - rays @ move
        weight = np.where(usable, np.clip(1 - (left / (3 * scatter)) ** 2, 0, None) ** 2, 0.0)
        normal = rays.T @ (rays * weight[:, None])
        if float(np.linalg.det(normal)) < 1e-3:
            return None
        move = np.asarray(np.linalg.solve(normal, rays.T @ (weight * off)))
        left = off - rays @ move
        near = usable & (np.abs(left) < 3 * scatter)
        scatter = max(
            1.48 * float(np.median(np.abs(left[near]))) if near.any() else scatter, _LEAST_SCATTER_PX
        )
    agreement = float(
        (usable & (np.abs(left) < max(3 * scatter, 1.0)) & (np.abs(left) < 0.15 * radius)).mean()
    )
    return centre + move, agreement


def _steps(ks: NDArray[np.int64], places: FloatArray) -> FloatArray:
    """Movement from frame to frame at each place (n, 2), by the line through five places around it."""
    steps = np.empty_like(places)
    for j in range(ks.size):
        near = slice(max(j - 2, 0), j + 3)
        steps[j] = np.polyfit(ks[near] - ks[j], places[near], 1)[0]
    return steps
