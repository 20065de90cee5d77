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
_SIDE_BY_SIDE = 32
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
        places, agreement = self.find_all(np.array([k]), place[None, :])
        return places[0], float(agreement[0])

    def find_all(self, ks: NDArray[np.int64], places: FloatArray) -> tuple[FloatArray, FloatArray]:
        """As `find`, in the frames ``ks`` (n,) near ``places`` (n, 2)."""
        return self._within(ks, places, np.zeros((ks.size, 2)), _WIDE)

    def _within(
        self, ks: NDArray[np.int64], places: FloatArray, smears: FloatArray, spread: float
    ) -> tuple[FloatArray, FloatArray]:
        """The centres (n, 2) and the agreement (n,); 0, and the place as it was, where there is nothing."""
        found, agreement = places.copy(), np.zeros(ks.size)
        longest = np.ceil(np.hypot(*smears.T))
        for length in np.unique(longest):
            some = np.flatnonzero(longest == length)
            for first in range(0, some.size, _SIDE_BY_SIDE):
                part = some[first : first + _SIDE_BY_SIDE]
                seen = self._once(ks[part], places[part], smears[part], spread + length / self.radius)
                part = part[seen[0]]
                found[part], agreement[part] = seen[1][seen[0]], seen[2][seen[0]]
        far = np.hypot(*(found - places).T) > 0.6 * self.radius
        found[far], agreement[far] = places[far], 0.0
        return found, agreement

    def refined(
        self, ks: NDArray[np.int64], places: FloatArray, direction: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """The places (n, 2) again with the smear of their speed, and the agreement of each (n,)."""
        step = _steps(ks, places) @ direction
        self.shutter_share = self._shutter(ks, places, direction, step)
        smears = self.shutter_share * np.maximum(step, 0.0)[:, None] * direction
        fine, agreement = self._within(ks, places, smears, _NARROW)
        early = ks - ks[0] < _LOOKED_AT_TWICE
        fine[early], agreement[early] = self._within(ks[early], fine[early], smears[early], _NARROW)
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
        reach = self._reach(0.9)
        light = self._profile(k, place, reach)
        if light is None:
            return float("nan")
        ahead = self._rays @ direction > 0.94
        fall = np.maximum(-np.gradient(np.median(light[ahead].astype(np.float64), axis=0)), 0.0)
        near = np.abs(reach - self.radius) < 0.8 * self.radius
        weight = np.where(near & (fall > 0.1 * fall.max()), fall, 0.0)
        middle = float((weight * reach).sum() / max(weight.sum(), 1e-9))
        return float(np.sqrt((weight * (reach - middle) ** 2).sum() / max(weight.sum(), 1e-9)))

    def _once(
        self, ks: NDArray[np.int64], centres: FloatArray, smears: FloatArray, spread: float
    ) -> tuple[NDArray[np.bool_], FloatArray, FloatArray]:
        """Whether a circle was found (n,), its centre (n, 2) and the share of rays that agree (n,)."""
        reach = self._reach(spread)
        light = np.zeros((ks.size, _RAYS, reach.size), np.uint8)
        seen = np.zeros(ks.size, bool)
        for j, k in enumerate(ks.tolist()):
            profile = self._profile(k, centres[j], reach)
            if profile is not None:
                light[j], seen[j] = profile, True
        half = np.maximum(np.abs(smears @ self._rays.T), 2 * _SHARPEST_PX) / 2 / _STEP_PX
        edge, steep = _falls(
            light.reshape(-1, reach.size), reach, np.maximum(np.round(half).astype(int), 2).ravel()
        )
        edge, steep = edge.reshape(-1, _RAYS), steep.reshape(-1, _RAYS)
        steep_ones = np.sort(steep, axis=1)[:, int(0.8 * _RAYS), None]
        usable = (steep > 0.25 * steep_ones) & seen[:, None]
        found, move, agreement = _centres(self._rays, edge - self.radius, usable, self.radius)
        return found, centres + move, agreement

    def _reach(self, spread: float) -> FloatArray:
        """Distances from the centre (pixels) at which a ray is sampled."""
        least, most = max(self.radius * (1 - spread), 1.0), self.radius * (1 + spread) + 3
        return np.arange(least, most, _STEP_PX)

    def _profile(self, k: int, centre: FloatArray, reach: FloatArray) -> Plane | None:
        """Brightness (rays, reach) along the rays around the radius; None too close to the picture's edge."""
        import cv2

        far = int(reach[-1]) + 3
        x, y = int(centre[0]), int(centre[1])
        box = clipped((x - far, y - far, x + far + 1, y + far + 1), self._kept.shape)
        if box[2] - box[0] < 2 * self.radius or box[3] - box[1] < 2 * self.radius:
            return None
        x_map, y_map = self._ways(reach)
        dx, dy = np.float32(centre[0] - box[0]), np.float32(centre[1] - box[1])
        light = cv2.remap(
            self._kept.cut(k, box), x_map + dx, y_map + dy, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        )
        return np.asarray(light, dtype=np.uint8)

    def _ways(self, reach: FloatArray) -> NDArray[np.float32]:
        """Where the rays go from the centre, (2, rays, reach)."""
        return np.asarray(self._rays.T[:, :, None] * reach, dtype=np.float32)


def _falls(light: Plane, reach: FloatArray, half: NDArray[np.int64]) -> tuple[FloatArray, FloatArray]:
    """Where brightness falls most along each ray, over ``half`` (rays,) samples to each side; and by how
    much.
    """
    n = light.shape[1]
    total = np.zeros((len(light), n + 1), np.float32)
    np.cumsum(light, axis=1, dtype=np.float32, out=total[:, 1:])
    edge, steep = np.full(len(light), np.nan), np.zeros(len(light))
    for width in np.unique(half).tolist():
        rows = np.flatnonzero(half == width)
        if n < 2 * width + 3:
            continue
        sums = total if rows.size == len(total) else total[rows]
        drop = 2 * sums[:, width : n - width + 1] - sums[:, : n - 2 * width + 1] - sums[:, 2 * width :]
        at = drop.argmax(axis=1)
        each = np.arange(rows.size)
        steep[rows] = drop[each, at] / width
        at = np.clip(at, 1, drop.shape[1] - 2)
        before, here, after = (drop[each, at + d].astype(np.float64) / width for d in (-1, 0, 1))
        bend = before - 2 * here + after
        between = np.where(np.abs(bend) > 1e-9, 0.5 * (before - after) / np.where(bend == 0, 1.0, bend), 0.0)
        edge[rows] = reach[0] + (at + width - 0.5 + np.clip(between, -1, 1)) * _STEP_PX
    return edge, steep


def _centres(
    rays: FloatArray, off: FloatArray, usable: NDArray[np.bool_], radius: float
) -> tuple[NDArray[np.bool_], FloatArray, FloatArray]:
    """How the centres move (n, 2) so that most edges, ``off`` (n, rays) outside the circle, lie on it; the
    share of the rays that do; and whether there are enough of them, (n,).
    """
    usable = usable & np.isfinite(off)
    found = usable.sum(axis=1) >= len(rays) // 4
    off = np.where(usable, off, 0.0)
    move = np.zeros((len(off), 2))
    scatter = np.full((len(off), 1), 0.15 * radius)
    x, y = rays.T
    products = np.column_stack([x * x, x * y, y * y])
    left = off
    for _ in range(_ROUNDS):
        weight = np.where(usable, np.clip(1 - (left / (3 * scatter)) ** 2, 0, None) ** 2, 0.0)
        xx, xy, yy = (weight @ products).T
        wx, wy = ((weight * off) @ rays).T
        det = xx * yy - xy * xy
        found &= det >= 1e-3
        det = np.where(found, det, 1.0)
        move = np.column_stack([yy * wx - xy * wy, xx * wy - xy * wx]) / det[:, None]
        left = off - move @ rays.T
        near = usable & (np.abs(left) < 3 * scatter)
        usual = _median_of(np.abs(left), near)[:, None]
        scatter = np.maximum(np.where(np.isfinite(usual), 1.48 * usual, scatter), _LEAST_SCATTER_PX)
    far = np.abs(left)
    agreement = (usable & (far < np.maximum(3 * scatter, 1.0)) & (far < 0.15 * radius)).mean(axis=1)
    return found, move, agreement


def _median_of(values: FloatArray, counted: NDArray[np.bool_]) -> FloatArray:
    """Median along each row (n,) of those that are counted; inf where none is."""
    ordered = np.sort(np.where(counted, values, np.inf), axis=1)
    count = counted.sum(axis=1)
    each = np.arange(len(values))
    return np.asarray((ordered[each, np.maximum(count - 1, 0) // 2] + ordered[each, count // 2]) / 2)


def _steps(ks: NDArray[np.int64], places: FloatArray) -> FloatArray:
    """Movement from frame to frame at each place (n, 2), by the line through five places around it."""
    steps = np.empty_like(places)
    for j in range(ks.size):
        near = slice(max(j - 2, 0), j + 3)
        steps[j] = np.polyfit(ks[near] - ks[j], places[near], 1)[0]
    return steps
