"""The ball from its rest until it is out of sight: where its centre is in each frame.

Close to its rest it is looked for by what it looks like there and as a disc in a ring of ground, farther
on along the line that it has taken so far. Its centre is then the circle of known radius through the edge
points along rays, so that a mark on it, its rolling and the head behind it do not pull. Blur by the
exposure is even to both sides and does not pull either.
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
_LOST_FRAMES, _UNSEEN_FRAMES = 4, 48
_LAST_REST = 16
_MEASURED = 7
_FORETOLD_BY, _FORETOLD = 5, 8
_WHOLE = 1.35
_COARSE_PX = 8.0


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
    edge = BallEdge(kept, rest, radius, max(start - 3 * _LAST_REST, 0))
    early = range(0, max(start - _LAST_REST, 0), max(round(rate_hz / 12), 1))
    k_rest, centre_rest = _lying(edge, (*early, *range(max(start - _LAST_REST, 0), start)))
    if k_rest.size < 3:
        return None
    moving = _moving(kept, edge, int(k_rest[-1]) + 1)
    if moving is None:
        return None
    k_moving, centre_moving = moving
    direction, good = _direction(centre_moving, edge.rest)
    k_moving, centre_moving = k_moving[good], centre_moving[good]
    if k_moving.size < 3 or float((centre_moving[-1] - edge.rest) @ direction) < 3 * radius:
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
    """Places of the ball in frames in which it lies at rest, as far as it is seen there; sets its rest."""
    places, agreement = edge.find_all(np.array(ks), np.repeat(edge.rest[None, :], len(ks), axis=0))
    there = places[agreement > LEAST_AGREEMENT]
    if len(there):  # where its edge alone says that it lies, which may be a little beside the disc found
        edge.rest = np.median(there, axis=0)
    found = zip(ks, places, agreement, strict=True)
    still = []
    for k, place, agrees in found:
        if agrees > LEAST_AGREEMENT:
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
    coming: dict[int, FloatArray] = {}
    for k in range(first, len(kept)):
        if len(ks) >= _FORETOLD_BY and ks[-1] == k - 1 and not coming:
            coming = _foretold(edge, ks, places, len(kept))
        if k in coming:
            place: FloatArray | None = coming.pop(k)
        elif len(ks) < 2:
            place = _by_the_rest(edge, k) if not ks else None
            # At few pictures a second it goes about its own width in each of them.
            goes_far = bool(ks) and float(np.hypot(*(places[0] - rest))) > radius
            reach = 2 * NEAR_DIAMETERS if goes_far else NEAR_DIAMETERS
            place = _near(kept, k, edge, reach) if place is None else place
        else:
            per_frame = (places[-1] - places[-2]) / (ks[-1] - ks[-2])
            place = _around(kept, k, places[-1] + per_frame * (k - ks[-1]), edge, float(np.hypot(*per_frame)))
        before = float(np.hypot(*(places[-1] - rest))) if places else _MOVED_PX
        if place is None or np.hypot(*(place - rest)) <= before:
            lost += 1
            if lost > (_LOST_FRAMES if ks else _UNSEEN_FRAMES):
                break
            continue
        if min(*place, kept.shape[1] - 1 - place[0], kept.shape[0] - 1 - place[1]) < _WHOLE * radius:
            break
        lost = 0
        ks.append(k)
        places.append(place)
    return (np.array(ks), np.array(places)) if len(ks) >= 3 else None


def _foretold(edge: BallEdge, ks: list[int], places: list[FloatArray], end: int) -> dict[int, FloatArray]:
    """The next places, side by side, as far as each is close to where it should be by now."""
    last = slice(-_FORETOLD_BY, None)
    per_frame, here = np.polyfit(np.array(ks[last]) - ks[-1], np.array(places[last]), 1)
    ahead = np.arange(1, min(_FORETOLD, end - 1 - ks[-1]) + 1)
    predicted = here + ahead[:, None] * per_frame
    found, agreement = edge.find_all(ks[-1] + ahead, predicted)
    near = 0.35 * float(np.hypot(*per_frame)) + 0.25 * edge.radius
    good = (agreement > LEAST_AGREEMENT) & (np.hypot(*(found - predicted).T) < near)
    run = int(np.argmin(good)) if not good.all() else good.size
    return {ks[-1] + int(n): place for n, place in zip(ahead[:run], found[:run], strict=True)}


def _by_the_rest(edge: BallEdge, k: int) -> FloatArray | None:
    """The ball while it is at its rest or still close to it."""
    place, agreement = edge.find(k, edge.rest)
    near = float(np.hypot(*(place - edge.rest))) < 0.5 * edge.radius
    return place if agreement > LEAST_AGREEMENT and near else None


def _near(kept: Kept, k: int, edge: BallEdge, diameters: float) -> FloatArray | None:
    """The most ball-like place around the rest, the rest itself aside."""
    rest = Disc(edge.rest[0], edge.rest[1], edge.radius, 1.0, 0.0)
    return _best(kept, k, near_box(rest, diameters, kept.shape), edge, avoid=edge.rest)


def _around(kept: Kept, k: int, predicted: FloatArray, edge: BallEdge, step_px: float) -> FloatArray | None:
    """The ball close to where it should be by now."""
    place, agreement = edge.find(k, predicted)
    near = 0.35 * step_px + 0.25 * edge.radius
    if agreement > LEAST_AGREEMENT and np.hypot(*(place - predicted)) < near:
        return place
    reach = 0.7 * step_px + 1.6 * edge.radius
    x, y = predicted
    box = clipped((int(x - reach), int(y - reach), int(x + reach) + 1, int(y + reach) + 1), kept.shape)
    return _best(kept, k, box, edge)


def _best(
    kept: Kept, k: int, box: tuple[int, int, int, int], edge: BallEdge, avoid: FloatArray | None = None
) -> FloatArray | None:
    """The place in the box that is most like the ball: found by its look and by its shape, judged by its look
    and its edge together; None when nothing there is like it.
    """
    import cv2

    radius, factor = edge.radius, min(_COARSE_PX / edge.radius, 1.0)
    if box[2] - box[0] < 3 * radius or box[3] - box[1] < 3 * radius:
        return None
    level = cv2.resize(kept.cut(k, box), None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    disc, look = disc_in_ring(factor * radius), edge.look(factor)
    if min(level.shape) < disc.shape[0]:
        return None
    size = look.shape[0]
    by_look = cv2.matchTemplate(level, look, cv2.TM_CCOEFF_NORMED, mask=_round(size))
    margin = (disc.shape[0] - size) // 2
    by_shape = np.full_like(by_look, -1.0)
    inner = cv2.matchTemplate(level, disc, cv2.TM_CCOEFF_NORMED)
    by_shape[margin : margin + inner.shape[0], margin : margin + inner.shape[1]] = inner
    if avoid is not None:
        x, y = np.round((avoid - box[:2] + 0.5) * factor - 0.5 - (size - 1) / 2).astype(int)
        for likeness in (by_look, by_shape):
            cv2.circle(likeness, (int(x), int(y)), int(0.4 * factor * radius), -1.0, -1)
    found = []
    for likeness in (by_look, by_shape):
        _, best, _, (x, y) = cv2.minMaxLoc(likeness)
        if _LEAST_DISC <= best <= 1.001:
            place = (np.array([x, y]) + size / 2) / factor - 0.5 + box[:2]
            seen, agreement = edge.find(k, place)
            score = agreement + float(by_look[y, x])
            found.append((score, seen if agreement > LEAST_AGREEMENT else place))
    return max(found, key=lambda one: one[0])[1] if found else None


def _round(size: int) -> NDArray[np.float32]:
    """A mask of the disc that touches the sides of a square."""
    far = np.hypot(*(np.mgrid[:size, :size] - (size - 1) / 2))
    return np.asarray(far <= size / 2, dtype=np.float32)


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
