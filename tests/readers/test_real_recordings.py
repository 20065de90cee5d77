"""Real recordings, read as they are; the checks are values read off the files themselves."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import pacewright
from pacewright.core.errors import ReadError
from pacewright.readers import ReadOptions, read

REAL = Path(pacewright.__file__).parent / "app" / "data" / "real"


def test_every_folder_brings_its_licence_and_source() -> None:
    for folder in (path for path in REAL.iterdir() if path.is_dir()):
        assert (folder / "LICENSE.txt").stat().st_size > 500
        assert "Licence: " in (folder / "SOURCE.txt").read_text()


def test_the_pendulum_swings_as_its_encoder_said() -> None:
    options = ReadOptions(columns={"head_angle_rad": "position"}, arc_radius_m=0.5)
    recording = read(REAL / "pendulum" / "swing-up.csv", options)
    head = recording.traces["head"]
    assert recording.rate_hz == pytest.approx(200, rel=1e-3)
    assert recording.remarks == ()
    # Turning points read off the file: −0.439 rad near 0.83 s, 0.841 rad near 1.60 s.
    for time_s, angle_rad in ((0.83, -0.439), (1.60, 0.841)):
        near = np.abs(head.time_s - time_s) < 0.05
        extreme = head.values[near, 0][np.argmax(np.abs(head.values[near, 0]))]
        assert extreme == pytest.approx(0.5 * np.sin(angle_rad), abs=1e-3)


def test_the_jittered_clock_of_the_driven_pendulum_is_kept() -> None:
    options = ReadOptions(columns={"head_angle_rad": "position"}, arc_radius_m=0.5)
    recording = read(REAL / "pendulum" / "driven.csv", options)
    steps_ms = 1000 * np.diff(recording.traces["head"].time_s)
    assert (steps_ms.min(), steps_ms.max()) == pytest.approx((3.33, 3.75), abs=0.01)
    assert "clock-regularised" not in {remark.code for remark in recording.remarks}


def test_the_hand_held_sensor_is_read_without_a_word_about_its_columns() -> None:
    recording = read(REAL / "handheld" / "handheld.csv")
    assert recording.kind == "inertial"
    assert recording.traces["gyro"].time_s.size == recording.traces["accel"].time_s.size == 13_514
    at_rest = recording.traces["accel"].values[:200]
    assert np.median(np.linalg.norm(at_rest, axis=1)) / 9.80665 == pytest.approx(0.993, abs=0.002)
    assert [remark.code for remark in recording.remarks] == ["gap"]


def test_a_tennis_serve_has_no_putter_head() -> None:
    with pytest.raises(ReadError, match=r"no marker moves like a putter head.*C7, CLAV, .*--marker"):
        read(REAL / "serve" / "serve.c3d")


def test_a_marker_of_the_serve_is_read_when_it_is_named() -> None:
    # The right finger peaks at 12.8 m/s near 11.2 s.
    head = read(REAL / "serve" / "serve.c3d", ReadOptions(marker="RFIN")).traces["head"]
    speed = np.linalg.norm(np.gradient(head.values, head.time_s, axis=0), axis=1)
    assert speed.max() == pytest.approx(12.8, abs=0.1)
    assert head.time_s[speed.argmax()] == pytest.approx(11.2, abs=0.05)


def test_two_markers_of_one_wrist_keep_their_distance_in_our_frame() -> None:
    one, other = (
        read(REAL / "serve" / "serve.c3d", ReadOptions(marker=name, target_axis="x", up_axis="z"))
        for name in ("RWRA", "RWRB")
    )
    # Each has its own origin; distances within the frame are kept up to that one shift.
    apart = one.traces["head"].values - other.traces["head"].values
    origin_apart = np.ptp(apart, axis=0)
    assert np.all(origin_apart < 0.25)
