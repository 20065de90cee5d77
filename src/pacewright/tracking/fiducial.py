"""The printed mark on the head: one fiducial of the scale sheet's dictionary, found in one picture."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from pacewright.core.recording import FloatArray
from pacewright.core.sheet import HEAD_MARK_SIZES_M

_SMALL_PX = 40.0
"""A mark smaller than this is looked at again, enlarged, for its corners."""
_ENLARGED = 2


@dataclass(frozen=True, slots=True)
class HeadMark:
    """A head mark in a picture: number in the dictionary, side of its black square in metres, centre (2,)
    in pixels, angle of its upper edge in the picture (clockwise positive, 0 level), corners (4, 2) in
    pixels from the mark's own top left, clockwise.
    """

    tag: int
    size_m: float
    centre_px: FloatArray
    angle_rad: float
    corners_px: FloatArray

    @property
    def metres_a_pixel(self) -> float:
        """Scale where the mark is, were it seen square on: side over the usual side in the picture."""
        sides = np.linalg.norm(self.corners_px - np.roll(self.corners_px, 1, axis=0), axis=1)
        return self.size_m / float(sides.mean())


def find_head_mark(
    picture: NDArray[np.uint8], window: tuple[int, int, int, int] | None = None
) -> HeadMark | None:
    """The head mark in a grey picture (height, width), or in a window of it (left, top, right, bottom).

    None when no mark can be read; the largest when there are several. The centre is where the diagonals
    meet, which perspective does not move. A mark must be read without one wrong cell: sixteen cells are few
    enough for grass to look like one.
    """
    left, top, right, bottom = window or (0, 0, picture.shape[1], picture.shape[0])
    left, top = max(left, 0), max(top, 0)
    view = picture[top:bottom, left:right]
    if min(view.shape) < 12:
        return None
    found = _read(view, 1) or _read(view, _ENLARGED)
    if found is None:
        return None
    tag, corners = found
    if _side(corners) < _SMALL_PX and (closer := _read_again(view, tag, corners)) is not None:
        corners = closer
    corners = corners + np.array([left, top])
    upper = corners[1] - corners[0] + corners[2] - corners[3]
    return HeadMark(
        tag, HEAD_MARK_SIZES_M[tag], _crossing(corners), math.atan2(upper[1], upper[0]), corners
    )  # fmt: skip


def _read(view: NDArray[np.uint8], enlarged: int) -> tuple[int, FloatArray] | None:
    """Number and corners of the largest mark."""
    looked_at = view if enlarged == 1 else cv2.resize(
        view, None, fx=enlarged, fy=enlarged, interpolation=cv2.INTER_CUBIC
    )  # fmt: skip
    corners, tags, _ = _detector().detectMarkers(looked_at)
    if tags is None:
        return None
    marks = [
        (int(tag), (quad.reshape(4, 2).astype(np.float64) + 0.5) / enlarged - 0.5)
        for tag, quad in zip(tags.ravel(), corners, strict=True)
        if int(tag) in HEAD_MARK_SIZES_M
    ]
    return max(marks, key=lambda mark: _side(mark[1]), default=None)


def _read_again(view: NDArray[np.uint8], tag: int, corners: FloatArray) -> FloatArray | None:
    """Corners of the same mark from an enlarged piece around it."""
    reach = 0.5 * _side(corners)
    low = np.maximum(np.floor(corners.min(axis=0) - reach).astype(int), 0)
    high = np.ceil(corners.max(axis=0) + reach).astype(int)
    again = _read(view[low[1] : high[1], low[0] : high[0]], _ENLARGED)
    return again[1] + low if again is not None and again[0] == tag else None


def _side(corners: FloatArray) -> float:
    return float(np.linalg.norm(corners - np.roll(corners, 1, axis=0), axis=1).mean())


def _crossing(corners: FloatArray) -> FloatArray:
    """Where the diagonals meet."""
    first, second = corners[2] - corners[0], corners[3] - corners[1]
    along, _ = np.linalg.solve(np.column_stack([first, -second]), corners[1] - corners[0])
    centre: FloatArray = corners[0] + along * first
    return centre


@lru_cache(maxsize=1)
def _detector() -> Any:
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    looks = cv2.aruco.DetectorParameters()
    looks.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_CONTOUR
    looks.minMarkerPerimeterRate = 0.02
    looks.errorCorrectionRate = 0.0
    looks.maxErroneousBitsInBorderRate = 0.1
    return cv2.aruco.ArucoDetector(dictionary, looks)
