"""Pictures of the scale sheet as a camera would take them, with known truth; independent of the finder."""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np

from pacewright.core.recording import FloatArray
from pacewright.core.sheet import (
    BOARD_M,
    TAG_CELLS,
    Square,
    board_squares,
    tag_cells,
)

CELLS_A_METRE = 2000
"""The texture has cells of half a millimetre: edges of squares and fiducials all fall on them."""
_MARGIN_M = 0.02


@dataclass(frozen=True)
class Camera:
    """A pinhole with one radial term, looking at the sheet's middle from a distance, tilted and turned."""

    size_px: tuple[int, int] = (1280, 720)
    focal_share: float = 0.85
    tilt_deg: float = 0.0
    heading_deg: float = 0.0
    turn_deg: float = 0.0
    board_share: float = 0.5
    k1: float = 0.0
    offset_px: tuple[float, float] = (0.0, 0.0)

    @property
    def matrix(self) -> FloatArray:
        focal = self.focal_share * max(self.size_px)
        middle = [(edge - 1) / 2 for edge in self.size_px]
        return np.array([[focal, 0, middle[0]], [0, focal, middle[1]], [0, 0, 1.0]])

    @property
    def pose(self) -> tuple[FloatArray, FloatArray]:
        """Rotation matrix and translation in metres."""
        flip = np.diag([1.0, -1.0, -1.0])  # camera above, x to the right, y of the sheet up in the picture
        tilt, heading, turn = (math.radians(a) for a in (self.tilt_deg, self.heading_deg, self.turn_deg))
        about_x = np.array(
            [[1, 0, 0], [0, math.cos(tilt), -math.sin(tilt)], [0, math.sin(tilt), math.cos(tilt)]]
        )
        rotation = _about_z(turn) @ about_x @ _about_z(heading) @ flip
        distance = BOARD_M[0] * self.focal_share / self.board_share * max(self.size_px) / self.size_px[0]
        place = distance * np.array([*np.divide(self.offset_px, self.matrix[0, 0]), 1.0])
        return rotation, place

    def project(self, points_m: FloatArray, height_m: float = 0.0) -> FloatArray:
        """Pixels (n, 2) by OpenCV's own projection."""
        solid = np.column_stack([points_m, np.full(len(points_m), height_m)])
        rotation, place = self.pose
        seen, _ = cv2.projectPoints(
            solid, cv2.Rodrigues(rotation)[0], place, self.matrix, np.array([self.k1, 0, 0, 0.0])
        )
        return seen.reshape(-1, 2)


def _about_z(angle: float) -> FloatArray:
    return np.array(
        [[math.cos(angle), -math.sin(angle), 0], [math.sin(angle), math.cos(angle), 0], [0, 0, 1.0]]
    )


def take(
    camera: Camera,
    *,
    blur_px: float = 0.6,
    noise: float = 2.0,
    gradient: float = 0.0,
    hidden_share: float = 0.0,
    ground: int = 110,
    seed: int = 0,
) -> np.ndarray:
    """The picture: supersampled, blurred, lit unevenly, with noise; the left share of the board hidden."""
    rng = np.random.default_rng(seed)
    width, height = camera.size_px
    finer = 3
    u, v = _texture_places(camera, finer)
    paper = _paper(hidden_share)
    inside = (u >= 0) & (v >= 0) & (u < paper.shape[1]) & (v < paper.shape[0])
    light = np.full(u.shape, float(ground))
    light[inside] = paper[v[inside].astype(int), u[inside].astype(int)]
    seen = light.reshape(height, finer, width, finer).mean(axis=(1, 3))
    if blur_px > 0:
        seen = cv2.GaussianBlur(seen, (0, 0), blur_px)
    seen *= 1.0 + gradient * np.linspace(-0.5, 0.5, width)[None, :]
    return np.clip(seen + rng.normal(0, noise, seen.shape), 0, 255).astype(np.uint8)


def _texture_places(camera: Camera, finer: int) -> tuple[np.ndarray, np.ndarray]:
    """Where each fine pixel looks on the paper's texture: exact on a grid of 4 pixels, linear between."""
    step, (width, height) = 4, camera.size_px
    places = [(np.arange(-1, edge // step + 2) + 0.5) * step - 0.5 for edge in (width, height)]
    x, y = np.meshgrid(*places)
    points = np.column_stack([x.ravel(), y.ravel()]).reshape(-1, 1, 2)
    flat = cv2.undistortPoints(points, camera.matrix, np.array([camera.k1, 0, 0, 0.0])).reshape(-1, 2)
    rotation, place = camera.pose
    plane = np.column_stack([rotation[:, :2], place])
    sheet = np.column_stack([flat, np.ones(len(flat))]) @ np.linalg.inv(plane).T
    texture = (
        (sheet[:, 0] / sheet[:, 2] + BOARD_M[0] / 2 + _MARGIN_M) * CELLS_A_METRE,
        (BOARD_M[1] / 2 + _MARGIN_M - sheet[:, 1] / sheet[:, 2]) * CELLS_A_METRE,
    )
    size = (x.shape[1] * step * finer, x.shape[0] * step * finer)
    rim = step * finer
    u, v = (
        cv2.resize(t.reshape(x.shape), size, interpolation=cv2.INTER_LINEAR)[
            rim : rim + height * finer, rim : rim + width * finer
        ]
        for t in texture
    )
    return u, v


def _paper(hidden_share: float) -> np.ndarray:
    width, height = (round((edge + 2 * _MARGIN_M) * CELLS_A_METRE) for edge in BOARD_M)
    paper = np.full((height, width), 225.0)
    for square in board_squares():
        paint(paper, square, _MARGIN_M)
    paper[:, : round(hidden_share * width)] = 90.0
    return paper


def paint(paper: np.ndarray, square: Square, margin_m: float, dark: float = 30.0) -> None:
    """Paint a square or fiducial onto the texture."""
    cells = np.ones((1, 1), dtype=bool) if square.tag is None else tag_cells(square.tag)
    side = round(square.side_m * CELLS_A_METRE / len(cells))
    left, top = (round((at + margin_m) * CELLS_A_METRE) for at in (square.left_m, square.top_m))
    black = np.kron(cells, np.ones((side, side), dtype=bool))
    view = paper[top : top + len(black), left : left + len(black)]
    view[black] = dark


def mark_picture(
    tag: int, size_px: float, angle_deg: float, centre: tuple[float, float], blur: tuple[float, float]
) -> np.ndarray:
    """A head mark with its white rim on a grey ground, 400 × 300, blurred by a length in x and in y."""
    finer, (width, height) = 4, (400, 300)
    x, y = np.meshgrid(*((np.arange(edge * finer) + 0.5) / finer - 0.5 for edge in (width, height)))
    turn = math.radians(angle_deg)
    dx, dy = x - centre[0], y - centre[1]
    u = (dx * math.cos(turn) + dy * math.sin(turn)) / size_px * TAG_CELLS + TAG_CELLS / 2
    v = (-dx * math.sin(turn) + dy * math.cos(turn)) / size_px * TAG_CELLS + TAG_CELLS / 2
    cells = np.where(np.pad(~tag_cells(tag), 1, constant_values=True), 220.0, 30.0)
    inside = (u >= -1) & (u < TAG_CELLS + 1) & (v >= -1) & (v < TAG_CELLS + 1)
    light = np.full(u.shape, 100.0)
    light[inside] = cells[np.floor(v[inside]).astype(int) + 1, np.floor(u[inside]).astype(int) + 1]
    for axis, length in zip((1, 0), blur, strict=True):
        taps = 2 * round(length * finer / 2) + 1  # odd, so that nothing moves
        kernel = np.ones((1, taps) if axis == 1 else (taps, 1)) / taps
        light = cv2.filter2D(light, -1, kernel)
    seen = light.reshape(height, finer, width, finer).mean(axis=(1, 3))
    noise = np.random.default_rng(3).normal(0, 2.0, seen.shape)
    return np.clip(cv2.GaussianBlur(seen, (0, 0), 0.6) + noise, 0, 255).astype(np.uint8)
