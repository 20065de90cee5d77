"""The scale sheet in a picture: scale, perspective and lens from one view of a plane.

Corners of the board are found to a fraction of a pixel; then one least-squares fit has the sheet's place
and turn before the camera, the focal length, the centre of the picture and one radial term. What a single
view of a plane cannot tell (focal length of a sheet seen square on, distortion where the sheet is small)
is held by what telephones usually have, and the uncertainty says how much is left. See
`docs/methods/scale-sheet.md`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from pacewright.core.recording import FloatArray
from pacewright.core.sheet import COLUMNS, ROWS, SQUARE_M, TAG_M, inner_corners_m

Picture = NDArray[np.uint8]

FEWEST_TAGS = 6
FEWEST_CORNERS = 6
FOCAL_SHARE, FOCAL_SHARE_SD = 0.85, 0.15
"""Focal length of a telephone's video over the longer side of the picture: common practice, no source."""
CENTRE_SHARE_SD = 0.01
"""How far the lens's axis may lie from the middle, over the longer side: common practice, no source."""
DISTORTION_SD = 0.03
"""Shift at the corner of the picture over its distance from the middle: common practice, no source."""
PRINT_SD = 0.002
"""A bar of 200 mm measured to 0.4 mm; paper stretches less."""
CORNER_SD_PX = 0.05
"""Errors of corners that the fit does not show, such as ink that spreads."""
_SCALES = (1.0, 2.0, 0.5)
_OUTLIER_PX = 1.0
_ROUNDS = 30
_FOCAL, _CENTRE_X, _CENTRE_Y, _K1 = 6, 7, 8, 9


@dataclass(frozen=True, slots=True)
class SheetView:
    """A sheet as it stands in a picture.

    ``corners_px``, ``corners_m`` (n, 2): corners used and where they lie on the sheet (`core/sheet.py`),
    and ``tags`` the number of fiducials read. ``fit`` (10,) holds rotation vector (3), translation in
    metres (3), log of the focal length in pixels, centre of the lens in pixels (2) and k1 of r in focal
    lengths; ``covariance`` (10, 10) belongs to it. ``rms_px`` is what the fit leaves, of each coordinate.
    """

    picture_size_px: tuple[int, int]
    tags: int
    corners_px: FloatArray
    corners_m: FloatArray
    fit: FloatArray
    covariance: FloatArray
    rms_px: float

    @property
    def focal_px(self) -> tuple[float, float]:
        """Focal length and its standard uncertainty in pixels."""
        focal = math.exp(self.fit[_FOCAL])
        return focal, focal * math.sqrt(self.covariance[_FOCAL, _FOCAL])

    @property
    def corner_shift(self) -> tuple[float, float]:
        """Shift by the lens at the picture's corner over its distance from the middle; its uncertainty."""
        per_k1 = _reach(self.picture_size_px, math.exp(self.fit[_FOCAL])) ** 2
        return per_k1 * float(self.fit[_K1]), per_k1 * math.sqrt(self.covariance[_K1, _K1])

    @property
    def lens_is_measured(self) -> bool:
        """Whether this view tells the distortion at least twice as well as it was known before."""
        return self.corner_shift[1] < 0.5 * DISTORTION_SD

    @property
    def tilt_rad(self) -> float:
        """Angle between the line of sight to the board's middle and the upright on the sheet."""
        rotation, place = cv2.Rodrigues(self.fit[:3])[0], self.fit[3:6]
        return math.acos(min(1.0, abs(float(rotation[:, 2] @ place)) / float(np.linalg.norm(place))))

    def homography(self, height_m: float = 0.0) -> FloatArray:
        """(3, 3): metres (x, y, 1) on a plane ``height_m`` above the sheet to pixels without distortion."""
        return _homography(self.fit, height_m)

    def undistort(self, points_px: FloatArray) -> FloatArray:
        """Points (n, 2) of the picture as a lens without distortion would show them."""
        return _undistort(self.fit, points_px)

    def metres(self, points_px: FloatArray, height_m: float = 0.0) -> FloatArray:
        """Where points (n, 2) of the picture lie on a plane ``height_m`` above the sheet, in its frame."""
        return _metres(self.fit, points_px, height_m)

    def picture_of(self, points_m: FloatArray, height_m: float = 0.0) -> FloatArray:
        """Pixels (n, 2) of points (n, 2) of such a plane, distortion included."""
        return _project(self.fit, points_m, height_m)[0]

    def scale_at(self, point_px: FloatArray, height_m: float = 0.0) -> tuple[float, float]:
        """Metres a pixel at a point (2,) of the picture, on that plane, and the relative uncertainty.

        Root of area over area. The printer's share is in the uncertainty.
        """
        scale = _log_scale(self.fit, point_px, height_m)
        slope = np.empty(10)
        for k, sd in enumerate(np.sqrt(np.diag(self.covariance))):
            step = np.zeros(10)
            step[k] = max(0.1 * sd, 1e-9)
            ends = [_log_scale(self.fit + sign * step, point_px, height_m) for sign in (1.0, -1.0)]
            slope[k] = (ends[0] - ends[1]) / (2.0 * step[k])
        relative = math.sqrt(float(slope @ self.covariance @ slope) + PRINT_SD**2)
        return math.exp(scale), relative


def find_sheet(picture: Picture) -> SheetView | None:
    """The scale sheet in a grey picture (height, width) of eight bits; None when there is none to be read.

    At least `FEWEST_TAGS` fiducials and `FEWEST_CORNERS` corners beside them must be seen.
    """
    found = _best_detection(picture)
    if found is None:
        return None
    tags, numbers, corners_px = found
    corners_m = inner_corners_m()[numbers]
    corners_px = _refined(picture, corners_px, corners_m)
    size = (picture.shape[1], picture.shape[0])
    kept = np.ones(len(corners_px), dtype=bool)
    for _ in range(3):
        if kept.sum() < FEWEST_CORNERS or not _spread_enough(corners_m[kept]):
            return None
        fit, covariance = _fit(corners_px[kept], corners_m[kept], size)
        miss = np.linalg.norm(_project(fit, corners_m)[0] - corners_px, axis=1)
        usual = float(np.median(miss[kept]))
        good = miss <= max(4.0 * usual, 0.25 * _OUTLIER_PX)
        if bool((good == kept).all()):
            break
        kept = good
    rms = math.sqrt(float(np.mean((_project(fit, corners_m[kept])[0] - corners_px[kept]) ** 2)))
    if rms > _OUTLIER_PX:
        return None
    return SheetView(size, tags, corners_px[kept], corners_m[kept], fit, covariance, rms)


def _best_detection(picture: Picture) -> tuple[int, NDArray[np.int64], FloatArray] | None:
    """Fiducials read, numbers of corners, and the corners in pixels, from the first scale that will do."""
    detector, best = _detector(), None
    for scale in _SCALES:
        if max(picture.shape) * scale > 4400:
            continue
        view = picture if scale == 1.0 else cv2.resize(
            picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_CUBIC if scale > 1 else cv2.INTER_AREA
        )  # fmt: skip
        corners, numbers, _, tags = detector.detectBoard(view)
        if tags is None or numbers is None or len(tags) < FEWEST_TAGS or len(numbers) < FEWEST_CORNERS:
            continue
        if best is None or len(numbers) > len(best[1]):
            pixels = (corners.reshape(-1, 2).astype(np.float64) + 0.5) / scale - 0.5
            best = len(tags), numbers.ravel().astype(np.int64), pixels
        if len(numbers) >= 0.75 * (COLUMNS - 1) * (ROWS - 1):
            break
    return best


def _detector() -> Any:
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    board = cv2.aruco.CharucoBoard((COLUMNS, ROWS), SQUARE_M, TAG_M, dictionary)
    looks = cv2.aruco.DetectorParameters()
    looks.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    looks.minMarkerPerimeterRate = 0.01
    looks.adaptiveThreshWinSizeMax = 43
    return cv2.aruco.CharucoDetector(board, cv2.aruco.CharucoParameters(), looks)


def _refined(picture: Picture, corners_px: FloatArray, corners_m: FloatArray) -> FloatArray:
    """Saddle points to a fraction of a pixel; the window reaches no farther than the fiducials beside them.

    A corner lies in the middle of four squares, so blur and ink that spreads move its neighbours' edges
    apart and leave it where it is.
    """
    square_px = SQUARE_M * math.exp(-_log_size(corners_px, corners_m))
    reach = int(np.clip(0.15 * square_px, 2, 12))  # 0.1 and 0.2 doubled the error in pictures of known truth
    points = corners_px.astype(np.float32).reshape(-1, 1, 2)
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_COUNT, 60, 0.001)
    refined = cv2.cornerSubPix(picture, points, (reach, reach), (-1, -1), stop)
    return np.asarray(refined, dtype=np.float64).reshape(-1, 2)


def _log_size(corners_px: FloatArray, corners_m: FloatArray) -> float:
    """Log of the usual metres a pixel: spread on the sheet over spread in the picture, of the shorter way."""
    spreads = [np.linalg.svd(c - c.mean(axis=0), compute_uv=False)[-1] for c in (corners_m, corners_px)]
    return math.log(spreads[0] / max(spreads[1], 1e-6)) if spreads[0] > 0 else 0.0


def _spread_enough(corners_m: FloatArray) -> bool:
    """Whether the corners span a plane and do not lie on one line."""
    spread = np.linalg.svd(corners_m - corners_m.mean(axis=0), compute_uv=False)
    return bool(spread[-1] > 0.4 * SQUARE_M)


def _reach(size_px: tuple[int, int], focal_px: float) -> float:
    """Distance from the middle of the picture to its corner, in focal lengths."""
    return 0.5 * math.hypot(*size_px) / focal_px


def _fit(
    corners_px: FloatArray, corners_m: FloatArray, size_px: tuple[int, int]
) -> tuple[FloatArray, FloatArray]:
    """Most likely camera and its covariance; the better of the two poses from which a plane looks alike."""
    focal = FOCAL_SHARE * max(size_px)
    middle = (0.5 * (size_px[0] - 1), 0.5 * (size_px[1] - 1))
    camera = np.array([[focal, 0, middle[0]], [0, focal, middle[1]], [0, 0, 1.0]])
    solid = np.column_stack([corners_m, np.zeros(len(corners_m))])
    poses = cv2.solvePnPGeneric(solid, corners_px, camera, None, flags=cv2.SOLVEPNP_IPPE)
    lens = [math.log(focal), *middle, 0.0]
    ends = [
        _descend(np.array([*rotation.ravel(), *place.ravel(), *lens]), corners_px, corners_m, size_px)
        for rotation, place in zip(poses[1], poses[2], strict=True)
    ]
    fit, information, residual, _ = min(ends, key=lambda end: end[3])
    spare = max(residual.size - 6, 1)
    noise = max(math.sqrt(float(residual @ residual) / spare), CORNER_SD_PX)
    weight, _ = _prior(size_px)
    covariance: FloatArray = np.asarray(np.linalg.inv(information / noise**2 + np.diag(weight)), np.float64)
    return fit, covariance


def _prior(size_px: tuple[int, int]) -> tuple[FloatArray, FloatArray]:
    """One over variance, and value, of what is known of a telephone's camera before."""
    longer, focal = max(size_px), FOCAL_SHARE * max(size_px)
    sds = np.array([FOCAL_SHARE_SD / FOCAL_SHARE, CENTRE_SHARE_SD * longer, CENTRE_SHARE_SD * longer,
                    DISTORTION_SD / _reach(size_px, focal) ** 2])  # fmt: skip
    value = np.array([math.log(focal), 0.5 * (size_px[0] - 1), 0.5 * (size_px[1] - 1), 0.0])
    return np.concatenate([np.zeros(6), sds**-2.0]), np.concatenate([np.zeros(6), value])


def _descend(
    start: FloatArray, corners_px: FloatArray, corners_m: FloatArray, size_px: tuple[int, int]
) -> tuple[FloatArray, FloatArray, FloatArray, float]:
    """Levenberg and Marquardt from one pose: fit, information of the corners alone, residuals, cost.

    Corners weigh 0.1 px against the prior on the way; the covariance takes what they really scatter.
    """
    weight, value = _prior(size_px)
    fit, damping, noise = start, 1e-3, 0.1

    def cost_of(candidate: FloatArray) -> tuple[float, FloatArray, FloatArray]:
        seen, slope = _project(candidate, corners_m)
        residual = (corners_px - seen).ravel()
        off = candidate - value
        return float(residual @ residual) / noise**2 + float(weight @ off**2), residual, slope

    cost, residual, slope = cost_of(fit)
    for _ in range(_ROUNDS):
        normal = slope.T @ slope / noise**2 + np.diag(weight)
        downhill = slope.T @ residual / noise**2 - weight * (fit - value)
        step = np.linalg.solve(normal + damping * np.diag(np.diag(normal)), downhill)
        tried = cost_of(fit + step)
        if tried[0] < cost:
            done = cost - tried[0] < 1e-9 * cost
            fit, (cost, residual, slope), damping = fit + step, tried, damping / 10.0
            if done:
                break
        else:
            damping *= 10.0
    return fit, slope.T @ slope, residual, cost


def _project(fit: FloatArray, points_m: FloatArray, height_m: float = 0.0) -> tuple[FloatArray, FloatArray]:
    """Pixels (n, 2) of points on a plane above the sheet, and their slope (2n, 10) with the fit."""
    solid = np.column_stack([points_m, np.full(len(points_m), height_m)])
    camera, lens = _camera(fit)
    seen, slope = cv2.projectPoints(solid, fit[:3], fit[3:6], camera, lens)
    focal = camera[0, 0]
    columns = [slope[:, :6], focal * (slope[:, 6:7] + slope[:, 7:8]), slope[:, 8:10], slope[:, 10:11]]
    return np.asarray(seen, np.float64).reshape(-1, 2), np.asarray(np.hstack(columns), np.float64)


def _camera(fit: FloatArray) -> tuple[FloatArray, FloatArray]:
    focal = math.exp(fit[_FOCAL])
    camera = np.array([[focal, 0, fit[_CENTRE_X]], [0, focal, fit[_CENTRE_Y]], [0, 0, 1.0]])
    return camera, np.array([fit[_K1], 0.0, 0.0, 0.0])


def _homography(fit: FloatArray, height_m: float) -> FloatArray:
    rotation, camera = cv2.Rodrigues(fit[:3])[0], _camera(fit)[0]
    place = fit[3:6] + height_m * rotation[:, 2]
    plane: FloatArray = camera @ np.column_stack([rotation[:, :2], place])
    scaled: FloatArray = plane / plane[2, 2]
    return scaled


def _undistort(fit: FloatArray, points_px: FloatArray) -> FloatArray:
    """Solves r·(1 + k1·r²) = r' for r by Newton's method; points beyond the model's turning stay at it."""
    focal, centre, k1 = math.exp(fit[_FOCAL]), fit[_CENTRE_X : _CENTRE_Y + 1], float(fit[_K1])
    bent = (points_px - centre) / focal
    far = np.linalg.norm(bent, axis=1)
    limit = math.sqrt(-1.0 / (3.0 * k1)) * 0.99 if k1 < 0 else math.inf
    radius = np.minimum(far, limit)
    for _ in range(8):
        slope = 1.0 + 3.0 * k1 * radius**2
        radius = np.minimum(radius - (radius * (1.0 + k1 * radius**2) - far) / slope, limit)
    ratio = np.divide(radius, far, out=np.ones_like(far), where=far > 0)
    straight: FloatArray = centre + focal * bent * ratio[:, None]
    return straight


def _metres(fit: FloatArray, points_px: FloatArray, height_m: float) -> FloatArray:
    straight = np.column_stack([_undistort(fit, points_px), np.ones(len(points_px))])
    plane = straight @ np.linalg.inv(_homography(fit, height_m)).T
    metres: FloatArray = plane[:, :2] / plane[:, 2:]
    return metres


def _log_scale(fit: FloatArray, point_px: FloatArray, height_m: float) -> float:
    """Log of metres a pixel: half the log of the area on the plane that a square of one pixel covers."""
    steps = np.array([[0.5, 0.0], [-0.5, 0.0], [0.0, 0.5], [0.0, -0.5]])
    right, left, down, up = _metres(fit, np.asarray(point_px) + steps, height_m)
    a, b = right - left, down - up
    return 0.5 * math.log(max(abs(float(a[0] * b[1] - a[1] * b[0])), 1e-18))
