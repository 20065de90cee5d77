"""A clip becomes a recording: figures against what was drawn, and what is said where nothing can be measured.

The plain scene of `tests.app.clip_scene` is for behaviour; accuracy on lifelike clips is in
`validation/clips`.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from pacewright.app.assessment import AssessOptions, ClipOptions, assess
from pacewright.core.errors import ReadError
from pacewright.tracking.options import parse_capture_rate, parse_head, parse_scale
from pacewright.tracking.record import record
from tests.app.clip_scene import Scene, write_clip

SCENE = Scene()


@pytest.fixture(scope="module")
def clip(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("clip") / "putt.mp4"
    write_clip(path, SCENE.pictures(), SCENE.play_rate_hz)
    return path


def test_figures_of_a_drawn_putt(clip: Path) -> None:
    (assessment,) = assess([clip])
    (stroke,) = assessment.putts
    model = SCENE.model
    assert stroke.events["impact"].value == pytest.approx(SCENE.contact_s, abs=0.002)
    assert stroke.value("impact_speed_m_s") == pytest.approx(model.impact_speed_m_s, rel=0.04)
    assert stroke.value("time_ratio") == pytest.approx(
        model.backswing_time_s / model.downswing_time_s, abs=0.12
    )
    assert stroke.value("ball_speed_m_s") == pytest.approx(1.6 * model.impact_speed_m_s, rel=0.04)


def test_track_lies_where_it_was_drawn(clip: Path) -> None:
    recording = record(clip)
    track, truth = recording.clip, SCENE.track()
    assert track is not None
    assert track.view == "above"
    seen = np.isfinite(track.head_px[:, 0])
    assert seen.mean() > 0.95
    off = track.head_px[seen] - truth.head_px[track.frame[seen]]
    off -= np.median(off, axis=0)
    assert float(np.sqrt(np.mean(off[:, 0] ** 2))) < 0.5
    ball = np.isfinite(track.ball_px[:, 0])
    off = track.ball_px[ball] - truth.ball_px[track.frame[ball]]
    assert float(np.sqrt(np.mean(off**2))) < 0.5


def test_scale_of_the_ball_enters_every_length(clip: Path) -> None:
    recording = record(clip)
    scale = float(recording.provenance.settings["px_per_m"])
    # The drawn ball is half a pixel larger than its radius of 15 pixels.
    assert scale == pytest.approx(SCENE.scale, rel=0.05)
    assert 0.003 < recording.scale_relative_sd < 0.03


def test_two_points_give_the_scale(clip: Path) -> None:
    scale = parse_scale(f"0.5m@10,50,{10 + 0.5 * SCENE.scale},50")
    recording = record(clip, ClipOptions(scale=scale))
    assert float(recording.provenance.settings["px_per_m"]) == pytest.approx(SCENE.scale, rel=1e-4)


def test_capture_rate_stretches_time(clip: Path) -> None:
    as_filmed = record(clip)
    twice = record(clip, ClipOptions(capture_rate_hz=2 * SCENE.rate_hz))
    ends = [r.traces["head"].time_s for r in (as_filmed, twice)]
    assert np.ptp(ends[1]) == pytest.approx(np.ptp(ends[0]) / 2, rel=0.02)


def test_slow_motion_that_cannot_be_told_is_asked_for(tmp_path: Path) -> None:
    slow = Scene(rate_hz=240.0, play_rate_hz=30.0)
    path = tmp_path / "slow.mp4"
    write_clip(path, slow.pictures(), slow.play_rate_hz)
    # The drawn ball does not slow down, as no ball on a green does.
    with pytest.raises(ReadError, match="--capture-rate"):
        record(path)
    (stroke,) = assess([path], AssessOptions(clip=ClipOptions(capture_rate_hz=240.0)))[0].putts
    assert stroke.value("downswing_time_s") == pytest.approx(slow.model.downswing_time_s, rel=0.1)


def test_a_camera_that_trembles_is_followed(tmp_path: Path) -> None:
    scene = Scene(tremble_px=3.0)
    path = tmp_path / "tremble.mp4"
    write_clip(path, scene.pictures(), scene.play_rate_hz)
    (stroke,) = assess([path])[0].putts
    assert stroke.value("impact_speed_m_s") == pytest.approx(scene.model.impact_speed_m_s, rel=0.06)


@pytest.fixture(scope="module")
def unstruck(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("unstruck") / "still.mp4"
    write_clip(path, SCENE.pictures()[:40], SCENE.play_rate_hz)
    return path


def test_no_ball_that_is_struck_is_said(unstruck: Path) -> None:
    with pytest.raises(ReadError, match="none was seen to be struck"):
        record(unstruck)


def test_a_point_given_by_hand_needs_a_scale_and_no_ball(unstruck: Path) -> None:
    x, y = SCENE.track().head_px[0]
    with pytest.raises(ReadError, match="no scale in it"):
        record(unstruck, ClipOptions(head=(x, y)))
    scale = parse_scale(f"0.5m@10,50,{10 + 0.5 * SCENE.scale},50")
    followed = record(unstruck, ClipOptions(head=(x, y), scale=scale))
    assert "no-ball" in {remark.code for remark in followed.remarks}
    assert float(np.abs(followed.traces["head"].axis("x")).max()) < 0.002


@pytest.mark.parametrize("text", ["ruler", "0.5m@1,2,3", "0m@1,2,300,2", "0.5m@1,2,3,2"])
def test_a_scale_that_makes_no_sense_is_refused(text: str) -> None:
    from pacewright.core.errors import SettingsError

    with pytest.raises(SettingsError, match="--scale"):
        parse_scale(text)


def test_options_as_typed() -> None:
    assert parse_scale("SHEET") == "sheet"
    assert parse_head("640,410") == (640.0, 410.0)
    assert parse_capture_rate("240") == 240.0
    assert AssessOptions().clip == ClipOptions()


def test_a_place_on_the_head_given_by_hand_helps(clip: Path) -> None:
    x, y = SCENE.track().head_px[0]
    track = record(clip, ClipOptions(head=(x, y))).clip
    assert track is not None
    seen = np.isfinite(track.head_px[:, 0])
    off = track.head_px[seen] - SCENE.track().head_px[track.frame[seen]]
    off -= np.median(off, axis=0)
    assert float(np.sqrt(np.mean(off[:, 0] ** 2))) < 0.8
