"""Colour pictures and sound out of clips: upright, numbered, and beside each other in time."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from pacewright.core.errors import ReadError
from pacewright.tracking import pictures
from pacewright.tracking.clip import open_clip
from pacewright.tracking.pictures import SOUND_RATE_HZ, sound_between, upright_rgb_frames


def write(path: Path, count: int, *, turns: int = 0, tone_from_s: float | None = None, gop: int = 12) -> None:
    """Grey level 2·k in picture k, a red corner at the upper left when upright; a tone from a time on."""
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=30, options={"g": str(gop), "crf": "4"})
        stream.width, stream.height, stream.pix_fmt = (
            (96, 128, "yuv420p") if turns % 2 else (128, 96, "yuv420p")
        )
        if turns:
            stream.set_display_rotation(-90 * turns)
        sound = container.add_stream("aac", rate=48000, layout="stereo") if tone_from_s is not None else None
        for k in range(count):
            upright = np.full((96, 128, 3), 2 * k % 220, dtype=np.uint8)
            upright[:32, :32] = (220, 20, 20)
            laid = np.ascontiguousarray(np.rot90(upright, turns))
            container.mux(stream.encode(av.VideoFrame.from_ndarray(laid, format="rgb24")))
        container.mux(stream.encode())
        if sound is not None and tone_from_s is not None:
            time_s = np.arange(48000 * count // 30) / 48000
            tone = np.where(time_s >= tone_from_s, 0.5 * np.sin(2 * np.pi * 1000 * time_s), 0.0)
            for start in range(0, tone.size - 1023, 1024):
                piece = np.tile(tone[start : start + 1024], (2, 1)).astype(np.float32)
                frame = av.AudioFrame.from_ndarray(piece, format="fltp", layout="stereo")
                frame.sample_rate, frame.pts, frame.time_base = 48000, start, Fraction(1, 48000)
                container.mux(sound.encode(frame))
            container.mux(sound.encode())


@pytest.mark.parametrize("turns", [0, 1, 2, 3])
def test_pictures_stand_upright_however_they_are_laid(tmp_path: Path, turns: int) -> None:
    write(tmp_path / "clip.mp4", 4, turns=turns)
    found = list(upright_rgb_frames(tmp_path / "clip.mp4", 0, 9))
    assert [index for index, _, _ in found] == [0, 1, 2, 3]
    assert [time for _, time, _ in found] == pytest.approx([0, 1 / 30, 2 / 30, 3 / 30], abs=1e-3)
    for _, _, picture in found:
        assert picture.shape == (96, 128, 3)
        assert picture[8, 8, 0] > 150
        assert picture[80, 110, 0] < 60
    with open_clip(tmp_path / "clip.mp4") as clip:
        assert clip.info.rotation_deg == 90 * turns


def test_only_those_asked_for_and_smaller(tmp_path: Path) -> None:
    write(tmp_path / "clip.mp4", 30)
    found = list(upright_rgb_frames(tmp_path / "clip.mp4", 5, 20, only=range(5, 21, 5), longest_px=64))
    assert [index for index, _, _ in found] == [5, 10, 15, 20]
    for index, _, picture in found:
        assert picture.shape == (48, 64, 3)
        assert abs(int(picture[40, 50, 0]) - 2 * index) < 8


def test_entering_far_into_a_clip_gives_the_same_pictures(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write(tmp_path / "clip.mp4", 90)
    counted = [
        (k, time, picture[40, 50, 0])
        for k, time, picture in upright_rgb_frames(tmp_path / "clip.mp4", 70, 75)
    ]
    monkeypatch.setattr(pictures, "_FAR", 10)
    entered = [
        (k, time, picture[40, 50, 0])
        for k, time, picture in upright_rgb_frames(tmp_path / "clip.mp4", 70, 75)
    ]
    assert entered == counted
    assert [k for k, _, _ in entered] == [70, 71, 72, 73, 74, 75]


def test_sound_starts_where_the_picture_does(tmp_path: Path) -> None:
    write(tmp_path / "clip.mp4", 60, tone_from_s=1.0)
    sound = sound_between(tmp_path / "clip.mp4", 0.5, 1.5)
    assert sound is not None
    assert sound.shape == (2, SOUND_RATE_HZ)
    loud = np.abs(sound[0]) > 0.2
    assert np.argmax(loud) / SOUND_RATE_HZ == pytest.approx(0.5, abs=0.005)
    assert sound_between(tmp_path / "clip.mp4", 1.8, 2.8)[:, -100:].max() == 0.0  # type: ignore[index]
    write(tmp_path / "mute.mp4", 4)
    assert sound_between(tmp_path / "mute.mp4", 0.0, 0.1) is None


def test_what_is_no_clip_is_said_so(tmp_path: Path) -> None:
    (tmp_path / "text.mp4").write_text("not a clip")
    with pytest.raises(ReadError, match=r"text\.mp4"):
        list(upright_rgb_frames(tmp_path / "text.mp4", 0, 1))
