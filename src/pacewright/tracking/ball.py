"""The ball at rest in a picture: found as a bright disc, measured by its edge.

Finding: the correlation of the picture with a disc in a ring of ground, at radii a fifth apart.
Measuring: the steepest fall of brightness along rays from the centre, and the circle through those
points; rays that meet the head, a shadow or a mark do not fit the circle and are left out. The coding of
brightness (gamma) moves the steepest place of a blurred edge by about a tenth of a pixel, one way or the
other: `EDGE_SD_PX`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pacewright.core.recording import FloatArray

BALL_DIAMETER_M = 0.04267
"""Rules of Golf, Equipment Rules 4: not less than 42.67 mm."""
EDGE_SD_PX = 0.12
"""How well an edge's place is known in a compressed picture whose coding of brightness is not: measured on
rendered clips (`docs/validation-clips.md`)."""
_SEARCH_WIDTH_PX = 560
_DISC_PX = 5.0
_LEAST_LIKENESS = 0.55
_LEAST_ROUND = 0.4
_LEAST_CONTRAST = 12.0
_USUAL_WIDTH_M, _WIDTH_LOG_SD = 1.4, 0.5
_BRIGHT_PART = 1.25
_RAYS = 72
_CENTROID_STEPS = 6
_ROUNDS = 5
_NOTHING = 1e-9 * np.eye(3)
_DIRECTIONS = np.array([(np.cos(a), np.sin(a)) for a in np.linspace(0.0, 2 * np.pi, _RAYS, endpoint=False)])


@dataclass(frozen=True, slots=True)
class Disc:
    """A round bright thing: centre and radius in pixels of the plane, share of rays that agree, contrast."""

    x_px: float
    y_px: float
    radius_px: float
    roundness: float
    contrast: float


def find_discs(luma: NDArray[np.uint8], most: int, known: list[Disc]) -> list[Disc]:
    """The ball-like discs of a picture (h, w) besides those that are known, the most ball-like first."""
    import cv2

    scale = min(_SEARCH_WIDTH_PX / max(luma.shape), 1.0)
    picture = cv2.resize(luma, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    found: list[tuple[float, float, float, float]] = []
    radius = _DISC_PX * 0.8
    template = disc_in_ring(_DISC_PX)
    half = template.shape[0] // 2
    while radius < 0.08 * _SEARCH_WIDTH_PX:
        factor = _DISC_PX / radius
        level = cv2.resize(
            picture,
            None,
            fx=factor,
            fy=factor,
            interpolation=cv2.INTER_AREA if factor < 1 else cv2.INTER_LINEAR,
        )
        if min(level.shape) <= template.shape[0] + 2:
            break
        likeness = cv2.matchTemplate(level, template, cv2.TM_CCOEFF_NORMED)
        peaks = (likeness > _LEAST_LIKENESS) & (likeness == cv2.dilate(likeness, np.ones((5, 5), np.uint8)))
        for y, x in np.argwhere(peaks):
            found.append(
                (
                    (x + half) / factor / scale,
                    (y + half) / factor / scale,
                    radius / scale,
                    float(likeness[y, x]),
                )
            )
        radius *= 1.2
    found.sort(key=lambda item: -item[3])
    discs: list[Disc] = []
    tried: list[tuple[float, float]] = []
    for x, y, r, _ in found:
        if len(tried) >= 2 * most or any(_within_disc(x, y, d) for d in (*known, *discs)):
            continue
        if any(np.hypot(x - u, y - v) < 0.5 * r for u, v in tried):
            continue
        tried.append((x, y))
        # From in front its lower half is as dark as the ground, and what is found is the bright part of it.
        disc = measure_disc(luma, x, y, r) or measure_disc(luma, x, y, _BRIGHT_PART * r)
        if disc is not None and not any(_within_disc(disc.x_px, disc.y_px, d) for d in (*known, *discs)):
            discs.append(disc)
    discs.sort(key=lambda d: -ball_likeness(d, luma.shape))
    return discs[:most]


def ball_likeness(disc: Disc, shape: tuple[int, ...]) -> float:
    """How much a disc stands out, in a picture of that shape (h, w), and how near its size is to a ball's.

    A picture in which a stroke has room is one to two metres wide (common practice, no source): specks of
    the ground are smaller than a ball in it, shoes are larger.
    """
    width_m = BALL_DIAMETER_M / (2 * disc.radius_px / max(shape))
    off_size = np.log(width_m / _USUAL_WIDTH_M) / _WIDTH_LOG_SD
    return float(disc.roundness * disc.contrast * np.exp(-0.5 * off_size**2))


def measure_disc(luma: NDArray[np.uint8], x_px: float, y_px: float, radius_px: float) -> Disc | None:
    """Centre and radius of the disc near a place, to a fraction of a pixel; None when no circle fits."""
    import cv2

    centre, radius = np.array([x_px, y_px]), radius_px
    for spread in (0.6, 0.3, 0.25):
        step = 0.25
        reach = np.arange(max(radius * (1 - spread), 1.0), radius * (1 + spread) + 2.0, step)
        x, y = (_DIRECTIONS.T[:, :, None] * reach + centre[:, None, None]).astype(np.float32)
        inside = (
            (np.minimum(x, y)[:, -1] >= 0) & (x[:, -1] < luma.shape[1] - 1) & (y[:, -1] < luma.shape[0] - 1)
        )
        values = cv2.remap(luma, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        light = cv2.GaussianBlur(values.astype(np.float32), (0, 0), sigmaX=2.0, sigmaY=0.01)
        edge, steep = _steepest(np.asarray(light, dtype=np.float32), reach)
        points = centre + edge[:, None] * _DIRECTIONS
        usable = inside & (steep > 0.25 * np.sort(steep)[int(0.8 * _RAYS)])
        fitted = _circle(points[usable], centre, radius)
        if fitted is None:
            return None
        centre, radius, agree = fitted
        if not 2.0 <= radius <= 2.0 * radius_px:
            return None
    roundness = agree / _RAYS
    if roundness < _LEAST_ROUND:
        return None
    contrast = float(np.median(light[:, 0]) - np.median(light[:, -1]))
    return (
        Disc(float(centre[0]), float(centre[1]), float(radius), roundness, contrast)
        if contrast > _LEAST_CONTRAST
        else None
    )


def _within_disc(x_px: float, y_px: float, disc: Disc) -> bool:
    return float(np.hypot(x_px - disc.x_px, y_px - disc.y_px)) < disc.radius_px


def disc_in_ring(radius: float) -> NDArray[np.uint8]:
    """A picture of a bright disc of that radius (pixels) in a ring of dark ground, to look for such."""
    size = int(np.ceil(1.45 * radius))
    far = np.hypot(*np.mgrid[-size : size + 1, -size : size + 1])
    return np.asarray(np.clip(radius + 0.5 - far, 0, 1) * 200, dtype=np.uint8)


def _steepest(light: NDArray[np.float32], reach: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Place (between samples, by the centroid) and steepness of the greatest fall along each ray."""
    fall = light[:, :-2] - light[:, 2:]
    at = fall.argmax(axis=1)
    ways = np.arange(-_CENTROID_STEPS, _CENTROID_STEPS + 1)
    around = np.clip(at[:, None] + ways, 0, fall.shape[1] - 1)
    # The ball's shading falls too, if gently: what the two ends of the window have is not the edge's.
    weight = np.take_along_axis(fall, around, axis=1).astype(np.float64)
    share = (ways + _CENTROID_STEPS) / (2 * _CENTROID_STEPS)
    weight = np.maximum(weight - weight[:, :1] * (1 - share) - weight[:, -1:] * share, 0.0)
    edge = (weight * reach[1:-1][around]).sum(axis=1) / np.maximum(weight.sum(axis=1), 1e-12)
    return edge, fall.max(axis=1) / 2


def _circle(points: FloatArray, centre: FloatArray, radius: float) -> tuple[FloatArray, float, int] | None:
    """The circle that most of the points lie on (least squares with points far off left out)."""
    if len(points) < _RAYS // 3:
        return None
    jacobian = np.ones((len(points), 3))
    away = points - centre
    length = np.hypot(away[:, 0], away[:, 1])
    off = length - _middle(length)
    weight = (np.abs(off) < max(2.5 * _middle(np.abs(off)), 1.0)).astype(float)
    for _ in range(_ROUNDS):
        jacobian[:, :2] = away / np.maximum(length, 1e-9)[:, None]
        weighted = (jacobian * weight[:, None]).T
        try:
            step = np.linalg.solve(weighted @ jacobian + _NOTHING, weighted @ (length - radius))
        except np.linalg.LinAlgError:
            return None
        centre, radius = centre + step[:2], radius + float(step[2])
        away = points - centre
        length = np.hypot(away[:, 0], away[:, 1])
        off = np.abs(length - radius)
        scatter = max(1.48 * _middle(off), 0.15)
        weight = np.maximum(1 - (off / (4 * scatter)) ** 2, 0.0) ** 2
    return centre, radius, int((off < max(1.0, 0.04 * radius)).sum())


def _middle(values: FloatArray) -> float:
    """The median of a few values, without the checks that cost more than it does."""
    ordered = np.sort(values)
    return float(ordered[(values.size - 1) // 2] + ordered[values.size // 2]) / 2
