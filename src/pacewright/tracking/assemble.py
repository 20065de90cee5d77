"""Putts followed in pixels become rows in metres and seconds, in Pacewright's frame."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pacewright.core.clip import ClipTrack, View
from pacewright.core.recording import FloatArray
from pacewright.tracking.ball_path import BallPath
from pacewright.tracking.camera import as_moved
from pacewright.tracking.clip import ClipInfo
from pacewright.tracking.head import SWING_RADIUS_M, HeadPath
from pacewright.tracking.scale import Scale

_SQUARE_RAD = np.deg2rad(8.0)


@dataclass(frozen=True, slots=True)
class FollowedPutt:
    """One putt as it was followed, with the numbers of the stretch's frames and the camera's motion in
    them.

    Places are places in the clip's first picture. ``top`` is the frame of the stretch at the top, roughly;
    ``view`` and ``left_handed`` are as they look in this putt.
    """

    frame: NDArray[np.int64]
    motion: FloatArray
    ball: BallPath
    head: HeadPath
    rest_px: FloatArray
    top: int
    view: View
    left_handed: bool

    def contact_s(self, time_s: FloatArray) -> float:
        """When the ball left, by the line through its first places, on the clock of ``time_s``."""
        moving = self.ball.k >= self.ball.left
        travel = (self.ball.centre_px[moving] - self.rest_px) @ self.ball.direction
        slope, start = np.polyfit(time_s[self.frame[self.ball.k[moving]]][:6], travel[:6], 1)
        return float(-start / slope)


class Upright:
    """Pixels of the plane as decoded to pixels of the upright picture, and directions likewise."""

    def __init__(self, info: ClipInfo) -> None:
        width, height = info.size_px
        quarter = info.rotation_deg // 90
        turns = [[[1, 0], [0, 1]], [[0, -1], [1, 0]], [[-1, 0], [0, -1]], [[0, 1], [-1, 0]]]
        shifts = [[0, 0], [height - 1, 0], [width - 1, height - 1], [0, width - 1]]
        self.turn = np.array(turns[quarter], dtype=float)
        self.shift = np.array(shifts[quarter], dtype=float)
        self.size_px = (width, height) if quarter % 2 == 0 else (height, width)

    def points(self, points_px: FloatArray) -> FloatArray:
        """Points (n, 2) of the plane in the upright picture."""
        return np.asarray(points_px @ self.turn.T + self.shift)

    def plane_points(self, points_px: FloatArray) -> FloatArray:
        """Points (n, 2) of the upright picture in the plane."""
        return np.asarray((points_px - self.shift) @ self.turn)

    def plane_direction(self, direction: FloatArray) -> FloatArray:
        """A direction (2,) of the upright picture as one of the plane."""
        return np.asarray(self.turn.T @ direction)


@dataclass(frozen=True, slots=True)
class Axes:
    """Unit vectors of the plane along the target line and across it (y from above, z from the front)."""

    along: FloatArray
    across: FloatArray


def axes_of(direction: FloatArray, view: View, upright: Upright) -> Axes:
    """The axes for balls that leave along ``direction`` (2,) of the plane.

    The target line is taken to run with the picture where the ball leaves within a few degrees of that.
    """
    leaving = upright.turn @ direction
    square = np.array([[1.0, 0.0], [-1.0, 0.0], [0.0, 1.0], [0.0, -1.0]])
    nearest = square[int((square @ leaving).argmax())]
    along = nearest if float(nearest @ leaving) > np.cos(_SQUARE_RAD) else leaving
    across = np.array([along[1], -along[0]])
    if view == "front" and across[1] > 0:
        across = -across
    return Axes(upright.plane_direction(along), upright.plane_direction(across))


def head_rows(
    putt: FollowedPutt, scale: Scale, axes: Axes, time_s: FloatArray, shape: tuple[int, ...]
) -> FloatArray:
    """Rows of time, x, y or z, confidence; x is zero where the head is when the ball leaves."""
    head = putt.head
    middle = np.array([shape[1] - 1, shape[0] - 1]) / 2
    places = scale.flat(head.place_px)
    times = time_s[putt.frame[head.k]]
    contact_s = putt.contact_s(time_s)
    at_contact = np.array([float(np.interp(contact_s, times, values)) for values in places.T])
    x = (places - at_contact) @ axes.along / scale.head_px_per_m
    if scale.camera_m is not None:
        # On its arc the head rises to both sides, towards the camera, and looks farther from the middle.
        places = middle + (places - middle) * (1.0 - x**2 / (2 * SWING_RADIUS_M) / scale.camera_m)[:, None]
    x = (places - at_contact) @ axes.along / scale.head_px_per_m
    across_m = (places - at_contact) @ axes.across / scale.head_px_per_m
    sure = np.clip(head.likeness, 0.0, 1.0)
    return np.column_stack([times, x, across_m, sure])


def ball_rows(putt: FollowedPutt, scale: Scale, axes: Axes, time_s: FloatArray) -> FloatArray:
    """Rows of time, x, y or z, confidence, from the ball's place at rest."""
    away = (scale.flat(putt.ball.centre_px) - scale.flat(putt.rest_px[None, :])) / scale.px_per_m
    times = time_s[putt.frame[putt.ball.k]]
    return np.column_stack([times, away @ axes.along, away @ axes.across, putt.ball.confidence])


def joined(parts: list[FloatArray]) -> FloatArray:
    """Rows of several putts in order of time, none twice."""
    rows = np.concatenate(parts)
    _, first = np.unique(rows[:, 0], return_index=True)
    return rows[first]


def clip_track(
    putts: list[FollowedPutt],
    time_s: FloatArray,
    info: ClipInfo,
    view: View,
    left_handed: bool,
    scale: Scale,
    axes: Axes,
) -> ClipTrack:
    """What was seen, in pixels of the upright picture."""
    upright = Upright(info)
    frame = np.unique(np.concatenate([putt.frame for putt in putts]))
    n = frame.size
    head_px, ball_px, camera_px = np.full((n, 2), np.nan), np.full((n, 2), np.nan), np.zeros((n, 2))
    turn, head_sure, ball_sure = np.full(n, np.nan), np.zeros(n), np.zeros(n)
    for putt in putts:
        camera_px[np.searchsorted(frame, putt.frame)] = putt.motion[:, :2] @ upright.turn.T
        at = np.searchsorted(frame, putt.frame[putt.head.k])
        head_px[at] = upright.points(_as_filmed(putt, putt.head.k, putt.head.place_px, info))
        turn[at], head_sure[at] = putt.head.turn_rad, np.clip(putt.head.likeness, 0.0, 1.0)
        at = np.searchsorted(frame, putt.frame[putt.ball.k])
        ball_px[at] = upright.points(_as_filmed(putt, putt.ball.k, putt.ball.centre_px, info))
        ball_sure[at] = putt.ball.confidence
    return ClipTrack(
        view, left_handed, upright.size_px, info.play_rate_hz, frame, time_s[frame],
        head_px, turn, head_sure, ball_px, ball_sure,
        float(np.median([putt.ball.radius_px for putt in putts])), camera_px,
        to_picture(scale, axes, upright, putts[0].rest_px),
    )  # fmt: skip


def to_picture(scale: Scale, axes: Axes, upright: Upright, origin_px: FloatArray) -> FloatArray:
    """(3, 3) from metres of the plane of motion to pixels of the upright first picture."""
    matrix = np.eye(3)
    matrix[:2, 0] = upright.turn @ axes.along * scale.px_per_m
    matrix[:2, 1] = upright.turn @ axes.across * scale.px_per_m
    matrix[:2, 2] = upright.points(origin_px[None, :])[0]
    return matrix


def _as_filmed(putt: FollowedPutt, ks: NDArray[np.int64], places: FloatArray, info: ClipInfo) -> FloatArray:
    """Places of the first picture as they stand in the frames ``ks``."""
    shape = (info.size_px[1], info.size_px[0])
    if not putt.motion.any():
        return places
    moved = [as_moved(putt.motion[k], shape, p[None, :])[0] for k, p in zip(ks, places, strict=True)]
    return np.array(moved)
