"""A clip becomes a Recording: every putt in it followed, on one scale and one clock."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from pacewright.core.clip import ClipTrack, View
from pacewright.core.errors import ReadError
from pacewright.core.measure import Remark
from pacewright.core.recording import FloatArray, Provenance, Recording, Trace
from pacewright.tracking.ball_path import BallPath, follow_ball
from pacewright.tracking.camera import as_moved
from pacewright.tracking.clip import Clip, ClipInfo, Plane, capture_times, open_clip, sha256_of
from pacewright.tracking.head import HeadPath, follow_head
from pacewright.tracking.options import ClipOptions
from pacewright.tracking.scale import Scale, scale_of
from pacewright.tracking.strip import Strip
from pacewright.tracking.watch import Stretch, Watch

Progress = Callable[[float], None]
_SQUARE_RAD = np.deg2rad(8.0)


@dataclass(frozen=True, slots=True)
class _Putt:
    """One putt as it was followed, with the numbers of the stretch's frames and the camera's motion in them.

    Places are places in the clip's first picture.
    """

    frame: NDArray[np.int64]
    motion: FloatArray
    ball: BallPath
    head: HeadPath
    rest_px: FloatArray


def record(
    path: str | Path, options: ClipOptions | None = None, *, progress: Progress | None = None
) -> Recording:
    """The strokes of a clip as a recording: head and ball in Pacewright's frame, with ``clip`` beside them.

    Raises ReadError when the file is not a clip, holds no picture, no ball that is struck, or no scale.
    """
    path, options = Path(path), options or ClipOptions()
    with open_clip(path) as clip:
        watch = Watch(clip, options.capture_rate_hz, progress)
        putts: list[_Putt] = []
        reasons: list[str] = []
        first: Plane | None = None
        for stretch in watch.stretches():
            if first is None:
                first = stretch.kept.frames[stretch.kept.wholes[0]].whole
            followed = _follow(stretch, watch.rate_hz)
            if isinstance(followed, str):
                reasons.append(followed)
            elif followed is not None:
                putts.append(followed)
        if not putts or first is None:
            raise ReadError(f"{path.name}: {_nothing(watch, reasons)}")
        return _recording(path, clip, watch, putts, first, options)


def _follow(stretch: Stretch, rate_hz: float) -> _Putt | str | None:
    """The ball and the head of one stretch; why the head was not found; None when no ball was struck."""
    ball = follow_ball(stretch.kept, stretch.disc, stretch.left_at, rate_hz)
    if ball is None:
        return None
    strip = Strip(stretch.kept, ball, rate_hz)
    plan = strip.plan()
    if isinstance(plan, str):
        return plan
    head = follow_head(strip, plan)
    if isinstance(head, str):
        return head
    motion = np.array([frame.motion for frame in stretch.kept.frames])
    return _Putt(stretch.kept.index, motion, ball, head, strip.rest)


def _nothing(watch: Watch, reasons: list[str]) -> str:
    if not watch.discs_seen:
        return "no ball at rest was found in this clip; film from above or from the front, the ball in view."
    if not reasons:
        return "a ball lies there, but none was seen to be struck in this clip."
    return f"a ball was struck, but the stroke cannot be measured: {reasons[0]}."


def _recording(
    path: Path, clip: Clip, watch: Watch, putts: list[_Putt], first: Plane, options: ClipOptions
) -> Recording:
    info = clip.info
    time_s = capture_times(np.array(watch.ticks), info, options.capture_rate_hz or info.capture_rate_hz)
    view: View = options.view or "above"
    left_handed = bool(options.left_handed)
    radius = float(np.median([putt.ball.radius_px for putt in putts]))
    scale = scale_of(options.scale, first, putts[0].rest_px, radius, view)
    upright = _Upright(info)
    along, across = _axes(putts, view, upright)
    head = _joined([_head_rows(p, scale, along, across, time_s, first.shape) for p in putts])
    ball = _joined([_ball_rows(p, scale, along, across, time_s) for p in putts])
    second = "y" if view == "above" else "z"
    mirror = np.array([1.0, -1.0 if left_handed and view == "above" else 1.0])
    traces = {
        "head": Trace(head[:, 0], head[:, 1:3] * mirror, ("x", second), confidence=head[:, 3]),
        "ball": Trace(ball[:, 0], ball[:, 1:3] * mirror, ("x", "y"), confidence=ball[:, 3])
        if view == "above"
        else Trace(ball[:, 0], ball[:, 1:2], ("x",), confidence=ball[:, 3]),
    }
    settings = {"view": view, "scale": scale.said, "px_per_m": f"{scale.px_per_m:.5g}"}
    return Recording(
        "trajectory",
        traces,
        Provenance(str(path), sha256_of(path), "clip", settings),
        mirrored=left_handed,
        scale_relative_sd=scale.relative_sd,
        remarks=_remarks(clip),
        clip=_track(putts, time_s, info, upright, view, left_handed, scale, along, across, radius),
    )


class _Upright:
    """Pixels of the plane as decoded to pixels of the upright picture, and directions likewise."""

    def __init__(self, info: ClipInfo) -> None:
        width, height = info.size_px
        quarter = info.rotation_deg // 90
        self.turn = np.array(
            [[[1, 0], [0, 1]], [[0, -1], [1, 0]], [[-1, 0], [0, -1]], [[0, 1], [-1, 0]]][quarter], float
        )
        self.shift = np.array(
            [[0, 0], [height - 1, 0], [width - 1, height - 1], [0, width - 1]][quarter], float
        )
        self.size_px = (width, height) if quarter % 2 == 0 else (height, width)

    def points(self, points_px: FloatArray) -> FloatArray:
        """(n, 2) to (n, 2)."""
        return np.asarray(points_px @ self.turn.T + self.shift)

    def back(self, direction: FloatArray) -> FloatArray:
        """A direction (2,) of the upright picture as one of the plane."""
        return np.asarray(self.turn.T @ direction)


def _axes(putts: list[_Putt], view: View, upright: _Upright) -> tuple[FloatArray, FloatArray]:
    """Unit vectors of the plane along the target line and across it (y from above, z from the front).

    The target line is taken to run with the picture where the ball leaves within a few degrees of that.
    """
    mean = np.mean([upright.turn @ putt.ball.direction for putt in putts], axis=0)
    mean /= np.hypot(*mean)
    square = np.array([[1.0, 0.0], [-1.0, 0.0], [0.0, 1.0], [0.0, -1.0]])
    nearest = square[int((square @ mean).argmax())]
    along = nearest if float(nearest @ mean) > np.cos(_SQUARE_RAD) else mean
    across = np.array([along[1], -along[0]])
    if view == "front" and across[1] > 0:
        across = -across
    return upright.back(along), upright.back(across)


def _head_rows(
    putt: _Putt,
    scale: Scale,
    along: FloatArray,
    across: FloatArray,
    time_s: FloatArray,
    shape: tuple[int, ...],
) -> FloatArray:
    """Rows of time, x, y or z, confidence; x is zero where the head is when the ball leaves."""
    head = putt.head
    middle = np.array([shape[1] - 1, shape[0] - 1]) / 2
    size = _smooth_size(head, along)
    places = middle + (scale.flat(head.place_px) - middle) / size[:, None]
    times = time_s[putt.frame[head.k]]
    x, across_m = places @ along / scale.head_px_per_m, places @ across / scale.head_px_per_m
    contact = _contact_s(putt, time_s)
    at_contact = [float(np.interp(contact, times, values)) for values in (x, across_m)]
    return np.column_stack(
        [times, x - at_contact[0], across_m - at_contact[1], np.clip(head.likeness, 0.0, 1.0)]
    )


def _smooth_size(head: HeadPath, along: FloatArray) -> FloatArray:
    """The head's size in the picture as a smooth function of its place: nearer when lifted."""
    s = (head.place_px - head.place_px[head.k == head.address][0]) @ along
    sure = head.likeness > 0.8
    if sure.sum() < 20:
        return np.ones(s.size)
    reach = max(float(np.abs(s).max()), 1.0)
    terms = np.column_stack([s / reach, (s / reach) ** 2])
    fitted, *_ = np.linalg.lstsq(terms[sure], head.size[sure] - 1.0, rcond=None)
    return np.asarray(np.clip(1.0 + terms @ fitted, 0.9, 1.1))


def _ball_rows(
    putt: _Putt, scale: Scale, along: FloatArray, across: FloatArray, time_s: FloatArray
) -> FloatArray:
    away = (scale.flat(putt.ball.centre_px) - scale.flat(putt.rest_px[None, :])) / scale.px_per_m
    times = time_s[putt.frame[putt.ball.k]]
    return np.column_stack([times, away @ along, away @ across, putt.ball.confidence])


def _contact_s(putt: _Putt, time_s: FloatArray) -> float:
    """When the ball left, by the line through its first places."""
    moving = putt.ball.k >= putt.ball.left
    travel = (putt.ball.centre_px[moving] - putt.rest_px) @ putt.ball.direction
    times = time_s[putt.frame[putt.ball.k[moving]]]
    slope, start = np.polyfit(times[:6], travel[:6], 1)
    return float(-start / slope)


def _as_filmed(putt: _Putt, ks: NDArray[np.int64], places: FloatArray, info: ClipInfo) -> FloatArray:
    """Places of the first picture as they stand in the frames ``ks``."""
    shape = (info.size_px[1], info.size_px[0])
    return np.array([as_moved(putt.motion[k], shape, p[None, :])[0] for k, p in zip(ks, places, strict=True)])


def _joined(parts: list[FloatArray]) -> FloatArray:
    """Rows of several putts in order of time, none twice."""
    rows = np.concatenate(parts)
    _, first = np.unique(rows[:, 0], return_index=True)
    return rows[first]


def _remarks(clip: Clip) -> tuple[Remark, ...]:
    if clip.broke_off is None:
        return ()
    return (Remark("clip-breaks-off", f"The clip cannot be read to its end: {clip.broke_off}."),)


def _track(
    putts: list[_Putt], time_s: FloatArray, info: ClipInfo, upright: _Upright, view: View, left_handed:
    bool, scale: Scale, along: FloatArray, across: FloatArray, radius_px: float,
) -> ClipTrack:  # fmt: skip
    frame = np.unique(np.concatenate([putt.frame for putt in putts]))
    n = frame.size
    head_px, ball_px = np.full((n, 2), np.nan), np.full((n, 2), np.nan)
    camera_px = np.zeros((n, 2))
    turn, head_sure, ball_sure = np.full(n, np.nan), np.zeros(n), np.zeros(n)
    for putt in putts:
        camera_px[np.searchsorted(frame, putt.frame)] = putt.motion[:, :2] @ upright.turn.T
        at = np.searchsorted(frame, putt.frame[putt.head.k])
        head_px[at] = upright.points(_as_filmed(putt, putt.head.k, putt.head.place_px, info))
        turn[at], head_sure[at] = putt.head.turn_rad, np.clip(putt.head.likeness, 0.0, 1.0)
        at = np.searchsorted(frame, putt.frame[putt.ball.k])
        ball_px[at] = upright.points(_as_filmed(putt, putt.ball.k, putt.ball.centre_px, info))
        ball_sure[at] = putt.ball.confidence
    to_picture = np.eye(3)
    to_picture[:2, 0] = upright.turn @ along * scale.px_per_m
    to_picture[:2, 1] = upright.turn @ across * scale.px_per_m
    to_picture[:2, 2] = upright.points(putts[0].rest_px[None, :])[0]
    return ClipTrack(
        view, left_handed, upright.size_px, info.play_rate_hz, frame, time_s[frame],
        head_px, turn, head_sure, ball_px, ball_sure, radius_px, camera_px, to_picture,
    )  # fmt: skip
