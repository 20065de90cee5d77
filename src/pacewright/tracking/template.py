"""A thing of fixed look followed through pictures: place, turn and size, to a fraction of a pixel.

Inverse compositional registration (Baker & Matthews, Int. J. Computer Vision 56, 2004, 221-255) of the
strongest points of a template, with brightness and contrast free, so that flicker and shade do not pull.
The template is blurred along the way as the exposure blurs the picture (`blurred`), so that both look
alike.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pacewright.core.recording import FloatArray

_MOST_POINTS = 1500
"""So few that the library of matrices does not set threads going, which cost more than they save."""
_ROUNDS, _TRUSTED_ROUNDS = 10, 3
_SMALL_STEP_PX, _ROUGH_STEP_PX = 0.02, 0.2
_SIDE_BY_SIDE, _PRODUCTS_SIDE_BY_SIDE = 24, 4
_LEAST_GAIN = 0.2
_SOFT_PX, _SOFT_TURN_SD_RAD = 2.5, 0.01
_ALIKE, _HARDLY_ALIKE, _TRUST = 0.97, 0.4, 2.0
_NOISE_LEVELS = 120.0
"""Weighs what is known of turn and size against the points, whose errors go together."""

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
        self._soft: Template | None = None
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
        self._products = (self._columns[:, :, None] * self._columns[:, None, :]).reshape(count, -1)
        self._normal = self._columns.T @ self._columns
        self._centred = (value - value.mean()).astype(np.float32)
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

    def found_softly(self, picture: NDArray[np.uint8], corner: tuple[int, int], start: Pose) -> Pose:
        """The pose in ``picture`` once both are so blurred that a sharp edge is seen from some way off."""
        import cv2

        if self._soft is None:
            look = cv2.GaussianBlur(self._picture, (0, 0), _SOFT_PX)
            self._soft = Template(np.asarray(look), self._mask, self._reference, self._moves_only)
        blurred = np.asarray(cv2.GaussianBlur(picture, (0, 0), _SOFT_PX), dtype=np.uint8)
        return self._soft.find(blurred, corner, start, Held(start.turn_rad, _SOFT_TURN_SD_RAD), rough=True)

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
        self,
        picture: NDArray[np.uint8],
        corner: tuple[int, int],
        start: Pose,
        held: Held | None = None,
        *,
        rough: bool = False,
    ) -> Pose:
        """The pose in ``picture``, a cut of the plane whose upper left pixel is ``corner`` (x, y).

        With ``held`` its turn and size are known beforehand, more or less. A ``rough`` one is good enough
        to start from.
        """
        some = [picture], [corner], [start], None if held is None else [held]
        return self._found(*some, _ROUGH_STEP_PX if rough else _SMALL_STEP_PX, sure=not rough)[0]

    def find_all(
        self,
        pictures: list[NDArray[np.uint8]],
        corners: list[tuple[int, int]],
        starts: list[Pose],
        held: list[Held] | None = None,
    ) -> list[Pose]:
        """As `find`, in many pictures side by side."""
        found: list[Pose] = []
        for first in range(0, len(pictures), _SIDE_BY_SIDE):
            some = slice(first, first + _SIDE_BY_SIDE)
            each = pictures[some], corners[some], starts[some], None if held is None else held[some]
            found += self._found(*each, _SMALL_STEP_PX, sure=True)
        return found

    def _found(
        self,
        pictures: list[NDArray[np.uint8]],
        corners: list[tuple[int, int]],
        starts: list[Pose],
        held: list[Held] | None,
        least_step_px: float,
        *,
        sure: bool,
    ) -> list[Pose]:
        """Poses to within a step; with ``sure`` again with the points that look as they should."""
        poses = np.array([[p.x_px, p.y_px, p.turn_rad, p.size] for p in starts])
        poses[:, :2] -= corners
        known = None
        if held is not None and not self._moves_only:
            known = np.array([[h.turn_rad, h.turn_sd_rad, h.size, h.size_sd] for h in held])
        seen = self._settled(pictures, poses, known, None, least_step_px)
        likeness = self._likeness(seen)
        unsure = np.flatnonzero((likeness > _HARDLY_ALIKE) & (likeness < _ALIKE))
        if sure and unsure.size:
            again = poses[unsure]
            seen = self._settled(
                [pictures[j] for j in unsure],
                again,
                None if known is None else known[unsure],
                self._trust(seen[unsure]),
                least_step_px,
            )
            poses[unsure], likeness[unsure] = again, self._likeness(seen)
        poses[:, :2] += corners
        rows = zip(poses.tolist(), likeness.tolist(), strict=True)
        return [Pose(x, y, turn, size, alike) for (x, y, turn, size), alike in rows]

    def _settled(
        self,
        pictures: list[NDArray[np.uint8]],
        poses: FloatArray,
        known: FloatArray | None,
        weight: Image | None,
        least_step_px: float,
    ) -> Image:
        """Move ``poses`` (n, 4: place, turn, size) to where least squares with the points weighted so
        (n, points) ends; the pictures there, (n, points).

        Each step solves for movement, turn and growth times gain, gain and offset; turn and size pull
        towards what is ``known`` of them (n, 4: turn, its deviation, size, its deviation).
        """
        size = self._columns.shape[1]
        if weight is None:
            normal = np.repeat(self._normal[None].astype(np.float64), len(poses), axis=0)
        else:
            some = range(0, len(weight), _PRODUCTS_SIDE_BY_SIDE)
            parts = [weight[j : j + _PRODUCTS_SIDE_BY_SIDE] @ self._products for j in some]
            normal = np.concatenate(parts).astype(np.float64).reshape(-1, size, size)
        precisions = np.zeros((len(poses), 2))
        if known is not None:
            precisions = (_NOISE_LEVELS / known[:, [1, 3]]) ** 2
            normal[:, [2, 3], [2, 3]] += precisions
        diagonal = np.arange(size)
        normal[:, diagonal, diagonal] *= 1.0 + 1e-6
        solve = np.linalg.inv(normal)
        seen = np.empty((len(poses), self._value.size), np.float32)
        going = np.arange(len(poses))
        for _ in range(_ROUNDS if weight is None else _TRUSTED_ROUNDS):
            now = poses[going]
            light = self._seen([pictures[j] for j in going], now)
            seen[going] = light
            wanted = ((light if weight is None else light * weight[going]) @ self._columns).astype(np.float64)
            if known is not None:
                wanted[:, 2] += precisions[going, 0] * (now[:, 2] - known[going, 0])
                wanted[:, 3] += precisions[going, 1] * (1.0 - known[going, 2] / now[:, 3])
            step = np.matmul(solve[going], wanted[:, :, None])[:, :, 0]
            poses[going], change_px = self._moved(now, step)
            going = going[change_px >= least_step_px]
            if not going.size:
                break
        return seen

    def _trust(self, seen: Image) -> Image:
        """How much each point looks as it should (n, points): ground past the edge does not count."""
        mean = seen.mean(axis=1, keepdims=True)
        gain = np.vecdot(seen - mean, self._centred)[:, None] / max(self._norm**2, 1e-9)
        off = np.abs(seen - mean - gain * self._centred)
        usual = 1.48 * np.median(off, axis=1, keepdims=True) + 1.0
        return np.asarray(1.0 / (1.0 + (off / (_TRUST * usual)) ** 2) ** 2, dtype=np.float32)

    def _seen(self, pictures: list[NDArray[np.uint8]], poses: FloatArray) -> Image:
        """Brightness of the points (n, points) at the poses."""
        import cv2

        x, y, turn, size = poses.T.astype(np.float32)[:, :, None]
        c, s = size * np.cos(turn), size * np.sin(turn)
        map_x = c * self._offset[0] - s * self._offset[1] + x
        map_y = s * self._offset[0] + c * self._offset[1] + y
        seen = np.empty(map_x.shape, np.uint8)
        for j, picture in enumerate(pictures):
            row = slice(j, j + 1)
            cv2.remap(
                picture, map_x[row], map_y[row], cv2.INTER_LINEAR, seen[row], borderMode=cv2.BORDER_REPLICATE
            )
        return seen.astype(np.float32)

    def _moved(self, poses: FloatArray, step: FloatArray) -> tuple[FloatArray, FloatArray]:
        """The poses (n, 4) after one step (n, columns), and how far each goes at most; one stays where the
        picture has no contrast.

        Brightness and contrast are free: the picture is gain·template + offset, moved by -step/gain.
        """
        x, y, turn, size = poses.T
        gain = step[:, -2]
        moves = np.zeros((len(poses), 4))
        ends = 2 if self._moves_only else 4
        np.divide(step[:, :ends], gain[:, None], out=moves[:, :ends], where=gain[:, None] >= _LEAST_GAIN)
        dx, dy, dturn, dsize = moves.T
        c, s = size * np.cos(turn), size * np.sin(turn)
        change_px = np.abs(dx) + np.abs(dy) + self.reach_px * (np.abs(dturn) + np.abs(dsize))
        moved = [x - (c * dx - s * dy), y - (s * dx + c * dy), turn - dturn, size * (1.0 - dsize)]
        return np.column_stack(moved), change_px

    def _likeness(self, seen: Image) -> FloatArray:
        """Correlation with the template, (n,)."""
        centred = seen - seen.mean(axis=1, keepdims=True)
        norm = np.maximum(self._norm * np.linalg.norm(centred, axis=1), 1e-9)
        return np.asarray(np.vecdot(centred, self._centred) / norm, dtype=np.float64)
