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
from pacewright.tracking.keep import clipped

SQUEEZED = 0.35
"""Log of the ratio of upright to level change from which a picture is taken to be filmed from in front:
between the grounds seen from above (at most 0.15) and from in front (at least 0.6) in rendered clips.
"""
_REGIONS = (((5.25, 0.0), (1.75, 2.0)), ((-5.25, 0.0), (1.75, 2.0)), ((0.0, -4.1), (5.0, 2.9)))
"""Ground beside the ball and in front of it: middle and half sides, to the right and up, in diameters."""
_FEWEST_PX = 200
_FINE_PX = 1.2
_STEEPEST = 12.0


def view_of(picture: NDArray[np.uint8], rest_px: FloatArray, radius_px: float, up: FloatArray) -> View:
    """``above`` or ``front``, from the ground around the ball. ``up`` (2,) is the upright picture's up."""
    right = np.array([-up[1], up[0]])
    squeezed = [
        float(np.log(upright / max(level, 1e-3)))
        for middle, half in _REGIONS
        for upright, level in [_steepness(picture, rest_px, 2 * radius_px, up, right, middle, half)]
        if upright > 0.0
    ]
    return "front" if squeezed and float(np.median(squeezed)) > SQUEEZED else "above"


def _steepness(
    picture: NDArray[np.uint8],
    rest_px: FloatArray,
    diameter_px: float,
    up: FloatArray,
    right: FloatArray,
    middle: tuple[float, float],
    half: tuple[float, float],
) -> tuple[float, float]:
    """How fast brightness changes on average up and down, and to the sides, in a rectangle whose middle and
    half sides (right, up) are in diameters of the ball from it; zeros where too little of it is seen.
    """
    import cv2

    centre = rest_px + diameter_px * (middle[0] * right + middle[1] * up)
    reach = diameter_px * np.abs(half[0] * right + half[1] * up)
    (left, top), (beyond, below) = np.floor(centre - reach).astype(int), np.ceil(centre + reach).astype(int)
    x0, y0, x1, y1 = clipped((int(left), int(top), int(beyond), int(below)), picture.shape)
    if (x1 - x0) * (y1 - y0) <= _FEWEST_PX or min(x1 - x0, y1 - y0) < 3:
        return 0.0, 0.0
    smooth = cv2.GaussianBlur(picture[y0:y1, x0:x1].astype(np.float32), (0, 0), _FINE_PX)
    across, down = (
        float(cv2.mean(np.minimum(cv2.absdiff(after, before), 2 * _STEEPEST))[0]) / 2
        for after, before in ((smooth[:, 2:], smooth[:, :-2]), (smooth[2:], smooth[:-2]))
    )
    return (across, down) if abs(up[0]) > abs(up[1]) else (down, across)


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
