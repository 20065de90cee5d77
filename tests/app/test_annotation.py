"""Annotated films and strobe pictures of a clip whose track is known."""

from __future__ import annotations

import io
from pathlib import Path

import av
import numpy as np
import pytest
from PIL import Image

from pacewright.app import annotation
from pacewright.app.annotation import (
    AFTER_S,
    HOLD_S,
    AnnotateOptions,
    annotate,
    strobe_png,
    write_annotated,
)
from pacewright.core.errors import QualityError, SettingsError
from pacewright.render.strobe import plan_strobe
from tests.app.clip_scene import Scene, write_clip

SCENE = Scene(size_px=(320, 200), tremble_px=3.0)


@pytest.fixture(scope="module")
def clip(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("clips") / "putt.mp4"
    write_clip(path, SCENE.pictures(), SCENE.play_rate_hz, sound_hz=440.0)
    return path


def film(clip: Path, out: Path, options: AnnotateOptions) -> int:
    return write_annotated(clip, out, SCENE.track(), (SCENE.stroke(),), options)


@pytest.mark.parametrize(("name", "codec"), [("film.mp4", "h264"), ("film.webm", "vp9")])
def test_a_film_in_real_time_keeps_its_sound(clip: Path, tmp_path: Path, name: str, codec: str) -> None:
    seen: list[float] = []
    count = write_annotated(
        clip, tmp_path / name, SCENE.track(), (SCENE.stroke(),), AnnotateOptions(), progress=seen.append
    )
    assert seen == sorted(seen)
    assert seen[-1] <= 1.0
    with av.open(str(tmp_path / name)) as container:
        assert container.streams.video[0].codec_context.name == codec
        assert [stream.type for stream in container.streams] == ["video", "audio"]
        pictures = list(container.decode(video=0))
        assert len(pictures) == count
        assert (pictures[0].width, pictures[0].height) == SCENE.size_px
        assert pictures[0].format.name == "yuv420p"
    shown_s = SCENE.time_s[-1]  # the stroke's surroundings reach over both ends of this clip
    assert pictures[-1].time == pytest.approx(shown_s + HOLD_S, abs=0.1)
    assert [path.name for path in tmp_path.iterdir()] == [name]


def test_the_sound_of_a_film_lies_under_its_pictures(clip: Path, tmp_path: Path) -> None:
    film(clip, tmp_path / "film.mp4", AnnotateOptions())
    with av.open(str(tmp_path / "film.mp4")) as container:
        sound = np.concatenate([frame.to_ndarray()[0] for frame in container.decode(audio=0)])
    loud = np.abs(sound) > 0.1
    assert loud[4800:48000].mean() > 0.5
    assert not loud[-48000:].any()  # silence while the last picture is held


def test_a_slow_film_is_as_much_longer_and_without_sound(clip: Path, tmp_path: Path) -> None:
    film(clip, tmp_path / "film.mp4", AnnotateOptions(slow=4.0))
    with av.open(str(tmp_path / "film.mp4")) as container:
        assert [stream.type for stream in container.streams] == ["video"]
        times = [frame.time for frame in container.decode(video=0)]
    assert times[-1] == pytest.approx(4.0 * SCENE.time_s[-1] + HOLD_S, abs=0.15)
    assert np.diff(times) == pytest.approx(1 / 30, abs=0.002)  # all 120 pictures a second


def test_mp4_begins_with_its_index(clip: Path, tmp_path: Path) -> None:
    film(clip, tmp_path / "film.mp4", AnnotateOptions())
    body = (tmp_path / "film.mp4").read_bytes()
    assert 0 < body.index(b"moov") < body.index(b"mdat")


def test_what_goes_wrong_leaves_nothing_behind(
    clip: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "film.mp4"
    out.write_bytes(b"the one before")
    from pacewright.render import clip_picture

    def stop(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(clip_picture.StrokeOverlay, "draw", stop)
    with pytest.raises(KeyboardInterrupt):
        film(clip, out, AnnotateOptions())
    assert [path.name for path in tmp_path.iterdir()] == ["film.mp4"]
    assert out.read_bytes() == b"the one before"


def test_the_strobe_has_the_head_at_each_instant_though_the_camera_trembles(clip: Path) -> None:
    png = strobe_png(clip, SCENE.track(), SCENE.stroke(), AnnotateOptions())
    sheet = np.asarray(Image.open(io.BytesIO(png)).convert("L")).astype(float)
    plan = plan_strobe(SCENE.track(), SCENE.stroke())
    assert plan is not None
    # The panel of coming through is the lower one: count runs of dark head along a row beside the dots.
    dark = sheet < 70
    rows = np.flatnonzero(dark.sum(axis=1) > 12)
    row = dark[rows[-1] - 6]
    starts = np.flatnonzero(np.diff(row.astype(int)) == 1)
    fast = [t for t in plan.instants_s["through"] if abs(t - SCENE.contact_s) < 0.25]
    assert len(starts) >= len(fast)


def test_the_strobe_of_a_still_camera_puts_instants_where_the_head_was(tmp_path: Path) -> None:
    scene = Scene(size_px=(320, 200))
    write_clip(tmp_path / "still.mp4", scene.pictures(), scene.play_rate_hz)
    one, other = (
        np.asarray(Image.open(io.BytesIO(strobe_png(path, s.track(), s.stroke(), AnnotateOptions()))))
        for path, s in ((tmp_path / "still.mp4", scene), (_trembling(tmp_path), SCENE))
    )
    assert one.shape == other.shape
    # The same picture, whether the camera trembled or not, but for the grain of the ground.
    assert np.mean(np.abs(one.astype(int) - other) > 40) < 0.01


def _trembling(folder: Path) -> Path:
    write_clip(folder / "trembling.mp4", SCENE.pictures(), SCENE.play_rate_hz)
    return folder / "trembling.mp4"


def test_strokes_that_follow_each_other_do_not_share_pictures() -> None:
    from dataclasses import replace

    from pacewright.core.measure import Measure

    stroke = SCENE.stroke()
    later = replace(
        stroke, events={k: Measure(v.value + 1.2, v.sd) for k, v in stroke.events.items()}, index=1
    )
    pace = annotation._Pace(SCENE.track(), 1.0)
    one, other = annotation._stretches((later, stroke), pace)
    assert one.stroke is stroke
    assert one.last < other.first
    assert one.last == pace.frame(stroke.events["finish"].value + AFTER_S)


@pytest.mark.parametrize(
    ("out", "options", "message"),
    [
        ("film.avi", {}, r"\.mp4 or \.webm"),
        ("nowhere/film.mp4", {}, "no folder"),
        ("film.mp4", {"slow": 0.5}, "slower"),
        ("film.mp4", {"beats_per_minute": 900.0}, "beats a minute"),
    ],
)
def test_what_makes_no_sense_is_refused_before_the_work(
    clip: Path, tmp_path: Path, out: str, options: dict[str, float], message: str
) -> None:
    with pytest.raises(SettingsError, match=message):
        annotate(clip, tmp_path / out, options=AnnotateOptions(**options))
    assert list(tmp_path.iterdir()) == []


def test_a_recording_without_pictures_is_refused(tmp_path: Path) -> None:
    rows = "\n".join(f"{k / 100:.2f},{0.0:.1f}" for k in range(200))
    (tmp_path / "head.csv").write_text("time_s,head_x_m\n" + rows + "\n")
    with pytest.raises((SettingsError, QualityError), match="clip"):
        annotate(tmp_path / "head.csv", tmp_path / "film.mp4")
