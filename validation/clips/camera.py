"""A pinhole camera with radial distortion, and how it moves while it films.

World: metres, x along the target line, z up. Picture: pixels of the stored picture, x to the right and y
down, the centre of the first pixel at (0, 0).
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from pacewright.core.recording import FloatArray


@dataclass(frozen=True)
class Camera:
    """Where the camera stands and what it is. ``rotation`` has the rows right, down and forward in
    the world."""

    width: int
    height: int
    focal_px: float
    position_m: FloatArray
    rotation: FloatArray
    k1: float = 0.0
    k2: float = 0.0

    @property
    def centre_px(self) -> FloatArray:
        """The middle of the picture."""
        return np.array([(self.width - 1) / 2.0, (self.height - 1) / 2.0])

    def project(self, points_m: FloatArray, pose: FloatArray | None = None) -> FloatArray:
        """Pixels (..., 2) of points (..., 3); ``pose`` (..., 12) stands for a camera that has moved."""
        position, rotation = self.position_m, self.rotation
        if pose is not None:
            position, rotation = pose[..., :3], pose[..., 3:].reshape(*pose.shape[:-1], 3, 3)
        seen = np.einsum("...ij,...j->...i", rotation, points_m - position)
        plane = seen[..., :2] / seen[..., 2:]
        r2 = np.sum(plane**2, axis=-1, keepdims=True)
        return self.centre_px + self.focal_px * plane * (1.0 + self.k1 * r2 + self.k2 * r2**2)

    def directions(self, pixels: FloatArray) -> FloatArray:
        """Undistorted image coordinates (..., 2): tangents of the angles to the axis."""
        distorted = (pixels - self.centre_px) / self.focal_px
        plane = distorted
        for _ in range(12):
            r2 = np.sum(plane**2, axis=-1, keepdims=True)
            plane = distorted / (1.0 + self.k1 * r2 + self.k2 * r2**2)
        return plane

    def corner_directions(self) -> FloatArray:
        """Directions at the corners of all pixels, (height + 1, width + 1, 2) as float32."""
        x, y = np.meshgrid(np.arange(self.width + 1) - 0.5, np.arange(self.height + 1) - 0.5)
        return self.directions(np.stack([x, y], axis=-1)).astype(np.float32)

    def pixels_per_m(self, point_m: FloatArray) -> float:
        """Scale of the picture at a point, across the line of sight and for small lengths."""
        depth = float(self.rotation[2] @ (point_m - self.position_m))
        return self.focal_px / depth


def looking_at(
    position_m: FloatArray, target_m: FloatArray, up: FloatArray, roll_rad: float = 0.0
) -> FloatArray:
    """Rotation (3, 3) of a camera at ``position_m`` that looks at ``target_m``, with ``up`` upward in it."""
    forward = (target_m - position_m) / np.linalg.norm(target_m - position_m)
    right = np.cross(forward, up)
    right /= np.linalg.norm(right)
    down = np.cross(forward, right)
    c, s = np.cos(roll_rad), np.sin(roll_rad)
    return np.array([c * right + s * down, c * down - s * right, forward])


@dataclass(frozen=True)
class Shake:
    """What the camera does while it films: a tremble of several sines, and one nudge.

    ``tremble`` rows: frequency in Hz, phase, three amplitudes of turning in rad, three of shifting in m.
    A nudge is a damped swing from ``nudge_time_s`` on, after which the camera stays turned a little.
    """

    tremble: FloatArray = field(default_factory=lambda: np.zeros((0, 8)))
    nudge_time_s: float = np.inf
    nudge_turn_rad: FloatArray = field(default_factory=lambda: np.zeros(3))
    nudge_frequency_hz: float = 6.0
    nudge_decay_s: float = 0.12

    @property
    def still(self) -> bool:
        """Whether the camera does not move at all."""
        return len(self.tremble) == 0 and not np.isfinite(self.nudge_time_s)

    def moved(self, time_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Turn (..., 3) as a rotation vector in the camera's axes, and shift (..., 3), at times (...)."""
        turn = np.zeros((*time_s.shape, 3))
        shift = np.zeros((*time_s.shape, 3))
        for row in self.tremble:
            wave = np.sin(2 * np.pi * row[0] * time_s + row[1])[..., None]
            turn += wave * row[2:5]
            shift += wave * row[5:8]
        if np.isfinite(self.nudge_time_s):
            tau = np.maximum(time_s - self.nudge_time_s, 0.0)
            swing = np.exp(-tau / self.nudge_decay_s) * np.cos(2 * np.pi * self.nudge_frequency_hz * tau)
            turn += (1.0 - swing)[..., None] * self.nudge_turn_rad
        return turn, shift

    def poses(self, camera: Camera, time_s: FloatArray) -> FloatArray:
        """Position and rotation (..., 12) of the camera at times (...)."""
        turn, shift = self.moved(time_s)
        out = np.empty((*time_s.shape, 12))
        out[..., :3] = camera.position_m + shift
        out[..., 3:] = (rotations(turn) @ camera.rotation).reshape(*time_s.shape, 9)
        return out


def rotations(vectors: FloatArray) -> FloatArray:
    """Rotation matrices (..., 3, 3) of rotation vectors (..., 3), after Rodrigues."""
    angle = np.linalg.norm(vectors, axis=-1)[..., None, None]
    unit = vectors / np.maximum(angle[..., 0], 1e-12)
    x, y, z = unit[..., 0], unit[..., 1], unit[..., 2]
    zero = np.zeros_like(x)
    cross = np.stack([zero, -z, y, z, zero, -x, -y, x, zero], axis=-1).reshape(*x.shape, 3, 3)
    return np.eye(3) + np.sin(angle) * cross + (1.0 - np.cos(angle)) * (cross @ cross)
