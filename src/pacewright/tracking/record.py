"""A clip becomes a Recording: every putt in it followed, on one scale and one clock."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Literal

import numpy as np

from pacewright.core.clip import ClipTrack, View
from pacewright.core.errors import ReadError
from pacewright.core.measure import Remark
from pacewright.core.recording import FloatArray, Provenance, Recording, Trace
from pacewright.tracking.assemble import (
    FollowedPutt,
    Upright,
    axes_of,
    ball_rows,
    clip_track,
    head_rows,
    joined,
    to_picture,
)
from pacewright.tracking.ball import Disc, ball_likeness
from pacewright.tracking.ball_path import BallPath, follow_ball
from pacewright.tracking.camera import as_first
from pacewright.tracking.clip import Clip, Plane, capture_times, open_clip, sha256_of
from pacewright.tracking.head import HeadPath, follow_head
from pacewright.tracking.options import ClipOptions, Span
from pacewright.tracking.outline import Hint
from pacewright.tracking.point import PointPath, follow_point
from pacewright.tracking.scale import Scale, scale_of
from pacewright.tracking.slow_motion import capture_rate_hz
from pacewright.tracking.strip import Strip
from pacewright.tracking.view import is_left_handed, view_of
from pacewright.tracking.watch import SLOWEST_CAMERA_HZ, Stretch, Watch

_OTHER_SIZE = 0.3
_COMING_FRAMES, _MET_DIAMETERS = 6, 1.5
_PLACE_BIAS_PX: dict[View, float] = {"above": 0.15, "front": 0.5}
"""Errors of place that go with light, shadow and smear, and in front with the head's turning: ours, from
rendered clips."""
Progress = Callable[[float], None]


def record(
    path: str | Path, options: ClipOptions | None = None, *, progress: Progress | None = None
) -> Recording:
    """The strokes of a clip as a recording: head and ball in Pacewright's frame, with ``clip`` beside them.

    Raises ReadError when the file is not a clip, holds no picture, no ball that is struck, or no scale.
    """
    path, options = Path(path), options or ClipOptions()
    with open_clip(path) as clip:
        up = Upright(clip.info).plane_direction(np.array([0.0, -1.0]))
        hint = _hint_on_plane(options.head, Upright(clip.info))
        keeps_colour = options.head == "sticker"
        watch = Watch(clip, up, options.view, options.capture_rate_hz, progress, keeps_colour)
        putts: list[tuple[Disc, FollowedPutt]] = []
        reasons: list[str] = []
        first: Plane | None = None
        for stretch in watch.stretches():
            if first is None:
                first = stretch.kept.frames[stretch.kept.wholes[0]].whole
            disc, followed = stretch.disc, _follow(stretch, watch, options.view, hint)
            del stretch  # or its pictures would lie beside those of the next one
            if isinstance(followed, str):
                reasons.append(followed)
            elif followed is not None:
                putts.append((disc, followed))
        if putts and first is not None:
            return _recording(
                path, clip, np.array(watch.ticks), _of_one_ball(putts, first.shape), first, options
            )
    if isinstance(options.head, tuple) and (isinstance(options.scale, Span) or not reasons):
        with open_clip(path) as clip:
            return _recording_of_point(path, clip, options, progress)
    raise ReadError(f"{path.name}: {_nothing(watch, reasons)}")


def _follow(
    stretch: Stretch, watch: Watch, said: View | None, hint: Hint | None
) -> FollowedPutt | str | None:
    """The ball and the head of one stretch; why the head was not found; None when no ball was struck."""
    rate_hz, up = watch.rate_hz, watch.up
    ball = follow_ball(stretch.kept, stretch.disc, stretch.left_at, rate_hz)
    if ball is None:
        return None
    first = stretch.kept.frames[stretch.kept.wholes[0]].whole
    assert first is not None
    view = said or view_of(first, ball.centre_px[0], ball.radius_px, up)
    strip = Strip(stretch.kept, ball, rate_hz, view, up)
    plan = strip.plan()
    if isinstance(plan, str):
        return plan
    head = follow_head(strip, plan, hint, tuple(watch.colours))
    if isinstance(head, str):
        return head
    if not _meets(head, ball):
        return None
    motion = np.array([frame.motion for frame in stretch.kept.frames])
    side = strip.player_side(plan.address) if view == "above" else None
    left_handed = is_left_handed(view, ball.direction, up, side)
    return FollowedPutt(stretch.kept.index, motion, ball, head, strip.rest, plan.top, view, left_handed)


def _of_one_ball(putts: list[tuple[Disc, FollowedPutt]], shape: tuple[int, ...]) -> list[FollowedPutt]:
    """The putts of balls as large as the one most like a ball: a speck that is carried along is none."""
    radius_px = max(putts, key=lambda each: ball_likeness(each[0], shape))[1].ball.radius_px
    return [putt for _, putt in putts if abs(putt.ball.radius_px / radius_px - 1.0) < _OTHER_SIZE]


def _meets(head: HeadPath, ball: BallPath) -> bool:
    """Whether the head comes forward to the ball as it leaves: what leaves without being met was not
    struck.
    """
    s = (head.place_px - head.place_px[head.k == head.address][0]) @ ball.direction / (2 * ball.radius_px)
    coming = (head.k < ball.left) & (head.k >= ball.left - _COMING_FRAMES)
    leaving = ball.k >= ball.left
    if coming.sum() < 2:
        return False
    head_speed = float(np.polyfit(head.k[coming], s[coming], 1)[0])
    at_contact = float(s[coming][-1] + head_speed * (ball.left - 1 - head.k[coming][-1]))
    away = (ball.centre_px[leaving] - ball.centre_px[0]) @ ball.direction / (2 * ball.radius_px)
    ball_speed = float(np.polyfit(ball.k[leaving][:6], away[:6], 1)[0])
    return abs(at_contact) < _MET_DIAMETERS and 0.2 * ball_speed < head_speed < 2.0 * ball_speed


def _nothing(watch: Watch, reasons: list[str]) -> str:
    if not watch.ticks or len(watch.ticks) < 3:
        return "the clip holds a single picture; a stroke needs a film."
    if reasons:
        return f"something like a ball left its place, but the stroke cannot be measured: {reasons[0]}."
    if watch.discs_seen:
        return "something like a ball lies there, but none was seen to be struck in this clip."
    return (
        "no ball at rest was found in this clip. Film from above or from the front with the ball in view; or "
        "say where the head is in the first picture with --head x,y."
    )


def _recording(
    path: Path, clip: Clip, ticks: np.ndarray, putts: list[FollowedPutt], first: Plane, options: ClipOptions
) -> Recording:
    info = clip.info
    upright, view = Upright(info), putts[0].view
    left_handed = putts[0].left_handed if options.left_handed is None else options.left_handed
    radius = float(np.median([putt.ball.radius_px for putt in putts]))
    scale = scale_of(_scale_on_plane(options.scale, upright), first, putts[0].rest_px, radius, view)
    rate_hz, inferred = _capture_rate(path, clip, ticks, putts, scale, options)
    time_s = capture_times(ticks, info, rate_hz)
    direction = np.mean([putt.ball.direction for putt in putts], axis=0)
    axes = axes_of(direction / np.hypot(*direction), view, upright)
    head = joined([head_rows(p, scale, axes, time_s, first.shape) for p in putts])
    ball = joined([ball_rows(p, scale, axes, time_s) for p in putts])
    settings = {
        "view": view,
        "hand": "left" if left_handed else "right",
        "scale": scale.said,
        "px_per_m": f"{scale.px_per_m:.5g}",
    }
    if rate_hz is not None:
        settings["capture_rate_hz"] = f"{rate_hz:g}"
    return Recording(
        "trajectory",
        {
            "head": _trace(head, view, left_handed, ("x", "y") if view == "above" else ("x", "z")),
            "ball": _trace(ball, view, left_handed, ("x", "y") if view == "above" else ("x",)),
        },
        Provenance(str(path), sha256_of(path), "clip", settings),
        mirrored=left_handed,
        scale_relative_sd=scale.relative_sd,
        place_bias_m=_PLACE_BIAS_PX[view] / scale.px_per_m,
        remarks=(
            *_remarks(clip, rate_hz if inferred else None),
            _seen(view, left_handed, upright.turn @ axes.along, options),
        ),
        clip=clip_track(putts, time_s, info, view, left_handed, scale, axes),
    )


def _trace(rows: FloatArray, view: View, left_handed: bool, axes: tuple[str, ...]) -> Trace:
    mirror = np.array([1.0, -1.0 if left_handed and view == "above" else 1.0])
    return Trace(rows[:, 0], (rows[:, 1:3] * mirror)[:, : len(axes)], axes, confidence=rows[:, 3])


def _capture_rate(
    path: Path, clip: Clip, ticks: np.ndarray, putts: list[FollowedPutt], scale: Scale, options: ClipOptions
) -> tuple[float | None, bool]:
    """The rate at which the clip was filmed, None where it is the file's own; and whether it was inferred."""
    info = clip.info
    stated = options.capture_rate_hz or info.capture_rate_hz
    if stated is not None or info.play_rate_hz > SLOWEST_CAMERA_HZ:
        return stated, False
    file_s = capture_times(ticks, info, None)
    played_hz = 1.0 / float(np.median(np.diff(file_s)))
    putt = putts[0]
    contact_s = putt.contact_s(file_s)
    moving = putt.ball.k >= putt.ball.left
    travel_m = (putt.ball.centre_px[moving] - putt.rest_px) @ putt.ball.direction / scale.px_per_m
    ball_s = file_s[putt.frame[putt.ball.k[moving]]] - contact_s
    rate_hz = capture_rate_hz(
        path.name, played_hz, contact_s - file_s[putt.frame[putt.top]], ball_s, travel_m
    )
    return (None, False) if abs(rate_hz / played_hz - 1.0) < 0.05 else (rate_hz, True)


def _remarks(clip: Clip, inferred_hz: float | None) -> tuple[Remark, ...]:
    remarks = []
    if clip.broke_off is not None:
        remarks.append(Remark("clip-breaks-off", f"The clip cannot be read to its end: {clip.broke_off}."))
    if inferred_hz is not None:
        remarks.append(
            Remark(
                "slow-motion",
                f"Slow motion: the ball's slowing and the time of the stroke say that it was filmed at "
                f"{inferred_hz:g} pictures a second. If it was not, say so with --capture-rate.",
            )
        )
    return tuple(remarks)


def _seen(view: View, left_handed: bool, along: FloatArray, options: ClipOptions) -> Remark:
    """From where it was filmed, for whom, and which way: found, shown, and to be set where it is wrong."""
    sides = {(1, 0): "right", (-1, 0): "left", (0, 1): "bottom", (0, -1): "top"}
    side = min(sides, key=lambda way: -float(np.dot(way, along)))
    where = "from above" if view == "above" else "from in front"
    hand = "left" if left_handed else "right"
    text = f"Filmed {where}; the putt goes to the picture's {sides[side]}; a {hand}-handed player."
    if options.view is None:
        text += " If that is wrong, say so with --view and --left-handed."
    return Remark("clip-view", text)


def _recording_of_point(path: Path, clip: Clip, options: ClipOptions, progress: Progress | None) -> Recording:
    """What was pointed at, followed through the whole clip, with x along the way it mostly goes."""
    if not isinstance(options.scale, Span):
        raise ReadError(
            f"{path.name}: no ball is struck in this clip, so there is no scale in it. Give two points a "
            "known distance apart: --scale 0.5m@x1,y1,x2,y2."
        )
    info, upright = clip.info, Upright(clip.info)
    assert isinstance(options.head, tuple)
    point = follow_point(clip, upright.plane_points(np.array([options.head]))[0], progress)
    shape = (info.size_px[1], info.size_px[0])
    view: View = options.view or "front"
    time_s = capture_times(point.ticks, info, options.capture_rate_hz or info.capture_rate_hz)
    places = np.array(
        [as_first(m, shape, p[None, :])[0] for m, p in zip(point.motion, point.place_px, strict=True)]
    )
    axes = axes_of(upright.plane_direction(np.array([1.0, 0.0])), view, upright)
    scale = scale_of(_scale_on_plane(options.scale, upright), np.empty(shape, np.uint8), None, 0.0, view)
    away = (places - places[0]) / scale.px_per_m
    rows = np.column_stack([time_s[point.frame], away @ axes.along, away @ axes.across, point.likeness])
    none = Remark("no-ball", "No ball is struck in this clip: what was pointed at was followed, and no more.")
    return Recording(
        "trajectory",
        {"head": _trace(rows, view, False, ("x", "y") if view == "above" else ("x", "z"))},
        Provenance(str(path), sha256_of(path), "clip", {"view": view, "scale": scale.said}),
        scale_relative_sd=scale.relative_sd,
        remarks=(none, *_remarks(clip, None)),
        clip=_point_track(point, time_s, clip, view, to_picture(scale, axes, upright, places[0])),
    )


def _point_track(
    point: PointPath, time_s: FloatArray, clip: Clip, view: View, matrix: FloatArray
) -> ClipTrack:
    upright, n = Upright(clip.info), point.frame.size
    return ClipTrack(
        view, False, upright.size_px, clip.info.play_rate_hz, point.frame, time_s[point.frame],
        upright.points(point.place_px), point.turn_rad, np.clip(point.likeness, 0.0, 1.0),
        np.full((n, 2), np.nan), np.zeros(n), float("nan"), point.motion[:, :2] @ upright.turn.T, matrix,
    )  # fmt: skip


def _hint_on_plane(
    said: tuple[float, float] | Literal["mark", "sticker"] | None, upright: Upright
) -> Hint | None:
    """What was said of the head, a place in the upright picture as one of the plane."""
    return upright.plane_points(np.array([said]))[0] if isinstance(said, tuple) else said


def _scale_on_plane(said: str | Span | None, upright: Upright) -> str | Span | None:
    """The scale that was said, its points as points of the plane."""
    if not isinstance(said, Span):
        return said
    ends = upright.plane_points(np.array([said.first_px, said.second_px]))
    return Span(said.length_m, (ends[0, 0], ends[0, 1]), (ends[1, 0], ends[1, 1]))
