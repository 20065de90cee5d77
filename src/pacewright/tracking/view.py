"""From where a clip was filmed, and on which side the player stands.

Seen from above, the ground's grain looks alike in all directions; seen from in front, low over the
ground, it is squeezed together upright, so that brightness changes faster up and down than sideways. Seen
from in front, a right-handed player putts towards the right of the picture; from above, the shaft tells
where the player stands.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pacewright.core.clip import View
from pacewright.core.recording import FloatArray
from pacewright.tracking.ball import Disc
from pacewright.tracking.keep import near_box

SQUEEZED = 0.35
"""Log of the ratio of upright to level change from which a picture is taken to be filmed from in front:
between the grounds seen from above (at most 0.15) and from in front (at least 0.6) in rendered clips.
"""
_FINE_PX = 1.2
_STEEPEST = 12.0


def view_of(picture: NDArray[np.uint8], rest_px: FloatArray, radius_px: float, up: FloatArray) -> View:
    """``above`` or ``front``, from the ground around the ball. ``up`` (2,) is the upright picture's up."""
    import cv2

    box = near_box(Disc(rest_px[0], rest_px[1], radius_px, 1.0, 0.0), 7.0, picture.shape)
    ground = picture[box[1] : box[3], box[0] : box[2]].astype(np.float32)
    smooth = cv2.GaussianBlur(ground, (0, 0), _FINE_PX)
    gy, gx = (np.asarray(g) for g in np.gradient(smooth))
    upright = np.clip(np.abs(gx * up[0] + gy * up[1]), 0, _STEEPEST)
    level = np.clip(np.abs(gx * up[1] - gy * up[0]), 0, _STEEPEST)
    y, x = np.mgrid[: ground.shape[0], : ground.shape[1]]
    away = np.stack([x + box[0] - rest_px[0], y + box[1] - rest_px[1]]) / (2 * radius_px)
    high = away[0] * up[0] + away[1] * up[1]
    aside = away[0] * up[1] - away[1] * up[0]
    beside = (np.abs(high) < 2.0) & (np.abs(aside) > 3.5)
    regions = (beside & (aside > 0), beside & (aside < 0), (high < -1.2) & (np.abs(aside) < 5))
    squeezed = [
        float(np.log(upright[region].mean() / max(float(level[region].mean()), 1e-3)))
        for region in regions
        if region.sum() > 200
    ]
    return "front" if squeezed and float(np.median(squeezed)) > SQUEEZED else "above"


def is_left_handed(view: View, direction: FloatArray, up: FloatArray, player_side: FloatArray | None) -> bool:
    """Whether a player who putts along ``direction`` is left-handed; right-handed when it cannot be told.

    ``player_side`` (2,) points from the ball to the player, in the view from above.
    """
    right = np.array([-up[1], up[0]])
    if view == "front":
        return float(direction @ right) < 0.0
    if player_side is None:
        return False
    facing = -player_side
    left_of_player = np.array([facing[1], -facing[0]])
    return float(direction @ left_of_player) < 0.0
