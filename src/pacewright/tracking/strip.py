"""The strip of ground along the line of the putt: what stands on it that is not the ground itself.

Behind the ball the ground is seen once the head has gone through; so the pictures after contact show what
is head in the pictures before. Coordinates of the strip: s along the line (the ball at 0, the target
ahead), t across it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pacewright.core.clip import View
from pacewright.core.recording import FloatArray
from pacewright.tracking.ball_path import BallPath
from pacewright.tracking.keep import Box, Kept, clipped

_STEP_PX = 4
_HALF_WIDTH_DIAMETERS = 1.5
_SOON_S, _LATE_S = 0.1, 0.6
_LEAST_LEVELS = 5.0
_FEW, _SPARSE_PX = 4, 3
_NOISE_TIMES = 4.0


@dataclass(frozen=True, slots=True)
class HeadPlan:
    """The frames of address and top, coarsely, and by how much what stands there differs from the ground."""

    address: int
    top: int
    levels: float


class Strip:
    """The strip before the ball of one putt, up to the edge of the picture."""

    def __init__(self, kept: Kept, path: BallPath, rate_hz: float, view: View, up: FloatArray) -> None:
        self.kept, self.path, self.rate_hz = kept, path, rate_hz
        self.view, self.up = view, up
        self.rest = np.median(path.centre_px[path.k < path.left], axis=0)
        self.diameter_px = 2 * path.radius_px
        self.across = np.array([-path.direction[1], path.direction[0]])
        self.behind_px = min(_room(self.rest, -path.direction, kept.shape), 14 * self.diameter_px)
        self.ground = self._ground()

    def plan(self) -> HeadPlan | str:
        """The frames of address and top, or why there are none."""
        ks = np.arange(max(0, self.path.left - int(2.4 * self.rate_hz)), self.path.left, self.every)
        if ks.size < 6:
            return "the clip begins too late before the ball leaves"
        ground = self._sampled(self.ground)
        usual = _usual(ground)
        pictures = np.array([self._sampled(self._cut(int(k))) for k in ks])
        # The lamp's flicker is taken out.
        gains = np.array([_usual(picture) for picture in pictures]) / max(usual, 1.0)
        change = np.abs(pictures - gains[:, None, None].astype(np.float32) * ground)
        levels = max(_LEAST_LEVELS, _NOISE_TIMES * 1.48 * float(np.median(change[::_FEW])))
        standing = change > levels
        # The ball and its shadow stand there all the while; so would the head, had it not gone back.
        late = (ks > self.path.left - 0.45 * self.rate_hz) & (ks < self.path.left - 0.12 * self.rate_hz)
        stays = standing[late].mean(axis=0) > 0.9 if late.any() else np.zeros(standing.shape[1:], bool)
        face = np.array([self._face(c & ~stays) for c in standing])
        return self._turning(ks, face, levels)

    def _turning(self, ks: NDArray[np.int64], face: FloatArray, levels: float) -> HeadPlan | str:
        seen = np.isfinite(face)
        if seen.sum() < 6:
            return "nothing was seen behind the ball before it left; the head looks like the ground"
        face = np.interp(ks, ks[seen], face[seen])
        late = ks > self.path.left - 1.6 * self.rate_hz
        top = int(np.flatnonzero(late)[face[late].argmin()])
        before = face[: top + 1]
        if before.max() - before.min() < 0.4 * self.diameter_px:
            return "nothing moved back from the ball before it left"
        near = np.flatnonzero(before > before.max() - 0.25 * self.diameter_px)
        address = max(int(ks[near[-1]]) - max(round(0.05 * self.rate_hz), 1), 0)
        return HeadPlan(self._stillest(address), int(ks[top]), levels)

    def _stillest(self, near: int) -> int:
        """The frame up to a quarter of a second earlier around which least moves beside the ball."""
        import cv2

        reach = 2.5 * self.diameter_px
        x, y = self.rest - 0.5 * reach * self.path.direction
        box = clipped((int(x - reach), int(y - reach), int(x + reach), int(y + reach)), self.kept.shape)
        candidates = range(max(near - int(0.25 * self.rate_hz), 1), near + 1, max(self.every // 2, 1))
        motion = {
            k: cv2.norm(self.kept.cut(k, box), self.kept.cut(k - 1, box), cv2.NORM_L1) for k in candidates
        }
        return min(motion, key=lambda k: (motion[k], -k)) if motion else near

    def player_side(self, address: int) -> FloatArray | None:
        """Across the line towards the player, by which side the shaft stands on; None when that is not
        clear.
        """
        import cv2

        d = self.diameter_px
        reach = 5.0 * d
        x, y = self.rest - d * self.path.direction
        box = clipped((int(x - reach), int(y - reach), int(x + reach), int(y + reach)), self.kept.shape)
        whole = min(self.kept.wholes, key=lambda k: abs(k - address))
        later = min(self.kept.wholes, key=lambda k: abs(k - self.path.left - int(_LATE_S / 2 * self.rate_hz)))
        change = cv2.blur(cv2.absdiff(self.kept.cut(whole, box), self.kept.cut(later, box)), (3, 3))
        change = change[::_SPARSE_PX, ::_SPARSE_PX]
        x, y = (np.arange(box[i], box[2 + i], _SPARSE_PX) - self.rest[i] for i in (0, 1))
        t = x * self.across[0] + (y * self.across[1])[:, None]
        beyond = (change > 2.5 * _LEAST_LEVELS) & (np.abs(t) > 1.7 * d)
        one, other = int((beyond & (t > 0)).sum()), int((beyond & (t < 0)).sum())
        if max(one, other) < 2 * min(one, other) or max(one, other) * _SPARSE_PX**2 < 0.2 * d * d:
            return None
        return self.across if one > other else -self.across

    @property
    def every(self) -> int:
        """A step of frames in which nothing goes far: 60 a second."""
        return max(round(self.rate_hz / 60), 1)

    @property
    def box(self) -> Box:
        """The rectangle of the picture that holds the strip."""
        ends = np.array([self.rest, self.rest - self.behind_px * self.path.direction])
        half = _HALF_WIDTH_DIAMETERS * self.diameter_px + 2
        low, high = ends.min(axis=0) - half, ends.max(axis=0) + half
        return clipped((int(low[0]), int(low[1]), int(high[0]) + 1, int(high[1]) + 1), self.kept.shape)

    def _cut(self, k: int) -> NDArray[np.uint8]:
        return self.kept.cut(k, self.box)

    def _ground(self) -> NDArray[np.float32]:
        """The strip without the head: the median of pictures taken after the head went through."""
        first = self.path.left + int(_SOON_S * self.rate_hz)
        last = self.path.left + int(_LATE_S * self.rate_hz)
        whole = [k for k in self.kept.wholes if first <= k <= last] or [len(self.kept) - 1]
        return np.asarray(np.median([self._cut(k) for k in whole[:5]], axis=0), dtype=np.float32)

    def _sampled(self, picture: NDArray[np.uint8] | NDArray[np.float32]) -> NDArray[np.float32]:
        """A picture of the strip's box in strip coordinates, coarsely: rows t, columns s up to 0."""
        import cv2

        columns = int(self.behind_px / _STEP_PX)
        rows = int(2 * _HALF_WIDTH_DIAMETERS * self.diameter_px / _STEP_PX)
        x0, y0, _, _ = self.box
        start = self.rest - self.behind_px * self.path.direction
        start = start - rows / 2 * _STEP_PX * self.across - np.array([x0, y0])
        matrix = np.column_stack([_STEP_PX * self.path.direction, _STEP_PX * self.across, start])
        flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        border = cv2.BORDER_REPLICATE
        sampled = cv2.warpAffine(picture, matrix, (columns, rows), flags=flags, borderMode=border)
        return np.asarray(sampled, dtype=np.float32)

    def _face(self, changed: NDArray[np.bool_]) -> float:
        """s of the front of the longest thing that stands short of the ball; nan when nothing does."""
        tall = changed.sum(axis=0) * _STEP_PX > 0.25 * self.diameter_px
        s = (np.arange(changed.shape[1]) + 0.5) * _STEP_PX - self.behind_px
        edges = np.flatnonzero(np.diff(tall & (s < -0.55 * self.diameter_px), prepend=False, append=False))
        starts, ends = edges[::2], edges[1::2]
        return float(s[ends[(ends - starts).argmax()] - 1]) if starts.size else float("nan")


def _usual(picture: NDArray[np.float32]) -> float:
    """The median brightness, to a part of a level."""
    counts = np.bincount(np.round(picture).astype(np.uint8).ravel(), minlength=256)
    below = np.cumsum(counts)
    level = int(np.searchsorted(below, picture.size / 2))
    return level + 0.5 - float(below[level] - picture.size / 2) / max(int(counts[level]), 1)


def _room(start: FloatArray, direction: FloatArray, shape: tuple[int, ...]) -> float:
    """How far one can go from ``start`` along ``direction`` within the picture (pixels)."""
    limits = [
        ((shape[1] - 1 if d > 0 else 0) - p if axis == 0 else (shape[0] - 1 if d > 0 else 0) - p) / d
        for axis, (p, d) in enumerate(zip(start, direction, strict=True))
        if abs(d) > 1e-6
    ]
    return float(min(limits))
