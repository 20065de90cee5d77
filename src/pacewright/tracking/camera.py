"""A camera that trembles or is nudged: how each picture lies against the first, from places that stay.

A dozen corners, spread over the first picture, are compared with it in every frame. As long as a third of
them look the same the camera stands still, which costs next to nothing; else each is registered, and the
movement that most of them share is the camera's. A foot or the head on some of the corners is outvoted.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pacewright.core.recording import FloatArray
from pacewright.tracking.clip import Plane
from pacewright.tracking.template import Pose, Template

_GRID = (3, 4)
_HALF_PX = 20
_REACH_PX = 12
_LEAST_LIKENESS = 0.6
_AGREE_PX = 0.5
_AGREE_SHARE = 0.4
_FEWEST = 3
_SUSPECTED_PX, _QUIET_SHARE = 0.5, 0.3
_NOTICED_PX = 0.12
_STAYED_PX = 0.2
_SPARSE_PX = 2
STILL = np.array([0.0, 0.0, 0.0, 0.0])


@dataclass(frozen=True, slots=True)
class _Anchor:
    place: FloatArray
    look: Plane
    slope: float
    template: Template

    def suspected_px(self, luma: Plane) -> float:
        """About how far it has moved, from the change of its look."""
        import cv2

        x, y = self.place.astype(int)
        now = luma[y - _HALF_PX : y + _HALF_PX + 1, x - _HALF_PX : x + _HALF_PX + 1]
        return float(cv2.norm(now, self.look, cv2.NORM_L1)) / now.size / self.slope


class Camera:
    """Registers frames to the first one it is given."""

    def __init__(self, first: Plane) -> None:
        self._middle = np.array([first.shape[1] - 1, first.shape[0] - 1]) / 2
        self._anchors = _corners(first)
        self._usual_px = np.full(len(self._anchors), np.inf)
        self._last = STILL

    def motion(self, luma: Plane) -> FloatArray:
        """Movement since the first picture: shift x, y (pixels), turn (rad), growth (relative)."""
        if len(self._anchors) < _FEWEST:
            return STILL
        suspected = np.array([anchor.suspected_px(luma) for anchor in self._anchors])
        least = int(_QUIET_SHARE * suspected.size)
        # What looks otherwise while the camera stands still (a key picture, a shade) is no sign of movement.
        self._usual_px = np.minimum(self._usual_px, suspected)
        if np.sort(suspected - self._usual_px)[least] < _SUSPECTED_PX:
            self._last = STILL
        else:
            self._last = self._registered(luma)
            if not self._last.any():
                self._usual_px = suspected
        return self._last

    def _registered(self, luma: Plane) -> FloatArray:
        places, moved = [], []
        for anchor in self._anchors:
            pose = _found(luma, anchor.template, anchor.place + self._last[:2])
            if pose is None and self._last.any():
                pose = _found(luma, anchor.template, anchor.place)
            if pose is not None:
                places.append(anchor.place - self._middle)
                moved.append(pose.place - anchor.place)
        if len(places) < max(_FEWEST, _AGREE_SHARE * len(self._anchors)):
            return self._last
        return _agreed(np.array(places), np.array(moved), _AGREE_SHARE * len(self._anchors))


def as_moved(motion: FloatArray, shape: tuple[int, ...], points_px: FloatArray) -> FloatArray:
    """Where points (n, 2) of the first picture lie in a picture with that motion."""
    middle = np.array([shape[1] - 1, shape[0] - 1]) / 2
    away = points_px - middle
    turned = np.column_stack([-away[:, 1], away[:, 0]])
    return np.asarray(points_px + motion[:2] + motion[2] * turned + motion[3] * away)


def as_first(motion: FloatArray, shape: tuple[int, ...], points_px: FloatArray) -> FloatArray:
    """Where points (n, 2) of a picture with that motion lay in the first picture."""
    middle = np.array([shape[1] - 1, shape[0] - 1]) / 2
    grow = np.array([[1.0 + motion[3], -motion[2]], [motion[2], 1.0 + motion[3]]])
    return np.asarray(np.linalg.solve(grow, (points_px - middle - motion[:2]).T).T + middle)


def _found(luma: Plane, template: Template, guess: FloatArray) -> Pose | None:
    reach = _HALF_PX + _REACH_PX
    x, y = guess.astype(int)
    x0, y0 = max(x - reach, 0), max(y - reach, 0)
    cut = luma[y0 : y + reach + 1, x0 : x + reach + 1]
    if min(cut.shape) < 2 * _HALF_PX:
        return None
    pose = template.find(cut, (x0, y0), Pose(float(guess[0]), float(guess[1])))
    return pose if pose.likeness > _LEAST_LIKENESS else None


def _agreed(places: FloatArray, moved: FloatArray, enough: float) -> FloatArray:
    """Shift, turn and growth (4,) that most anchors share; still, when too few share one or some have
    stayed.
    """
    if (np.hypot(*moved.T) < _STAYED_PX).sum() >= _FEWEST:
        return STILL
    apart = np.hypot(*(moved[:, None] - moved[None, :]).transpose(2, 0, 1))
    good = apart[int((apart < 2 * _AGREE_PX).sum(axis=1).argmax())] < 2 * _AGREE_PX
    if good.sum() < max(_FEWEST, enough):
        return STILL
    fit: FloatArray = np.array([*np.median(moved[good], axis=0), 0.0, 0.0])
    if good.sum() >= _FEWEST + 2:
        zero, one = np.zeros(len(places)), np.ones(len(places))
        across = np.column_stack([one, zero, -places[:, 1], places[:, 0]])
        down = np.column_stack([zero, one, places[:, 0], places[:, 1]])
        rows, wanted = np.concatenate([across[good], down[good]]), moved[good].T.ravel()
        fit = np.asarray(np.linalg.lstsq(rows, wanted, rcond=None)[0])
    return fit if np.hypot(fit[0], fit[1]) > _NOTICED_PX else STILL


def _corners(first: Plane) -> list[_Anchor]:
    """The best corner of each cell of a grid over the picture."""
    import cv2

    rows, columns = _GRID
    height, width = first.shape
    margin = _HALF_PX + _REACH_PX
    anchors = []
    for j in range(rows):
        for i in range(columns):
            x0, x1 = max(i * width // columns, margin), min((i + 1) * width // columns, width - margin)
            y0, y1 = max(j * height // rows, margin), min((j + 1) * height // rows, height - margin)
            if x1 - x0 < margin or y1 - y0 < margin:
                continue
            cell = np.ascontiguousarray(first[y0:y1:_SPARSE_PX, x0:x1:_SPARSE_PX])
            best = cv2.goodFeaturesToTrack(cell, 1, 0.01, 10, blockSize=7)
            if best is None:
                continue  # type: ignore[unreachable]
            x, y = (_SPARSE_PX * best.reshape(-1, 2)[0] + [x0, y0]).astype(int)
            look = first[y - _HALF_PX : y + _HALF_PX + 1, x - _HALF_PX : x + _HALF_PX + 1].copy()
            slope = float(np.hypot(*np.gradient(look.astype(float))).mean())
            if slope < 1.0:
                continue
            middle = np.array([float(_HALF_PX), float(_HALF_PX)])
            template = Template(look.astype(np.float32), np.ones(look.shape, bool), middle, moves_only=True)
            anchors.append(_Anchor(np.array([float(x), float(y)]), look, slope, template))
    return anchors
