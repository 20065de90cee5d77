"""The pictures of the last seconds, kept small: what moved near a ball, and now and then all.

A putt is known only once the ball has left, and the head must then be followed from its rest before the
takeaway. Whole frames of 1080p would be half a gigabyte a second, so of each frame only tiles are kept:
around each ball, and where something moves in its four directions; plus whole frames, several a second.
What was not kept had not moved for a second, and `Kept.cut` takes it from the whole frame before: in the one
after, it may have gone.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pacewright.core.clip import View
from pacewright.core.recording import FloatArray
from pacewright.tracking.ball import Disc
from pacewright.tracking.camera import as_moved
from pacewright.tracking.clip import Frame, Plane

Box = tuple[int, int, int, int]
"""x0, y0, x1, y1 in pixels of the plane; the ends are left out."""

NEAR_DIAMETERS = 3.0
_KEPT_DIAMETERS = 2.8
_TILE_PX, _STRIDE_PX = 32, 8
_LOOKS_HZ, _REACH_STRIDES = 120.0, 3
_ROOM_BYTES = 16 << 20
_ARM_DIAMETERS, _ARM_OPENING, _LIFTED_DIAMETERS = 2.0, 0.3, 3.0
_MOVED_LEVELS, _NOISE_TIMES = 4.0, 2.0
_MOST_BYTES = 230_000_000
_WHOLE_S, _SHORT_S, _LONG_S = 0.2, 0.25, 1.0


Band = tuple[int, int, Plane]
"""Row and column of its upper left pixel, and the pixels: tiles that lie side by side."""


@dataclass(frozen=True, slots=True)
class KeptFrame:
    """What is kept of one frame: ``bands`` of it or the ``whole`` plane; and how the camera has moved since
    the clip's first picture (`camera`).
    """

    index: int
    bands: tuple[Band, ...]
    whole: Plane | None
    motion: FloatArray

    @property
    def size_bytes(self) -> int:
        return sum(band.nbytes for _, _, band in self.bands) + (
            0 if self.whole is None else self.whole.nbytes
        )


class Kept:
    """The kept frames of a stretch of the clip, in order."""

    def __init__(self, frames: list[KeptFrame]) -> None:
        self.frames = frames
        self.index = np.array([frame.index for frame in frames])
        self.wholes = [k for k, frame in enumerate(frames) if frame.whole is not None]
        before = np.searchsorted(self.wholes, np.arange(len(frames)), side="right") - 1
        self._whole_before = np.maximum(before, 0)
        self.shape = frames[self.wholes[0]].whole.shape if self.wholes else (0, 0)  # type: ignore[union-attr]

    def __len__(self) -> int:
        return len(self.frames)

    def cut(self, k: int, box: Box) -> Plane:
        """The pixels of ``box`` in the k-th frame, clipped to the picture, as a still camera shows them.

        Places in it are places in the clip's first picture.
        """
        box = clipped(box, self.shape)
        motion = self.frames[k].motion
        return self._raw(k, box) if not motion.any() else self._steadied(k, box, motion)

    def _steadied(self, k: int, box: Box, motion: FloatArray) -> Plane:
        import cv2

        x0, y0, x1, y1 = box
        corners = as_moved(motion, self.shape, np.array([[x0, y0], [x1, y0], [x0, y1]], dtype=float))
        low, high = corners.min(axis=0) - 3, corners.max(axis=0) + 4
        # The fourth corner lies opposite to the first.
        high = np.maximum(high, corners[1] + corners[2] - corners[0] + 4)
        source = clipped((int(low[0]), int(low[1]), int(high[0]), int(high[1])), self.shape)
        if source[2] - source[0] < 2 or source[3] - source[1] < 2:
            return self._raw(k, box)
        start = corners[0] - np.array(source[:2])
        right, down = (corners[1] - corners[0]) / (x1 - x0), (corners[2] - corners[0]) / (y1 - y0)
        matrix = np.column_stack([right, down, start])
        flags = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
        border = cv2.BORDER_REPLICATE
        steadied = cv2.warpAffine(
            self._raw(k, source), matrix, (x1 - x0, y1 - y0), flags=flags, borderMode=border
        )
        return np.asarray(steadied, dtype=np.uint8)

    def _raw(self, k: int, box: Box) -> Plane:
        x0, y0, x1, y1 = box
        frame = self.frames[k]
        if frame.whole is not None:
            return frame.whole[y0:y1, x0:x1]
        behind = self.frames[self.wholes[self._whole_before[k]]].whole
        assert behind is not None
        picture = behind[y0:y1, x0:x1].copy()
        for top, left, band in frame.bands:
            high, wide = band.shape
            if top < y1 and left < x1 and top + high > y0 and left + wide > x0:
                ay, ax = max(top - y0, 0), max(left - x0, 0)
                part = band[ay + y0 - top : y1 - top, ax + x0 - left : x1 - left]
                picture[ay : ay + part.shape[0], ax : ax + part.shape[1]] = part
        return np.asarray(picture)


class _Room:
    """Room for pictures in large pieces, which the machine hands out faster than many small ones."""

    def __init__(self) -> None:
        self._piece = np.empty(0, np.uint8)
        self._used = 0

    def copy(self, picture: Plane) -> Plane:
        """A copy of ``picture``; its piece goes when the last copy in it does."""
        if self._used + picture.size > self._piece.size:
            self._piece, self._used = np.empty(max(_ROOM_BYTES, picture.size), np.uint8), 0
        copy = self._piece[self._used : self._used + picture.size].reshape(picture.shape)
        self._used += picture.size
        copy[:] = picture
        return copy


class Keeper:
    """Takes the frames as they come and keeps of each what the last seconds need."""

    def __init__(self, shape: tuple[int, int], rate_hz: float, every: int | None = None) -> None:
        self._shape = shape
        self._frames: deque[KeptFrame] = deque()
        self._bytes = 0
        self._room = _Room()
        self._look_every = max(round(rate_hz / _LOOKS_HZ), 1)
        looks_hz = rate_hz / self._look_every
        self._short = int(_SHORT_S * looks_hz) + 1
        self._small: deque[Plane] = deque(maxlen=max(int(_LONG_S * looks_hz), 2))
        self._whole_every = every or max(int(_WHOLE_S * rate_hz), 1)
        self._raster = (shape[0] // _TILE_PX, shape[1] // _TILE_PX)
        self._near = np.zeros(self._raster, bool)
        self._moving = np.zeros(self._raster, bool)
        self._arms: NDArray[np.uint8] | None = None

    def watch(self, discs: list[Disc], views: list[View], up: FloatArray) -> None:
        """The balls around which pictures are kept from now on, and from where each is seen."""
        self._near[:] = False
        self._arms = np.zeros([-(-side // _STRIDE_PX) for side in self._shape], np.uint8)
        for disc, view in zip(discs, views, strict=True):
            x0, y0, x1, y1 = near_box(disc, _KEPT_DIAMETERS, self._shape)
            self._near[y0 // _TILE_PX : -(-y1 // _TILE_PX), x0 // _TILE_PX : -(-x1 // _TILE_PX)] = True
            self._arms |= _arms(disc, self._arms.shape, view, up)

    def add(self, frame: Frame, motion: FloatArray) -> None:
        """Keep what is needed of this frame, and let go of the oldest when there is too much."""
        if frame.index % self._look_every == 0:
            small = frame.luma[::_STRIDE_PX, ::_STRIDE_PX].copy()
            if self._arms is not None and self._small:
                self._moving = self._moved(small, self._arms)
            self._small.append(small)
        whole = frame.index % self._whole_every == 0
        bands = () if whole else tuple(self._bands(frame.luma))
        kept = KeptFrame(frame.index, bands, self._room.copy(frame.luma) if whole else None, motion)
        self._frames.append(kept)
        self._bytes += kept.size_bytes
        while self._bytes > _MOST_BYTES and len(self._frames) > 2:
            self._bytes -= self._frames.popleft().size_bytes

    def since(self, index: int) -> Kept:
        """All kept frames from that number on."""
        return Kept([frame for frame in self._frames if frame.index >= index])

    def _bands(self, luma: Plane) -> Iterator[Band]:
        """The tiles near the balls and those that move, tiles side by side together."""
        wanted = np.zeros((self._raster[0], self._raster[1] + 2), np.int8)
        wanted[:, 1:-1] = self._near | self._moving
        rows, columns = np.nonzero(np.diff(wanted, axis=1))
        for row, first, end in zip(
            rows[::2].tolist(), columns[::2].tolist(), columns[1::2].tolist(), strict=True
        ):
            y, x = row * _TILE_PX, first * _TILE_PX
            yield y, x, self._room.copy(luma[y : y + _TILE_PX, x : end * _TILE_PX])

    def _moved(self, small: Plane, arms: Plane) -> NDArray[np.bool_]:
        """The tiles of the arms that differ from a quarter of a second ago or from a second ago."""
        import cv2

        past = self._small[0], self._small[-min(self._short, len(self._small))]
        change = cv2.max(*(_difference(small, before) for before in past))
        enough = _MOVED_LEVELS + _NOISE_TIMES * float(cv2.mean(change)[0])
        moved = cv2.threshold(change, enough, 255, cv2.THRESH_BINARY)[1]
        moved = cv2.bitwise_and(moved, arms)
        # A margin for what moves until the next look, then one value a tile.
        grown = cv2.dilate(moved, np.ones((2 * _REACH_STRIDES + 1,) * 2, np.uint8))
        tall, wide = self._raster
        per_tile = _TILE_PX // _STRIDE_PX
        cells = grown[: tall * per_tile, : wide * per_tile]
        return np.asarray(cv2.resize(cells, (wide, tall), interpolation=cv2.INTER_AREA) > 0)


def clipped(box: Box, shape: tuple[int, ...]) -> Box:
    """The part of the box that lies in a picture of that shape."""
    x0, y0, x1, y1 = box
    return max(x0, 0), max(y0, 0), min(x1, shape[1]), min(y1, shape[0])


def near_box(disc: Disc, diameters: float, shape: tuple[int, ...]) -> Box:
    """The square around a disc that reaches ``diameters`` of it to each side, within the picture."""
    reach = 2 * disc.radius_px * diameters
    x, y = disc.x_px, disc.y_px
    return clipped((int(x - reach), int(y - reach), int(x + reach) + 1, int(y + reach) + 1), shape)


def _difference(now: Plane, before: Plane) -> Plane:
    """Smoothed difference of two coarse pictures, the brighter lamp of one of them (flicker) taken out."""
    import cv2

    gain = float(cv2.mean(now)[0]) / max(float(cv2.mean(before)[0]), 1.0)
    return np.asarray(cv2.blur(cv2.absdiff(now, cv2.convertScaleAbs(before, alpha=gain)), (3, 3)))


def _arms(disc: Disc, small: tuple[int, ...], view: View, up: FloatArray) -> NDArray[np.uint8]:
    """Mask (0 or 255) of the coarse picture: where the head and the ball may go.

    Seen from above that is to the left and right of the ball or up and down; from in front to the left
    and right, and no higher than a head is lifted.
    """
    y, x = np.mgrid[: small[0], : small[1]] * float(_STRIDE_PX)
    dx, dy = np.abs(x - disc.x_px), np.abs(y - disc.y_px)
    half = _ARM_DIAMETERS * 2 * disc.radius_px
    if view == "front":
        high = ((x - disc.x_px) * up[0] + (y - disc.y_px) * up[1]) / (2 * disc.radius_px)
        return np.asarray(((high < _LIFTED_DIAMETERS) & (high > -_ARM_DIAMETERS)) * 255, dtype=np.uint8)
    level, upright = dy < half + _ARM_OPENING * dx, dx < half + _ARM_OPENING * dy
    return np.asarray((level | upright) * 255, dtype=np.uint8)
