"""Motion capture: the head found among markers, the frame found from its motion, C3D and TRC alike."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest

from pacewright.core.errors import ReadError
from pacewright.core.recording import Recording
from pacewright.readers import ReadOptions, read
from pacewright.stroke.analyse import analyse
from tests.readers import lab

Rows = list[list[float]]
UPRIGHT: Rows = [[1, 0, 0], [0, 1, 0], [0, 0, 1]]
FRAMES: dict[str, Rows] = {
    "z up": UPRIGHT,
    "y up": [[1, 0, 0], [0, 0, 1], [0, -1, 0]],
    "x up": [[0, 0, 1], [1, 0, 0], [0, 1, 0]],
    "towards -x": [[-1, 0, 0], [0, -1, 0], [0, 0, 1]],
    "across the axes": [[0.6, 0.8, 0], [-0.8, 0.6, 0], [0, 0, 1]],
    "y up, along z": [[0, 1, 0], [0, 0, 1], [1, 0, 0]],
}


def as_c3d(session: lab.Session, folder: Path, options: ReadOptions | None = None) -> Recording:
    path = folder / "putts.c3d"
    lab.write_c3d(session, path)
    return read(path, options)


def codes(recording: Recording) -> list[str]:
    return [remark.code for remark in recording.remarks]


@pytest.mark.parametrize("body", [True, False], ids=["with a body", "putter and ball alone"])
@pytest.mark.parametrize("frame", FRAMES)
def test_the_head_and_the_frame_are_found(frame: str, body: bool, tmp_path: Path) -> None:
    session = lab.putting(body=body)
    toe, ball = session.markers["putter:toe"], session.markers["ball"]
    address = np.median(toe[:100], axis=0)
    turned = session.turned(FRAMES[frame])
    for recording in (as_c3d(turned, tmp_path), read(io.StringIO(lab.trc_text(turned)))):
        assert codes(recording) == ["marker-chosen"]
        assert "'putter:toe'" in recording.remarks[0].text
        head = recording.traces["head"]
        assert head.axes == ("x", "y", "z")
        # The target line is known to a fraction of a degree, the place to what the noise allows.
        np.testing.assert_allclose(head.values, toe - address, atol=2e-3)
        np.testing.assert_allclose(recording.traces["ball"].values, (ball - address)[:, :2], atol=1e-2)


def test_strokes_are_found_in_what_was_read(tmp_path: Path) -> None:
    strokes = analyse(as_c3d(lab.putting(strokes=3), tmp_path))
    assert [stroke.kind for stroke in strokes] == ["putt"] * 3
    assert strokes[0].value("time_ratio") == pytest.approx(2.0, abs=0.05)


@pytest.mark.parametrize("unit", ["mm", "m", "cm"])
def test_the_unit_of_a_c3d_file_is_kept(unit: str, tmp_path: Path) -> None:
    session = lab.putting(body=False)
    path = tmp_path / "putts.c3d"
    lab.write_c3d(session, path, unit=unit)
    assert np.ptp(read(path).traces["head"].values[:, 0]) == pytest.approx(
        np.ptp(session.markers["putter:toe"][:, 0]), rel=1e-3
    )


@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize("blank_line", [True, False])
@pytest.mark.parametrize("unit", ["mm", "m"])
def test_dialects_of_trc(unit: str, blank_line: bool, end: str) -> None:
    session = lab.putting(body=False)
    text = lab.trc_text(session, unit=unit, blank_line=blank_line, end=end)
    recording = read(io.BytesIO(text.encode()))
    assert recording.provenance.reader == "trc"
    assert np.ptp(recording.traces["head"].values[:, 0]) == pytest.approx(
        np.ptp(session.markers["putter:toe"][:, 0]), rel=1e-3
    )


def test_a_marker_that_is_named_is_taken(tmp_path: Path) -> None:
    session = lab.putting()
    recording = as_c3d(session, tmp_path, ReadOptions(marker="putter:shaft", ball_marker="ball"))
    shaft = np.ptp(session.markers["putter:shaft"][:, 0])
    assert np.ptp(recording.traces["head"].values[:, 0]) == pytest.approx(shaft, rel=1e-3)
    assert as_c3d(session, tmp_path, ReadOptions(marker="TOE")).traces.keys() == {"head", "ball"}
    with pytest.raises(ReadError, match="no marker 'heel'; the markers are putter:toe, putter:shaft, ball"):
        as_c3d(session, tmp_path, ReadOptions(marker="heel"))


def test_axes_that_are_given_are_used(tmp_path: Path) -> None:
    # A stroke that runs 5 degrees off the x axis of the lab, which is the target line.
    c, s = np.cos(np.radians(5)), np.sin(np.radians(5))
    session = lab.putting(body=False).turned([[c, -s, 0], [s, c, 0], [0, 0, 1]])
    told = as_c3d(session, tmp_path, ReadOptions(target_axis="x", up_axis="z"))
    guessed = as_c3d(session, tmp_path)
    for recording, angle_deg in ((told, 5.0), (guessed, 0.0)):
        strokes = analyse(recording)
        assert np.mean([stroke.value("path_angle_deg") for stroke in strokes]) == pytest.approx(
            angle_deg, abs=0.5
        )


def test_a_left_handed_player_is_mirrored(tmp_path: Path) -> None:
    right = as_c3d(lab.putting(), tmp_path)
    left = as_c3d(lab.putting(), tmp_path, ReadOptions(left_handed=True))
    np.testing.assert_allclose(
        left.traces["head"].values * [1, -1, 1], right.traces["head"].values, atol=1e-12
    )
    assert codes(left) == ["marker-chosen", "left-handed-mirrored"]


def test_unseen_frames_are_left_out(tmp_path: Path) -> None:
    session = lab.putting(body=False)
    path = tmp_path / "putts.c3d"
    lab.write_c3d(session, path, unseen={"putter:toe": slice(60, 90)})
    recording = read(path)
    assert recording.traces["head"].time_s.size == session.time_s.size - 30
    assert codes(recording) == ["marker-chosen", "missing-samples", "gap"]
    places = session.markers["putter:toe"].copy()
    places[60:90] = np.nan
    hidden = lab.Session(session.time_s, session.markers | {"putter:toe": places})
    assert read(io.StringIO(lab.trc_text(hidden))).traces["head"].time_s.size == session.time_s.size - 30


def test_nothing_but_a_body_holds_no_head(tmp_path: Path) -> None:
    session = lab.putting().without("putter:toe", "putter:shaft", "LHAND", "RHAND", "ball")
    with pytest.raises(
        ReadError, match=r"no marker moves like a putter head.*LFOOT.*choose one with --marker"
    ):
        as_c3d(session, tmp_path)


def test_a_swing_at_full_speed_is_no_putt(tmp_path: Path) -> None:
    session = lab.putting(body=False)
    fast = lab.Session(session.time_s / 12, session.markers)
    with pytest.raises(ReadError, match="no marker moves like a putter head"):
        as_c3d(fast, tmp_path)
    steep = session.turned([[0.7, 0, -0.7], [0, 1, 0], [0.7, 0, 0.7]])
    with pytest.raises(ReadError, match="no marker moves like a putter head"):
        as_c3d(steep, tmp_path, ReadOptions(up_axis="z"))
