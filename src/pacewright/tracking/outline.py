"""The head at address: told from the ground by what stands there, or by what is said to be on it.

A place given by hand, a printed mark or a coloured sticker says which of the things behind the ball is the
head. Where nothing else of it stands out from the ground, that alone is followed.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pacewright.core.recording import FloatArray
from pacewright.tracking.clip import Plane
from pacewright.tracking.strip import HeadPlan, Strip
from pacewright.tracking.template import Image, Pose, Template

Hint = FloatArray | Literal["mark", "sticker"]
"""A place (2,) on the head in pixels of the plane, or what is stuck on it."""
Colours = tuple[tuple[int, Plane], ...]
"""Numbers of frames and their colour planes (`clip.Frame.colour`)."""

_HINTED_DIAMETERS = (0.4, 1.0)
_BALL_AND_EDGE = 0.56
"""From the ball's middle to where nothing of it is seen, in diameters."""
_HEAD_TOP_DIAMETERS, _HEAD_SOLE_DIAMETERS = 0.35, 0.5
"""A head stands from the ground to about three quarters of a ball's height: common practice, no source."""
_STILL_FRAMES = 5
_RIM = 1.2
"""The white rim of a mark reaches a fifth beyond its black square on each side."""
_COLOURED_LEVELS, _STICKER_DIAMETERS = 14.0, 0.12
_NOT_FOUND = {
    "place": "the head cannot be told from the ground at address; say where it is with --head x,y",
    "mark": "no printed mark can be read behind the ball at address; is it whole, flat and sharp?",
    "sticker": "nothing coloured stands out behind the ball at address; say where it is with --head x,y",
}


def head_at_address(
    strip: Strip, plan: HeadPlan, hint: Hint | None, colours: Colours
) -> tuple[Template, Pose] | str:
    """The head as it looks at address, and where it is there; or why it is not to be found."""
    kept = strip.kept
    box = strip.box
    stills = range(
        max(plan.address - _STILL_FRAMES // 2, 0), min(plan.address + _STILL_FRAMES // 2 + 1, len(kept))
    )
    picture = np.mean([kept.cut(k, box) for k in stills], axis=0).astype(np.float32)
    mask = _outline(strip, plan, picture)
    if hint is not None:
        on_it = _of_hint(hint, strip, plan, picture, colours)
        mask = None if on_it is None else _standing_there(mask, on_it)
    if mask is None:
        return _NOT_FOUND[hint if isinstance(hint, str) else "place"]
    picture = _without_ball(strip, picture)
    rows, columns = np.nonzero(mask)
    # The point that is followed lies on the ball's line, so that the head's turning does not move it along.
    centroid = np.array([columns.mean() + box[0], rows.mean() + box[1]])
    on_line = strip.rest + ((centroid - strip.rest) @ strip.path.direction) * strip.path.direction
    reference = on_line - np.array(box[:2])
    margin = 6
    x0, x1 = max(columns.min() - margin, 0), columns.max() + margin + 1
    y0, y1 = max(rows.min() - margin, 0), rows.max() + margin + 1
    template = Template(
        np.ascontiguousarray(picture[y0:y1, x0:x1]),
        mask[y0:y1, x0:x1],
        reference - np.array([x0, y0]),
    )
    return template, Pose(reference[0] + box[0], reference[1] + box[1], likeness=1.0)


def _without_ball(strip: Strip, picture: Image) -> Image:
    """The picture with ground where the ball lies: a head on its way is smeared with ground, not ball."""
    x0, y0, _, _ = strip.box
    y, x = np.mgrid[: picture.shape[0], : picture.shape[1]]
    ball = np.hypot(x + x0 - strip.rest[0], y + y0 - strip.rest[1]) < _BALL_AND_EDGE * strip.diameter_px
    return np.where(ball, np.float32(np.median(strip.ground)), picture)


def _of_hint(
    hint: Hint, strip: Strip, plan: HeadPlan, picture: Image, colours: Colours
) -> NDArray[np.bool_] | None:
    """What the hint says is on the head, as a mask in the strip's box; None when it is not there."""
    if not isinstance(hint, str):
        return _around(strip, hint, picture.shape)
    return _mark(picture) if hint == "mark" else _sticker(strip, plan, picture.shape, colours)


def _standing_there(mask: NDArray[np.bool_] | None, on_it: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """The part of what stands behind the ball in which the middle of that lies; that alone without one."""
    import cv2

    if mask is not None:
        y, x = (round(float(where.mean())) for where in np.nonzero(on_it))
        _, labels = cv2.connectedComponents(mask.astype(np.uint8))
        if labels[y, x]:
            return np.asarray(labels == labels[y, x])
    return on_it


def _mark(picture: Image) -> NDArray[np.bool_] | None:
    """The printed mark with its white rim."""
    import cv2

    from pacewright.tracking.fiducial import find_head_mark

    found = find_head_mark(np.clip(picture, 0, 255).astype(np.uint8))
    if found is None:
        return None
    rim = found.centre_px + _RIM * (found.corners_px - found.centre_px)
    mask = np.zeros(picture.shape, np.uint8)
    cv2.fillConvexPoly(mask, np.round(rim).astype(np.int32), 1)
    return mask > 0


def _sticker(
    strip: Strip, plan: HeadPlan, shape: tuple[int, ...], colours: Colours
) -> NDArray[np.bool_] | None:
    """What is most coloured behind the ball, otherwise than the ground there."""
    import cv2

    if not colours:
        return None
    address = strip.kept.index[plan.address]
    _, colour = min(colours, key=lambda each: abs(each[0] - address))
    x0, y0, x1, y1 = strip.box
    cut = colour[y0 // 2 : (y1 + 1) // 2, x0 // 2 : (x1 + 1) // 2].astype(np.float32)
    ground = np.median(cut.reshape(-1, 2), axis=0)
    strong = np.minimum(np.linalg.norm(cut - 128.0, axis=2), np.linalg.norm(cut - ground, axis=2))
    strong = np.asarray(cv2.resize(strong, shape[::-1], interpolation=cv2.INTER_LINEAR))
    coloured = (strong > _COLOURED_LEVELS) & _behind_ball(strip, shape)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(coloured.astype(np.uint8))
    if count < 2:
        return None
    largest = 1 + int(stats[1:, cv2.CC_STAT_AREA].argmax())
    if stats[largest, cv2.CC_STAT_AREA] < (_STICKER_DIAMETERS * strip.diameter_px) ** 2:
        return None
    spot = (labels == largest).astype(np.uint8)
    return np.asarray(cv2.dilate(spot, np.ones((5, 5), np.uint8)) > 0)


def _around(strip: Strip, place_px: FloatArray, shape: tuple[int, ...]) -> NDArray[np.bool_] | None:
    """A head's size around the place given by hand, in the strip's box; None when the place is outside it."""
    x0, y0, _, _ = strip.box
    y, x = np.mgrid[: shape[0], : shape[1]]
    dx, dy = x + x0 - place_px[0], y + y0 - place_px[1]
    along = np.abs(dx * strip.path.direction[0] + dy * strip.path.direction[1])
    across = np.abs(dx * strip.across[0] + dy * strip.across[1])
    half = _HINTED_DIAMETERS if strip.view == "above" else _HINTED_DIAMETERS[::-1]
    d = strip.diameter_px
    off_ball = np.hypot(x + x0 - strip.rest[0], y + y0 - strip.rest[1]) > _BALL_AND_EDGE * d
    mask = (along < half[0] * d) & (across < half[1] * d) & off_ball
    return mask if mask.sum() > 0.1 * d * d else None


def _outline(strip: Strip, plan: HeadPlan, picture: Image) -> NDArray[np.bool_] | None:
    """The mask of what stands behind the ball at address, in the strip's box; None if too little does."""
    import cv2

    gain = float(np.median(picture)) / max(float(np.median(strip.ground)), 1.0)
    change = cv2.GaussianBlur(np.abs(picture - gain * strip.ground), (0, 0), 1.0)
    d = strip.diameter_px
    where = _behind_ball(strip, picture.shape)
    standing = ((change > plan.levels) & where).astype(np.uint8)
    opened = cv2.morphologyEx(standing, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    width = max(int(0.12 * d), 3)
    closed = cv2.morphologyEx(opened, cv2.MORPH_CLOSE, np.ones((width, width), np.uint8))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(closed)
    if count < 2:
        return None
    areas = stats[1:, cv2.CC_STAT_AREA]
    if areas.max() < 0.12 * d * d:
        return None
    large = 1 + np.flatnonzero(areas > 0.1 * areas.max())
    mask = np.isin(labels, large).astype(np.uint8)
    return np.asarray((cv2.dilate(mask, np.ones((3, 3), np.uint8)) > 0) & where)


def _behind_ball(strip: Strip, shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """Where a head may stand at address, as a mask in the strip's box."""
    x0, y0, _, _ = strip.box
    y, x = np.mgrid[: shape[0], : shape[1]]
    dx, dy = x + x0 - strip.rest[0], y + y0 - strip.rest[1]
    s = dx * strip.path.direction[0] + dy * strip.path.direction[1]
    t = dx * strip.across[0] + dy * strip.across[1]
    d = strip.diameter_px
    where = (s > -4.0 * d) & (s < 0.0) & (np.abs(t) < 1.5 * d) & (np.hypot(dx, dy) > _BALL_AND_EDGE * d)
    if strip.view == "front":
        # The shaft above the head moves less than the head, and the shadow on the ground below it otherwise.
        high = dx * strip.up[0] + dy * strip.up[1]
        where &= (high < _HEAD_TOP_DIAMETERS * d) & (high > -_HEAD_SOLE_DIAMETERS * d)
    return np.asarray(where)
