"""What is true of a clip: written beside it as JSON (figures) and NPZ (one row a picture)."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

from pacewright.core.equipment import BALL_RADIUS_M
from pacewright.core.recording import FloatArray
from validation.clips.heads import HEADS
from validation.clips.scene import Scene

REFERENCE_M = np.array([-0.015, 0.0, 0.0])
"""The head's reference point: in the middle, 15 mm behind the face; its height is the top of the
head there."""


@dataclass(frozen=True)
class Truth:
    """Figures of a clip, SI units, times on the file's clock: zero is the first picture, in
    seconds of capture."""

    name: str
    group: str
    view: str
    left_handed: bool
    target_in_picture: str
    stroke: bool
    ball: bool
    picture_size_px: tuple[int, int]
    rate_hz: float
    play_rate_hz: float
    exposure_s: float
    readout_s: float
    pixels_per_m: float
    contact_time_s: float
    takeaway_time_s: float
    top_time_s: float
    finish_time_s: float
    measures: dict[str, float]
    ball_speed_m_s: float
    ball_speed_ratio: float
    ball_direction_deg: float
    sound_contact_time_s: float
    conditions: dict[str, str]


def upright(pixels: FloatArray, scene: Scene, turned_deg: int) -> FloatArray:
    """Pixels (..., 2) of the stored picture in the upright one, after the display rotation."""
    x, y = pixels[..., 0], pixels[..., 1]
    w, h = scene.camera.width - 1.0, scene.camera.height - 1.0
    turned = {0: (x, y), 90: (y, w - x), -90: (h - y, x), 180: (w - x, h - y)}[turned_deg]
    return np.stack(turned, axis=-1)


def reference_m(scene: Scene) -> FloatArray:
    """The reference point in the head's frame."""
    high = max(part.high_m for part in HEADS[scene.shape] if part.distance(REFERENCE_M[0], np.array(0.0)) < 0)
    return REFERENCE_M + np.array([0.0, 0.0, high])


def tracks(
    scene: Scene, times_s: FloatArray, file_times_s: FloatArray, turned_deg: int
) -> dict[str, FloatArray]:
    """One row a picture: where head and ball are, in metres and in pixels of the upright picture.

    Each is taken in the middle of the exposure of the row it is seen in (rolling shutter: found by
    iteration). ``head_frame_px`` (n, 3, 2) are the pixels that one metre along the head's own axes makes at
    the reference.
    """
    ref = reference_m(scene)
    side = float(scene.timeline.path.side)

    def head_at(t: FloatArray, point: FloatArray) -> FloatArray:
        origin, rotation = scene.timeline.head(t)
        return np.asarray(origin + rotation @ (point * [1.0, side, 1.0]))

    def seen(place, t: FloatArray) -> tuple[FloatArray, FloatArray]:  # type: ignore[no-untyped-def]
        at = t.copy()
        for _ in range(4 if scene.shutter.readout_s else 1):
            pixels = scene.camera.project(place(at), scene.shake.poses(scene.camera, at))
            row = pixels[:, 1] / (scene.camera.height - 1) - 0.5
            at = t + np.clip(row, -0.5, 0.5) * scene.shutter.readout_s
        return pixels, at

    head_px, head_s = seen(lambda t: head_at(t, ref), times_s)
    step = 1e-3
    axes = []
    for axis in np.eye(3):
        near = seen(lambda t, a=axis: head_at(t, ref + step * a), times_s)[0]
        back = seen(lambda t, a=axis: head_at(t, ref - step * a), times_s)[0]
        axes.append((upright(near, scene, turned_deg) - upright(back, scene, turned_deg)) / (2 * step))
    ball_px, ball_s = seen(lambda t: scene.timeline.ball_at(t)[0], times_s)
    rotation = scene.timeline.head(head_s)[1]
    turn, shift = scene.shake.moved(times_s)
    return {
        "time_s": times_s,
        "file_time_s": file_times_s,
        "head_px": upright(head_px, scene, turned_deg),
        "head_m": head_at(head_s, ref),
        "head_along_m": scene.timeline.along(head_s),
        "head_time_s": head_s,
        "head_frame_px": np.stack(axes, axis=1),
        "head_angle_rad": np.arctan2(rotation[:, 1, 0], rotation[:, 0, 0]),
        "ball_px": upright(ball_px, scene, turned_deg),
        "ball_m": scene.timeline.ball_at(ball_s)[0],
        "ball_time_s": ball_s,
        "camera_turn_rad": turn,
        "camera_shift_m": shift,
    }


def target_in_picture(scene: Scene, turned_deg: int) -> str:
    """Where the target lies in the upright picture: right, left, up or down."""
    line = np.array([[0.0, 0.0, BALL_RADIUS_M], [0.1, 0.0, BALL_RADIUS_M]])
    start, end = upright(scene.camera.project(line), scene, turned_deg)
    dx, dy = end - start
    if abs(dx) > abs(dy):
        return "right" if dx > 0 else "left"
    return "down" if dy > 0 else "up"


def row_delay_s(scene: Scene) -> float:
    """How much later than the middle row the ball's row is read (zero without a rolling shutter)."""
    row = scene.camera.project(np.array([0.0, 0.0, BALL_RADIUS_M]))[1]
    return float((row / (scene.camera.height - 1) - 0.5) * scene.shutter.readout_s)


def save(path: Path, truth: Truth, rows: dict[str, FloatArray]) -> None:
    """Write both files beside the clip."""
    np.savez_compressed(path.with_suffix(".truth.npz"), **rows)
    text = json.dumps(asdict(truth), indent=1, ensure_ascii=False)
    path.with_suffix(".truth.json").write_text(text.replace("NaN", "null").replace("Infinity", "null") + "\n")
