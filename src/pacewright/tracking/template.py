"""A thing of fixed look followed through pictures: place, turn and size, to a fraction of a pixel.

Inverse compositional registration (Baker & Matthews, Int. J. Computer Vision 56, 2004, 221-255) of the
strongest points of a template, with brightness and contrast free, so that flicker and shade do not pull.
The template is blurred along the way as the exposure blurs the picture (`blurred`), so that both look
alike.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pacewright.core.recording import FloatArray

_MOST_POINTS = 2500
_ROUNDS = 12
_SMALL_STEP_PX = 0.01

Image = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Pose:
    """Where the template's reference point lies (pixels), its turn (rad, clockwise), its size, and the
    likeness of the picture there (correlation, at most 1).
    """

    x_px: float
    y_px: float
    turn_rad: float = 0.0
    size: float = 1.0
    likeness: float = 0.0

    @property
    def place(self) -> FloatArray:
        return np.array([self.x_px, self.y_px])


class Template:
    """Points of a picture (h, w), inside ``mask`` (h, w), that are to be found again in others.

    ``reference_px`` is the point of the template's picture that is followed. With ``moves_only`` its turn
    and its size stay as they are.
    """

    def __init__(
        self, picture: Image, mask: NDArray[np.bool_], reference_px: FloatArray, moves_only: bool = False
    ) -> None:
        self._picture, self._mask = picture, mask
        self._reference, self._moves_only = reference_px, moves_only
        gy, gx = (np.asarray(g) for g in np.gradient(picture))
        strength = np.where(mask, np.hypot(gx, gy), -1.0)
        strength[[0, -1], :] = strength[:, [0, -1]] = -1.0
        count = min(_MOST_POINTS, int((strength > 0).sum()))
        chosen = np.argpartition(strength, -count, axis=None)[-count:]
        rows, columns = np.unravel_index(chosen, picture.shape)
        offset = np.column_stack([columns, rows]) - reference_px
        gradient = np.column_stack([gx[rows, columns], gy[rows, columns]])
        turned = np.column_stack([-offset[:, 1], offset[:, 0]])
        shape = [gradient[:, 0], gradient[:, 1], (gradient * turned).sum(1), (gradient * offset).sum(1)]
        value = picture[rows, columns]
        self._value = value
        columns_of = np.column_stack([*shape[: 2 if moves_only else 4], value, np.ones(count)])
        self._offset = np.ascontiguousarray(offset.T.astype(np.float32))
        self._solve = np.linalg.pinv(columns_of).astype(np.float32)
        self._centred = value - value.mean()
        self._norm = float(np.linalg.norm(self._centred))
        self.reach_px = float(np.hypot(*offset.T).max())

    def blurred(self, along_px: FloatArray) -> Template:
        """The same template as a moving camera's picture has it: smeared evenly along ``along_px`` (2,)."""
        import cv2

        length = float(np.hypot(*along_px))
        if length < 0.5:
            return self
        steps = max(int(np.ceil(length)) * 2 + 1, 1)
        total = np.zeros_like(self._picture)
        for share in np.linspace(-0.5, 0.5, steps):
            shift = np.array([[1.0, 0.0, share * along_px[0]], [0.0, 1.0, share * along_px[1]]])
            total += cv2.warpAffine(
                self._picture, shift, self._picture.shape[::-1], borderMode=cv2.BORDER_REPLICATE
            )
        grown = cv2.dilate(self._mask.astype(np.uint8), np.ones((2 * int(length / 2) + 1,) * 2, np.uint8)) > 0
        return Template(np.asarray(total / steps, dtype=np.float32), grown, self._reference, self._moves_only)

    def find(self, picture: NDArray[np.uint8], corner: tuple[int, int], start: Pose) -> Pose:
        """The pose in ``picture``, a cut of the plane whose upper left pixel is ``corner`` (x, y)."""
        import cv2

        x, y = float(start.x_px - corner[0]), float(start.y_px - corner[1])
        turn, size = float(start.turn_rad), float(start.size)
        seen: NDArray[Any] = self._value
        for _ in range(_ROUNDS):
            c, s = size * math.cos(turn), size * math.sin(turn)
            map_x = c * self._offset[0] - s * self._offset[1] + np.float32(x)
            map_y = s * self._offset[0] + c * self._offset[1] + np.float32(y)
            seen = cv2.remap(picture, map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE).ravel()
            step = self._solve @ seen.astype(np.float32)
            # Brightness and contrast are free: the picture is gain·template + offset, moved by -step/gain.
            gain = float(step[-2])
            if gain < 0.2:
                break
            dx, dy = float(step[0]) / gain, float(step[1]) / gain
            dturn, dsize = (0.0, 0.0) if self._moves_only else (float(step[2]) / gain, float(step[3]) / gain)
            x, y = x - (c * dx - s * dy), y - (s * dx + c * dy)
            turn, size = turn - dturn, size * (1.0 - dsize)
            if abs(dx) + abs(dy) + self.reach_px * (abs(dturn) + abs(dsize)) < _SMALL_STEP_PX:
                break
        centred = seen - seen.mean()
        likeness = float(centred @ self._centred) / max(self._norm * float(np.linalg.norm(centred)), 1e-9)
        return Pose(x + corner[0], y + corner[1], turn, size, likeness)
