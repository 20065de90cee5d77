"""What was seen in a clip, in pixels of the upright picture: the track behind a recording made from video."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pacewright.core.recording import FloatArray

View = Literal["above", "front"]


@dataclass(frozen=True, slots=True)
class ClipTrack:
    """The head and the ball, frame by frame, in pixels of the upright picture (rotation carried out).

    ``frame`` (n,) are the numbers of the frames looked at and ``time_s`` (n,) their capture times, the time
    base of the recording's traces. ``head_px`` and ``ball_px`` (n, 2) are columns x to the right and y down,
    nan where the thing was not seen; ``head_angle_rad`` (n,) is the head's turn in the picture since address
    (clockwise positive); the confidences (n,) run from 0 to 1. ``camera_px`` (n, 2) is how far the picture
    has moved since the first frame (a camera that trembles); head and ball are given as they stand in each
    frame.

    ``to_picture`` (3, 3) takes homogeneous metres of the plane of motion, (x, y, 1) seen from above and
    (x, z, 1) seen from the front, to pixels of the first frame. ``play_rate_hz`` is the rate at which the
    file plays.
    """

    view: View
    left_handed: bool
    picture_size_px: tuple[int, int]
    play_rate_hz: float
    frame: NDArray[np.int64]
    time_s: FloatArray
    head_px: FloatArray
    head_angle_rad: FloatArray
    head_confidence: FloatArray
    ball_px: FloatArray
    ball_confidence: FloatArray
    ball_radius_px: float
    camera_px: FloatArray
    to_picture: FloatArray

    def picture_of(self, along_m: FloatArray, across_m: FloatArray) -> FloatArray:
        """Pixels (n, 2) of points of the plane of motion: ``along_m`` the line, ``across_m`` y or z."""
        points = np.column_stack([along_m, across_m, np.ones_like(along_m)]) @ self.to_picture.T
        return points[:, :2] / points[:, 2:]
