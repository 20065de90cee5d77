"""The ball from its rest until it is out of sight: where its centre is in each frame.

Close to the ball it is looked for as a disc in a ring of ground, farther on along the line that it has
taken so far. Its centre is then the circle of known radius through the edge points along rays, so that a
mark on it, its rolling and the head behind it do not pull. Blur by the exposure is even to both sides and
does not pull either.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pacewright.core.recording import FloatArray
from pacewright.tracking.ball import Disc, disc_in_ring, measure_disc
from pacewright.tracking.ball_edge import LEAST_AGREEMENT, BallEdge
from pacewright.tracking.keep import NEAR_DIAMETERS, Kept, clipped, near_box

_LEAST_DISC = 0.45
_MOVED_PX = 1.5
_LOST_FRAMES = 4
_LAST_REST = 16
_MEASURED = 7
_WHOLE = 1.35
_COARSE_PX = 6.0


@dataclass(frozen=True, slots=True)
class BallPath:
    """``centre_px`` (n, 2) in the frames ``k`` (n,) of the stretch, with confidence (n,); ``left`` is the
    first of them in which it has moved; ``direction`` is the unit vector along which it left;
    ``shutter_share`` is the share of the time between pictures for which each is exposed.
    """

    k: NDArray[np.int64]
    centre_px: FloatArray
    confidence: FloatArray
    left: int
    direction: FloatArray
    radius_px: float
    shutter_share: float


def follow_ball(kept: Kept, disc: Disc, left_at: int, rate_hz: float) -> BallPath | None:
    """The path of a ball that lay at ``disc`` and was gone by frame ``left_at``; None when none left."""
    start = int(np.searchsorted(kept.index, left_at))
    rest, radius = _rest(kept, disc, start)
    edge = BallEdge(kept, rest, radius)
    early = range(0, max(start - _LAST_REST, 0), max(round(rate_hz / 12), 1))
    k_rest, centre_rest = _lying(edge, (*early, *range(max(start - _LAST_REST, 0), start)))
    if k_rest.size < 3:
        return None
    moving = _moving(kept, edge, int(k_rest[-1]) + 1)
    if moving is None:
        return None
    k_moving, centre_moving = moving
    direction, good = _direction(centre_moving, rest)
    k_moving, centre_moving = k_moving[good], centre_moving[good]
    if k_moving.size < 3 or float((centre_moving[-1] - rest) @ direction) < 3 * radius:
        return None
    centre_moving, agreement = edge.refined(k_moving, centre_moving, direction)
    sure = agreement > LEAST_AGREEMENT
    if sure.sum() < 3:
        return None
    return BallPath(
        np.concatenate([k_rest, k_moving[sure]]),
        np.concatenate([centre_rest, centre_moving[sure]]),
        np.concatenate([np.ones(k_rest.size), agreement[sure]]),
        int(k_moving[0]),
        direction,
        radius,
        edge.shutter_share,
    )


def _rest(kept: Kept, disc: Disc, start: int) -> tuple[FloatArray, float]:
    """Place and radius at rest: medians over frames before the ball left; the disc found, without any."""
    ks = np.unique(np.linspace(max(start - 3 * _LAST_REST, 0), start - 1, _MEASURED).astype(int))
    seen = [_measure(kept, int(k), disc) for k in ks if k >= 0]
    found = [d for d in seen if d is not None] or [disc]
    rest = np.median([[d.x_px, d.y_px] for d in found], axis=0)
    return rest, float(np.median([d.radius_px for d in found]))


def _lying(edge: BallEdge, ks: tuple[int, ...]) -> tuple[NDArray[np.int64], FloatArray]:
    """Places of the ball in frames in which it lies at rest, as far as it is seen there."""
    found = [(k, *edge.find(k, edge.rest)) for k in ks]
    still = []
    for k, place, agreement in found:
        if agreement > LEAST_AGREEMENT:
            if k >= ks[-1] - _LAST_REST and np.hypot(*(place - edge.rest)) > _MOVED_PX:
                break
            still.append((k, place))
    return np.array([k for k, _ in still], dtype=np.int64), np.array([place for _, place in still]).reshape(
        -1, 2
    )


def _moving(kept: Kept, edge: BallEdge, first: int) -> tuple[NDArray[np.int64], FloatArray] | None:
    """Places after it left, as long as it is found and whole within the picture."""
    ks: list[int] = []
    places: list[FloatArray] = []
    rest, radius = edge.rest, edge.radius
    lost = 0
    for k in range(first, len(kept)):
        if len(ks) < 2:
            place = _by_the_rest(edge, k) if not ks else None
            place = _near(kept, k, edge) if place is None else place
        else:
            per_frame = (places[-1] - places[-2]) / (ks[-1] - ks[-2])
            place = _around(kept, k, places[-1] + per_frame * (k - ks[-1]), edge, float(np.hypot(*per_frame)))
        before = float(np.hypot(*(places[-1] - rest))) if places else _MOVED_PX
        if place is None or np.hypot(*(place - rest)) <= before:
            lost += bool(ks)
            if lost > _LOST_FRAMES:
                break
            continue
        if min(*place, kept.shape[1] - 1 - place[0], kept.shape[0] - 1 - place[1]) < _WHOLE * radius:
            break
        lost = 0
        ks.append(k)
        places.append(place)
    return (np.array(ks), np.array(places)) if len(ks) >= 3 else None


def _by_the_rest(edge: BallEdge, k: int) -> FloatArray | None:
    """The ball while it is at its rest or still close to it."""
    place, agreement = edge.find(k, edge.rest)
    near = float(np.hypot(*(place - edge.rest))) < 0.5 * edge.radius
    return place if agreement > LEAST_AGREEMENT and near else None


def _near(kept: Kept, k: int, edge: BallEdge) -> FloatArray | None:
    """The most disc-like place of that radius around the rest, the rest itself aside."""
    rest, radius = edge.rest, edge.radius
    box = near_box(Disc(rest[0], rest[1], radius, 1.0, 0.0), NEAR_DIAMETERS, kept.shape)
    return _best_disc(kept, k, box, radius, avoid=rest)


def _around(kept: Kept, k: int, predicted: FloatArray, edge: BallEdge, step_px: float) -> FloatArray | None:
    """The disc close to where it should be by now."""
    place, agreement = edge.find(k, predicted)
    near = 0.35 * step_px + 0.25 * edge.radius
    if agreement > LEAST_AGREEMENT and np.hypot(*(place - predicted)) < near:
        return place
    reach = 0.7 * step_px + 1.6 * edge.radius
    x, y = predicted
    box = clipped((int(x - reach), int(y - reach), int(x + reach) + 1, int(y + reach) + 1), kept.shape)
    return _best_disc(kept, k, box, edge.radius)


def _best_disc(
    kept: Kept, k: int, box: tuple[int, int, int, int], radius: float, avoid: FloatArray | None = None
) -> FloatArray | None:
    import cv2

    factor = min(_COARSE_PX / radius, 1.0)
    if box[2] - box[0] < 3 * radius or box[3] - box[1] < 3 * radius:
        return None
    level = cv2.resize(kept.cut(k, box), None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    disc = disc_in_ring(factor * radius)
    if min(level.shape) < disc.shape[0]:
        return None
    likeness = cv2.matchTemplate(level, disc, cv2.TM_CCOEFF_NORMED)
    half = disc.shape[0] // 2
    for _ in range(3):
        _, best, _, (x, y) = cv2.minMaxLoc(likeness)
        if best < _LEAST_DISC:
            return None
        place = np.array([(x + half) / factor + box[0], (y + half) / factor + box[1]])
        if avoid is None or np.hypot(*(place - avoid)) > 0.4 * radius:
            return place
        cv2.circle(likeness, (x, y), max(int(0.6 * factor * radius), 1), -1.0, -1)
    return None


def _measure(kept: Kept, k: int, disc: Disc) -> Disc | None:
    """Measure the disc anew in that frame, in pixels of the plane; None when it is not there."""
    reach = 2.2 * disc.radius_px + 4
    x, y = disc.x_px, disc.y_px
    box = clipped((int(x - reach), int(y - reach), int(x + reach) + 1, int(y + reach) + 1), kept.shape)
    seen = measure_disc(kept.cut(k, box), x - box[0], y - box[1], disc.radius_px)
    if seen is None or np.hypot(seen.x_px + box[0] - x, seen.y_px + box[1] - y) > 0.5 * disc.radius_px:
        return None
    return Disc(seen.x_px + box[0], seen.y_px + box[1], seen.radius_px, seen.roundness, seen.contrast)


def _direction(places: FloatArray, rest: FloatArray) -> tuple[FloatArray, NDArray[np.bool_]]:
    """The direction in which most places lie from the rest, and which of them lie on that line."""
    away = places - rest
    unit = away / np.hypot(*away.T)[:, None]
    direction = np.median(unit, axis=0)
    direction /= np.hypot(*direction)
    off = np.abs(away @ np.array([-direction[1], direction[0]]))
    return direction, np.asarray(off < 2.0 + 0.06 * (away @ direction))
