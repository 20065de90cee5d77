"""What is drawn on a clip's pictures: where, when, and in which words."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from pacewright.render.clip_picture import (
    DOT_STEP_S,
    Notes,
    StrokeOverlay,
    beat_times_s,
    camera_at,
    path_dots,
    phase_at,
    place_at,
)
from tests.app.clip_scene import Scene

SCENE = Scene()
TIMES = {name: event.value for name, event in SCENE.stroke().events.items()}
GREEN = (88, 122, 70)


def drawn(scene: Scene, notes: Notes, time_s: float, *, is_contact: bool = False) -> np.ndarray:
    picture = Image.new("RGB", scene.size_px, GREEN)
    StrokeOverlay(scene.track(), scene.stroke(), notes, scene.size_px).draw(
        picture, time_s, is_contact=is_contact
    )
    return np.asarray(picture).astype(int)


def test_spacing_of_dots_is_the_speed() -> None:
    dots = [dot for dot in path_dots(SCENE.track(), TIMES) if dot.way == "through"]
    at_contact = next(k for k, dot in enumerate(dots) if abs(dot.time_s - TIMES["impact"]) < 1e-9)
    spacing_m = (dots[at_contact - 1].place_px[0] - dots[at_contact - 2].place_px[0]) / SCENE.scale
    middle = np.array([TIMES["impact"] - 1.5 * DOT_STEP_S - 0.5])
    assert spacing_m / DOT_STEP_S == pytest.approx(SCENE.model.velocity_m_s(middle)[0], rel=0.01)


def test_dots_go_back_then_through_and_show_the_ball_after_contact() -> None:
    dots = path_dots(SCENE.track(), TIMES)
    assert {dot.way for dot in dots if dot.time_s < TIMES["top"]} == {"back"}
    assert {dot.way for dot in dots if TIMES["top"] <= dot.time_s <= TIMES["impact"]} == {"through"}
    assert all(dot.time_s > TIMES["impact"] for dot in dots if dot.way == "ball")
    assert any(dot.way == "ball" for dot in dots)
    assert min(dot.time_s for dot in dots) >= TIMES["takeaway"] - 1e-9
    assert max(dot.time_s for dot in dots) <= TIMES["finish"] + 1e-9


def test_no_dot_where_the_head_was_not_seen() -> None:
    track = SCENE.track()
    hidden = (track.time_s > 0.7) & (track.time_s < 0.9)
    track.head_px[hidden] = np.nan
    times = [dot.time_s for dot in path_dots(track, TIMES) if dot.way != "ball"]
    assert not [time for time in times if 0.72 < time < 0.88]
    assert place_at(track, 0.8) is None
    assert place_at(track, -1.0) is None


def test_dots_move_with_the_ground_when_the_camera_does() -> None:
    scene = Scene(tremble_px=6.0)
    track, still = scene.track(), path_dots(Scene().track(), TIMES)
    for dot, steady in zip(path_dots(track, TIMES), still, strict=True):
        assert dot.place_px == pytest.approx(steady.place_px, abs=0.05)
    assert camera_at(track, track.time_s[30]) == pytest.approx(scene.camera_px[30])


@pytest.mark.parametrize(
    ("time_s", "phase"),
    [(0.0, "address"), (0.6, "backswing"), (1.2, "downswing"), (1.6, "follow-through"), (9.0, "finish")],
)
def test_phases(time_s: float, phase: str) -> None:
    assert phase_at(TIMES, time_s) == phase


def test_an_event_that_was_not_seen_begins_no_phase() -> None:
    assert phase_at({"takeaway": 1.0, "impact": 2.0}, 1.9) == "backswing"
    assert phase_at({}, 5.0) == "address"


def test_beats_have_the_second_at_the_top() -> None:
    assert beat_times_s(TIMES, 90.0) == pytest.approx(
        (TIMES["top"] - 60 / 90, TIMES["top"], TIMES["top"] + 60 / 90)
    )
    assert beat_times_s(TIMES, None) == ()
    assert beat_times_s({"impact": 1.0}, 90.0) == ()


def test_figures_come_when_they_are_known_and_the_name_only_if_asked() -> None:
    height, width = SCENE.size_px[1], SCENE.size_px[0]
    corner = (slice(0, height // 3), slice(0, width))
    before = drawn(SCENE, Notes(), 0.8)[corner]
    assert (before == GREEN).all()
    named = drawn(SCENE, Notes(name="A. Player"), 0.8)[corner]
    assert not (named == GREEN).all()
    after = drawn(SCENE, Notes(), 1.8)[corner]
    assert (after != GREEN).any(axis=2).sum() > (named != GREEN).any(axis=2).sum()


def test_the_frame_of_contact_is_marked() -> None:
    plain, marked = (drawn(SCENE, Notes(), TIMES["impact"], is_contact=mark) for mark in (False, True))
    assert (plain[:, 0] == GREEN).all()
    assert not (marked[:, 0] == GREEN).any(axis=0).all()
    assert (marked[3, :, 0] > 200).all()


@pytest.mark.parametrize("size", [(854, 480), (1920, 1080), (480, 854)], ids=str)
def test_panels_stay_inside_the_picture(size: tuple[int, int]) -> None:
    scene = Scene(size_px=size)
    picture = drawn(scene, Notes("A. Player", 90.0, 4.0), 1.8)
    assert (picture[:3] == GREEN).all()
    assert (picture[-3:] == GREEN).all()
    assert (picture[:, :3] == GREEN).all()
    assert (picture[:, -3:] == GREEN).all()
