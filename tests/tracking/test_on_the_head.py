"""A head that looks like the ground, with a printed mark or a coloured sticker on it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import pytest

from pacewright.core.clip import ClipTrack
from pacewright.core.errors import ReadError, SettingsError
from pacewright.core.sheet import HEAD_MARK_SIZES_M, TAG_CELLS, tag_cells
from pacewright.tracking.options import ClipOptions, parse_head
from pacewright.tracking.record import record
from tests.app.clip_scene import Scene, write_clip


@dataclass(frozen=True)
class Camouflaged(Scene):
    """A head in the ground's own colour and texture that shows only by what is stuck on it."""

    size_px: tuple[int, int] = (1280, 720)
    stuck_on: str = "sticker"

    def _picture(self, ground: np.ndarray, track: ClipTrack, k: int) -> np.ndarray:
        seen = np.ascontiguousarray(ground[20 : 20 + self.size_px[1], 20 : 20 + self.size_px[0]])
        if np.isfinite(track.ball_px[k]).all():
            x, y = np.round(track.ball_px[k] * 16).astype(int)
            cv2.circle(
                seen, (int(x), int(y)), round(track.ball_radius_px * 16), (235, 235, 230), -1, cv2.LINE_AA, 4
            )
        if self.stuck_on == "mark":
            _stick(seen, _mark(), HEAD_MARK_SIZES_M[41] * self.scale, track.head_px[k])
        elif self.stuck_on == "sticker":
            x, y = np.round(track.head_px[k] * 16).astype(int)
            cv2.circle(
                seen, (int(x), int(y)), round(0.009 * self.scale * 16), (205, 30, 60), -1, cv2.LINE_AA, 4
            )
        return seen


def _mark() -> np.ndarray:
    """The mark of 30 mm with its white rim, 20 pixels a cell."""
    cells = np.pad(~tag_cells(41), 1, constant_values=True)
    return np.kron(np.where(cells, 230, 25), np.ones((20, 20))).astype(np.uint8)


def _stick(seen: np.ndarray, mark: np.ndarray, side_px: float, place: np.ndarray) -> None:
    scale = side_px * (TAG_CELLS + 2) / TAG_CELLS / len(mark)
    middle = (len(mark) - 1) / 2
    matrix = np.array([[scale, 0, place[0] - scale * middle], [0, scale, place[1] - scale * middle]])
    size = seen.shape[1::-1]
    light = cv2.warpAffine(cv2.cvtColor(mark, cv2.COLOR_GRAY2RGB), matrix, size, flags=cv2.INTER_AREA)
    there = cv2.warpAffine(np.ones_like(mark, np.float32), matrix, size)[..., None]
    seen[:] = np.round(there * light + (1 - there) * seen).astype(np.uint8)


@pytest.mark.parametrize("stuck_on", ["mark", "sticker"])
def test_a_head_is_followed_by_what_is_stuck_on_it(tmp_path: Path, stuck_on: str) -> None:
    scene = Camouflaged(stuck_on=stuck_on)
    path = tmp_path / "clip.mp4"
    write_clip(path, scene.each_picture(), scene.play_rate_hz, bit_rate=12_000_000)
    track = record(path, ClipOptions(head=stuck_on)).clip
    assert track is not None
    seen = np.isfinite(track.head_px[:, 0])
    assert seen.mean() > 0.9
    off = track.head_px[seen] - scene.track().head_px[track.frame[seen]]
    off -= np.median(off, axis=0)
    assert float(np.sqrt(np.mean(off[:, 0] ** 2))) < 0.5


@pytest.mark.parametrize(("asked", "said"), [("mark", "no printed mark"), ("sticker", "nothing coloured")])
def test_what_is_not_stuck_on_is_said(tmp_path: Path, asked: str, said: str) -> None:
    scene = Scene()
    path = tmp_path / "clip.mp4"
    write_clip(path, scene.each_picture(), scene.play_rate_hz)
    with pytest.raises(ReadError, match=said):
        record(path, ClipOptions(head=asked))


def test_as_typed() -> None:
    assert parse_head(" Mark ") == "mark"
    assert parse_head("sticker") == "sticker"
    assert parse_head("") is None
    with pytest.raises(SettingsError, match="mark or sticker"):
        parse_head("glue")
