"""The renderer of clips: what it draws is where, as large, as blurred and as noisy as its truth says."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import av
import numpy as np
import pytest

from pacewright.core.equipment import BALL_DIAMETER_M, BALL_RADIUS_M
from pacewright.core.recording import FloatArray
from pacewright.simulate.stroke_model import StrokeModel
from validation.clips.build import Clip, build
from validation.clips.camera import Camera, looking_at
from validation.clips.catalogue import CLEAN, SHADOWS, catalogue
from validation.clips.encode import Encoding
from validation.clips.footprint import samples
from validation.clips.motion import BallRun, Timeline
from validation.clips.motion import Path as HeadPath
from validation.clips.picture import Renderer
from validation.clips.player import Player
from validation.clips.scene import BallLook, Light, Noise, Scene, Shutter
from validation.clips.sensor import GAMMA

HEIGHT_M, FOCAL_PX = 1.5, 1500.0
FAST = BallRun(3.0, sliding_friction=0.01)
OUT_OF_SIGHT = HeadPath(clearance_m=5.0)
"""A head high above the camera: the ball lies alone."""


def _scene(at_m: float = 0.0, **changes: object) -> Scene:
    """A ball on even ground under even light, the camera above the place ``at_m`` along the line;
    no noise."""
    position = np.array([at_m + 0.0021, 0.0013, HEIGHT_M])
    down = looking_at(position, position - [0.0, 0.0, 1.0], np.array([0.0, 1.0, 0.0]))
    scene = Scene(
        Camera(192, 96, FOCAL_PX, position, down),
        Timeline(StrokeModel(), OUT_OF_SIGHT, FAST, still_before_s=0.1),
        "above", player=Player(shows=False), balls=(BallLook(mark=0),), ground="plain",
        light=Light(np.array([0.0, 0.0, 1.0]), key=0.0, vignetting=0.0, exposure=1.0), noise=Noise(0.0),
    )  # fmt: skip
    return replace(scene, **changes)  # type: ignore[arg-type]


def _moments(scene: Scene, time_s: float) -> FloatArray:
    """Centre and variance, in x and y, of the ball's light in the picture taken then, in px.

    The ball's own light: what it takes from the ground, by hiding and by shading it, left out.
    """
    renderer = Renderer(scene)
    renderer.take(time_s, 8)
    light = renderer.lit.mean(axis=2).astype(float)
    rows, columns = np.indices(light.shape)
    x, y = np.average(columns, weights=light), np.average(rows, weights=light)
    spread = np.average((columns - x) ** 2, weights=light), np.average((rows - y) ** 2, weights=light)
    return np.array([x, y, *spread])


def test_the_ball_is_as_large_as_perspective_makes_it() -> None:
    renderer = Renderer(_scene())
    renderer.take(0.0, 8)
    # Light from the ball alone; its rim is half as bright as its top.
    light = renderer.lit.mean(axis=2)
    area = np.sum(np.clip(light / (0.5 * light.max()), 0, 1))
    # A sphere is seen under the angle of its tangents.
    away = HEIGHT_M - BALL_RADIUS_M
    seen_m = BALL_RADIUS_M / np.sqrt(away**2 - BALL_RADIUS_M**2)
    assert 2 * np.sqrt(area / np.pi) == pytest.approx(2 * FOCAL_PX * seen_m, abs=0.5)
    assert _scene().camera.pixels_per_m(np.array([0, 0, BALL_RADIUS_M])) * BALL_DIAMETER_M == pytest.approx(
        2 * FOCAL_PX * seen_m, rel=1e-3
    )


@pytest.mark.parametrize("moving", [False, True])
def test_the_ball_is_drawn_where_the_truth_puts_it(moving: bool) -> None:
    scene = _scene()
    time_s = 0.0
    if moving:
        time_s = scene.timeline.contact_s + 0.1
        place = float(scene.timeline.ball_at(np.array(time_s))[0][0])
        scene = _scene(place, shutter=Shutter(exposure_s=1 / 480))
    centre, _ = scene.timeline.ball_at(np.array(time_s))
    moments = _moments(scene, time_s)
    assert moments[:2] == pytest.approx(scene.camera.project(centre), abs=0.02)


def test_blur_is_speed_times_exposure() -> None:
    exposure_s = 1 / 250
    time_s = _scene().timeline.contact_s + 0.1
    place = float(_scene().timeline.ball_at(np.array(time_s))[0][0])
    blurred = _moments(_scene(place, shutter=Shutter(exposure_s=exposure_s)), time_s)
    sharp = _moments(_scene(place, shutter=Shutter(exposure_s=1e-7)), time_s)
    ends_m = _scene().timeline.ball_at(time_s + np.array([-0.5, 0.5]) * exposure_s)[0][:, 0]
    length_px = np.diff(ends_m)[0] * FOCAL_PX / (HEIGHT_M - BALL_RADIUS_M)
    # A box of that length adds a twelfth of its square to the variance along the line, and none across it.
    assert np.sqrt(12 * (blurred[2] - sharp[2])) == pytest.approx(length_px, rel=0.03)
    assert blurred[3] == pytest.approx(sharp[3], rel=0.02)


@pytest.mark.parametrize("levels", [1.0, 3.0])
def test_noise_at_mid_grey_is_as_asked(levels: float) -> None:
    grey = Light(np.array([0.0, 0.0, 1.0]), key=0.0, vignetting=0.0, exposure=0.5**GAMMA / 0.18)
    scene = _scene(light=grey, noise=Noise(levels), balls=())
    renderer = Renderer(scene)
    pictures = np.array([renderer.take(0.0, 10)[0][:, :30] for _ in range(8)]) / 4.0
    assert pictures.mean() == pytest.approx(16 + 219 * 0.5, abs=0.3)
    assert pictures.std(axis=0, ddof=1).mean() * 1.036 == pytest.approx(levels, rel=0.06)


@pytest.mark.parametrize("count", [12, 19, 32])
def test_samples_of_a_pixel_shift_nothing(count: int) -> None:
    offsets, instants = samples(count, 0.42)
    assert offsets.mean(axis=0) == pytest.approx([0, 0], abs=1e-9)
    assert instants.mean() == pytest.approx(0)
    assert offsets.T @ instants == pytest.approx([0, 0], abs=1e-9)
    assert np.cov(offsets.T, bias=True) == pytest.approx(0.42**2 * np.eye(2), abs=1e-9)


@pytest.mark.parametrize(
    "encoding",
    [
        Encoding(mbit_s=3, turned_deg=90),
        Encoding("libx265", "mov", bits=10, mbit_s=3, ticks_hz=600, turned_deg=-90),
        Encoding("libvpx-vp9", "webm", mbit_s=3, ticks_hz=1000, play_slower=8.0),
    ],
    ids=lambda encoding: encoding.ending,
)
def test_the_file_holds_the_times_and_the_turn_of_the_truth(tmp_path: Path, encoding: Encoding) -> None:
    still = Timeline(None, OUT_OF_SIGHT, None, still_length_s=0.1)
    shutter = Shutter(240.0, jitter_share=0.1, dropped_share=0.1)
    path = build(Clip("tiny", "test", _scene(timeline=still, shutter=shutter), encoding), tmp_path)
    rows = np.load(path.with_suffix(".truth.npz"))
    times_s, upright = [], None
    with av.open(str(path)) as container:
        for frame in container.decode(video=0):
            times_s.append(float(frame.pts * frame.time_base) / encoding.play_slower)
            upright = np.rot90(frame.to_ndarray(format="gray"), frame.rotation // 90)
            assert frame.rotation == encoding.turned_deg
    assert times_s == pytest.approx(rows["file_time_s"], abs=1e-9)
    assert rows["file_time_s"] == pytest.approx(
        rows["time_s"], abs=0.5001 / encoding.ticks_hz / encoding.play_slower
    )
    # The ball lies where the truth says, in the picture as it is shown.
    assert upright is not None
    brightest = upright > 0.8 * upright.max()
    assert np.argwhere(brightest).mean(axis=0)[::-1] == pytest.approx(rows["ball_px"][0], abs=1.0)
    truth = json.loads(path.with_suffix(".truth.json").read_text())
    assert truth["picture_size_px"] == list(upright.shape[::-1])


def test_the_catalogue_is_seeded_and_covers_both_views() -> None:
    clips = catalogue()
    names = [clip.name for clip in clips]
    assert len(set(names)) == len(names) >= 60
    assert sum(clip.group == CLEAN for clip in clips) >= 20
    assert sum(clip.group == SHADOWS for clip in clips) >= 16
    assert {clip.scene.view for clip in clips} == {"above", "front"}
    assert repr(clips) == repr(catalogue())


def test_every_stroke_of_the_catalogue_stays_in_the_picture() -> None:
    for clip in catalogue():
        timeline, camera = clip.scene.timeline, clip.scene.camera
        if timeline.model is not None:
            during = np.linspace(timeline.takeaway_s, timeline.length_s, 60)
            pixels = camera.project(timeline.head(during)[0])
            assert pixels.min() > 0, clip.name
            assert (pixels.max(axis=0) < [camera.width, camera.height]).all(), clip.name
