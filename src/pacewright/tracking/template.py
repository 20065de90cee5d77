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

_MOST_POINTS = 1600
_ROUNDS, _TRUSTED_ROUNDS = 10, 3
_SMALL_STEP_PX = 0.02
_ALIKE, _HARDLY_ALIKE, _TRUST = 0.97, 0.4, 2.0
_NOISE_LEVELS = 120.0
"""Weighs what is known of turn and size against the points, whose errors go together."""

Image = NDArray[np.float32]
_Place = tuple[float, float, float, float]


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


@dataclass(frozen=True, slots=True)
class Held:
    """What is known of turn and size before looking, with standard deviations."""

    turn_rad: float
    turn_sd_rad: float
    size: float = 1.0
    size_sd: float = 0.02


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
        self._columns = columns_of.astype(np.float32)
        self._normal = (self._columns.T @ self._columns).astype(np.float64)
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

    def looking_as(self, picture: NDArray[np.uint8], corner: tuple[int, int], pose: Pose) -> Template:
        """The same points as they look in a picture where they lie at ``pose``."""
        import cv2

        c, s = pose.size * math.cos(pose.turn_rad), pose.size * math.sin(pose.turn_rad)
        turn = np.array([[c, -s], [s, c]])
        start = np.array([pose.x_px - corner[0], pose.y_px - corner[1]]) - turn @ self._reference
        matrix = np.column_stack([turn, start])
        flags = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
        size = (self._picture.shape[1], self._picture.shape[0])
        look = cv2.warpAffine(
            picture.astype(np.float32), matrix, size, flags=flags, borderMode=cv2.BORDER_REPLICATE
        )
        return Template(np.asarray(look, dtype=np.float32), self._mask, self._reference, self._moves_only)

    def find(
        self, picture: NDArray[np.uint8], corner: tuple[int, int], start: Pose, held: Held | None = None
    ) -> Pose:
        """The pose in ``picture``, a cut of the plane whose upper left pixel is ``corner`` (x, y).

        With ``held`` its turn and size are known beforehand, more or less.
        """
        x, y = float(start.x_px - corner[0]), float(start.y_px - corner[1])
        now: _Place = (x, y, float(start.turn_rad), float(start.size))
        now, seen = self._settled(picture, now, held, self._columns, _ROUNDS)
        likeness = self._likeness(seen)
        if _HARDLY_ALIKE < likeness < _ALIKE:
            now, seen = self._settled(picture, now, held, self._trusted(seen), _TRUSTED_ROUNDS)
            likeness = self._likeness(seen)
        return Pose(now[0] + corner[0], now[1] + corner[1], now[2], now[3], likeness)

    def _settled(
        self, picture: NDArray[np.uint8], now: _Place, held: Held | None, weighted: Image, rounds: int
    ) -> tuple[_Place, Image]:
        """The place reached by least squares with the points weighted so, and the picture there.

        Each step solves for movement, turn and growth times gain, gain and offset; with ``held`` turn and
        size pull towards what is known of them.
        """
        if weighted is self._columns:
            normal = self._normal.copy()
        else:
            normal = (self._columns.T @ weighted).astype(np.float64)
        precisions = (0.0, 0.0)
        if held is not None and not self._moves_only:
            precisions = ((_NOISE_LEVELS / held.turn_sd_rad) ** 2, (_NOISE_LEVELS / held.size_sd) ** 2)
            normal[2, 2] += precisions[0]
            normal[3, 3] += precisions[1]
        solve = np.linalg.inv(normal + 1e-6 * np.diag(np.diag(normal)))
        seen = self._value
        for _ in range(rounds):
            seen = self._seen(picture, now)
            wanted = weighted.T @ seen
            if held is not None and not self._moves_only:
                wanted[2] += precisions[0] * (now[2] - held.turn_rad)
                wanted[3] += precisions[1] * (1.0 - held.size / now[3])
            moved = self._moved(now, solve @ wanted)
            if moved is None:
                break
            now, change_px = moved
            if change_px < _SMALL_STEP_PX:
                break
        return now, seen

    def _trusted(self, seen: Image) -> Image:
        """The columns weighted by how much each point looks as it should: ground past the edge does not
        count.
        """
        off = np.abs(seen - self._columns[:, -2:] @ self._levels(seen))
        usual = 1.48 * float(np.median(off)) + 1.0
        weight = 1.0 / (1.0 + (off / (_TRUST * usual)) ** 2) ** 2
        return np.asarray(self._columns * weight[:, None], dtype=np.float32)

    def _seen(self, picture: NDArray[np.uint8], now: _Place) -> Image:
        import cv2

        x, y, turn, size = now
        c, s = size * math.cos(turn), size * math.sin(turn)
        map_x = c * self._offset[0] - s * self._offset[1] + np.float32(x)
        map_y = s * self._offset[0] + c * self._offset[1] + np.float32(y)
        seen = cv2.remap(picture, map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        return np.asarray(seen.ravel(), dtype=np.float32)

    def _moved(self, now: _Place, step: FloatArray) -> tuple[_Place, float] | None:
        """The pose after one step, and how far it goes at most; None when the picture has no contrast
        there.

        Brightness and contrast are free: the picture is gain·template + offset, moved by -step/gain.
        """
        x, y, turn, size = now
        gain = float(step[-2])
        if gain < 0.2:
            return None
        dx, dy = float(step[0]) / gain, float(step[1]) / gain
        dturn, dsize = (0.0, 0.0) if self._moves_only else (float(step[2]) / gain, float(step[3]) / gain)
        c, s = size * math.cos(turn), size * math.sin(turn)
        change_px = abs(dx) + abs(dy) + self.reach_px * (abs(dturn) + abs(dsize))
        return (x - (c * dx - s * dy), y - (s * dx + c * dy), turn - dturn, size * (1.0 - dsize)), change_px

    def _levels(self, seen: NDArray[Any]) -> NDArray[Any]:
        """Gain and offset of the picture against the template, (2,)."""
        gain = float((seen - seen.mean()) @ self._centred) / max(self._norm**2, 1e-9)
        return np.array([gain, seen.mean() - gain * self._value.mean()], dtype=np.float32)

    def _likeness(self, seen: NDArray[Any]) -> float:
        centred = seen - seen.mean()
        return float(centred @ self._centred) / max(self._norm * float(np.linalg.norm(centred)), 1e-9)
