"""Following the thing at a place given by hand through the whole clip: where no ball tells which thing it
is.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pacewright.core.errors import ReadError
from pacewright.core.recording import FloatArray
from pacewright.tracking.camera import Camera
from pacewright.tracking.clip import Clip, Plane
from pacewright.tracking.template import Pose, Template

_ALIKE_LEVELS = 18
_SMALLEST_SHARE, _LARGEST_SHARE = 0.01, 0.2
_DEFAULT_SHARE = 0.03
_LEAST_LIKENESS = 0.6
_SEARCH_STEPS = 4


@dataclass(frozen=True, slots=True)
class PointPath:
    """Places (n, 2) in pixels of the plane, turns and likenesses (n,) in the frames (n,) where it was
    found, and the camera's motion (n, 4) in them; ``ticks`` are the timestamps of all frames.
    """

    frame: NDArray[np.int64]
    place_px: FloatArray
    turn_rad: FloatArray
    likeness: FloatArray
    motion: FloatArray
    ticks: NDArray[np.int64]


def follow_point(
    clip: Clip, start_px: FloatArray, progress: Callable[[float], None] | None = None
) -> PointPath:
    """Follow what is at ``start_px`` in the first picture. Raises ReadError when nothing there can be
    followed.
    """
    template: Template | None = None
    camera: Camera | None = None
    rows: list[tuple[int, Pose]] = []
    motions: list[FloatArray] = []
    ticks: list[int] = []
    for frame in clip.frames():
        ticks.append(frame.tick)
        if template is None or camera is None:
            template, camera = _template(frame.luma, start_px), Camera(frame.luma)
            pose: Pose | None = Pose(float(start_px[0]), float(start_px[1]), likeness=1.0)
        else:
            pose = _found(frame.luma, template, rows, frame.index)
        motion = camera.motion(frame.luma)
        if pose is not None:
            rows.append((frame.index, pose))
            motions.append(motion)
        if progress is not None and frame.index % 32 == 0 and clip.info.frames:
            progress(min(frame.index / clip.info.frames, 1.0))
    poses = [pose for _, pose in rows]
    return PointPath(
        np.array([index for index, _ in rows]),
        np.array([pose.place for pose in poses]),
        np.array([pose.turn_rad for pose in poses]),
        np.array([pose.likeness for pose in poses]),
        np.array(motions),
        np.array(ticks),
    )


def _found(luma: Plane, template: Template, rows: list[tuple[int, Pose]], index: int) -> Pose | None:
    """The pose nearest to what the last two foretell, or a wider search around the last."""
    (before_k, before), (last_k, last) = rows[max(len(rows) - 2, 0)], rows[-1]
    per_frame = (last.place - before.place) / max(last_k - before_k, 1)
    turning = (last.turn_rad - before.turn_rad) / max(last_k - before_k, 1)
    ahead = index - last_k
    guess = last.place + ahead * per_frame
    tries = [(guess, last.turn_rad + ahead * turning), (last.place, last.turn_rad)]
    reach = 0.3 * template.reach_px
    tries += [
        (guess + reach * np.array([i, j]), last.turn_rad)
        for i in range(-_SEARCH_STEPS // 2, _SEARCH_STEPS // 2 + 1)
        for j in range(-_SEARCH_STEPS // 2, _SEARCH_STEPS // 2 + 1)
        if i or j
    ]
    for place, turn in tries:
        pose = _at(luma, template, place, turn)
        if pose.likeness > _LEAST_LIKENESS and 0.7 < pose.size < 1.4:
            return pose
    return None


def _at(luma: Plane, template: Template, place: FloatArray, turn: float) -> Pose:
    reach = int(1.3 * template.reach_px) + 6
    x0, y0 = max(int(place[0]) - reach, 0), max(int(place[1]) - reach, 0)
    cut = luma[y0 : int(place[1]) + reach + 1, x0 : int(place[0]) + reach + 1]
    if min(cut.shape, default=0) < 8:
        return Pose(float(place[0]), float(place[1]))
    return template.find(cut, (x0, y0), Pose(float(place[0]), float(place[1]), float(turn)))


def _template(luma: Plane, start_px: FloatArray) -> Template:
    """The thing at the place: what is about as bright as it and joined to it, with its edge."""
    import cv2

    height, width = luma.shape
    x, y = (round(float(v)) for v in start_px)
    if not (8 <= x < width - 8 and 8 <= y < height - 8):
        raise ReadError(
            f"--head {x},{y} is not within the picture of {width}x{height} pixels, or at its edge."
        )
    smooth = cv2.GaussianBlur(luma, (0, 0), 1.5)
    region = np.zeros((height + 2, width + 2), np.uint8)
    flags = 4 | (255 << 8) | cv2.FLOODFILL_MASK_ONLY | cv2.FLOODFILL_FIXED_RANGE
    cv2.floodFill(smooth, region, (x, y), 0, _ALIKE_LEVELS, _ALIKE_LEVELS, flags)
    left, top, w, h = cv2.boundingRect(region[1:-1, 1:-1])
    if not _SMALLEST_SHARE * max(luma.shape) < max(w, h) < _LARGEST_SHARE * max(luma.shape):
        side = int(_DEFAULT_SHARE * max(luma.shape))
        left, top, w, h = x - side, y - side, 2 * side + 1, 2 * side + 1
        region[:] = 0
        region[max(top, 0) + 1 : top + h + 1, max(left, 0) + 1 : left + w + 1] = 255
    margin = 5
    x0, y0 = max(left - margin, 0), max(top - margin, 0)
    x1, y1 = min(left + w + margin, width), min(top + h + margin, height)
    mask = cv2.dilate(region[1 + y0 : 1 + y1, 1 + x0 : 1 + x1], np.ones((7, 7), np.uint8)) > 0
    picture = luma[y0:y1, x0:x1].astype(np.float32)
    if float(picture[mask].std()) < 3.0:
        raise ReadError(f"--head {x},{y}: nothing stands out there; give a place on the head.")
    return Template(picture, mask, start_px - np.array([x0, y0]))
